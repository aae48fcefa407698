import test from 'node:test';
import assert from 'node:assert/strict';
import { Link, ServerClock } from '../link.js';
import { Nudge, RENEW_MS } from '../nudge.js';
import { Speak } from '../speak.js';
import { Blind } from '../player.js';

class Socket {
  static all = [];
  constructor() { this.readyState = 1; this.sent = []; Socket.all.push(this); }
  send(s) { this.sent.push(JSON.parse(s)); }
  say(m) { this.onmessage({ data: JSON.stringify(m) }); }
  drop(code) { this.readyState = 3; this.onclose({ code }); }
}

function connect() {
  Socket.all = [];
  let now = 1000;
  const seen = [], later = [];
  const link = new Link('ws://x', 'secret', { message: m => seen.push(m.type), connected: yes => seen.push(yes) }, { socket: Socket, now: () => now, later: (f, ms) => later.push({ f, ms }) });
  link.connect();
  const ws = Socket.all[0];
  ws.onopen();
  return { link, ws, seen, later, tick: ms => { now += ms; } };
}

test('the server clock is that of the message that came soonest', () => {
  const c = new ServerClock();
  assert.equal(c.now(5), 0);
  c.heard(10040, 100);
  c.heard(10100, 130); // 30 ms sooner
  c.heard(10200, 260);
  assert.equal(c.now(300), 10270);
});

test('orders carry control, a growing number and an expiry on the clock of the server', () => {
  const { link, ws, tick } = connect();
  assert.deepEqual(ws.sent[0], { type: 'hello', token: 'secret' });
  assert.equal(link.order('check'), 0, 'nothing before hello');
  ws.say({ type: 'hello', now_ms: 81000 });
  ws.say({ type: 'control', control: 7 });
  tick(500);
  assert.equal(link.order('align', { by_hand: true }), 1);
  assert.equal(link.hold(-1), 2);
  assert.deepEqual(ws.sent[1], { type: 'order', do: 'align', by_hand: true, control: 7, seq: 1, expires_ms: 83500 });
  assert.deepEqual(ws.sent[2], { type: 'hold', direction: -1, control: 7, seq: 2, expires_ms: 81800 });
  ws.say({ type: 'control', control: 8 });
  assert.equal(link.order('check'), 1, 'a new control counts anew');
});

test('a STOP that could not be sent goes first on the next connection', () => {
  const { link, ws, later, seen } = connect();
  ws.say({ type: 'hello', now_ms: 1 });
  ws.drop(1006);
  assert.ok(seen.includes(false));
  assert.equal(link.stop(), false);
  assert.equal(later[0].ms, 0, 'it connects anew at once');
  later[0].f();
  const again = Socket.all[1];
  again.onopen();
  again.say({ type: 'hello', now_ms: 1 });
  assert.deepEqual(again.sent.map(m => m.type), ['hello', 'stop']);
  assert.equal(link.stopWaits, false);
});

test('then it tries each second, and never again with a refused token', () => {
  const { ws, later, link } = connect();
  ws.drop(1006);
  later[0].f();
  Socket.all[1].drop(1006);
  assert.equal(later[1].ms, 1000);
  later[1].f();
  Socket.all[2].drop(4401);
  assert.equal(later.length, 2);
  assert.ok(link.refusedToken);
});

function nudge() {
  const sent = [], timers = new Map();
  let n = 0, works = true, allowed = true;
  const link = { hold: d => { sent.push(d); return works ? 1 : 0; }, letGo: () => sent.push('let-go') };
  const it = new Nudge(link, () => allowed, () => {}, { every: (f, ms) => { timers.set(++n, { f, ms }); return n; }, never: k => timers.delete(k) });
  return { it, sent, timers, tick: () => { for (const t of [...timers.values()]) t.f(); }, lose: () => { works = false; }, forbid: () => { allowed = false; } };
}

test('a hold is renewed well within 100 ms, and ends once', () => {
  const { it, sent, timers, tick } = nudge();
  assert.ok(RENEW_MS < 100);
  it.begin('key');
  it.begin('key');
  tick();
  it.end('pointer');
  assert.ok(it.turning, 'the other hand does not end it');
  it.end('key');
  it.end('key');
  assert.deepEqual(sent, [1, 1, 'let-go']);
  assert.equal(timers.size, 0);
});

test('a hold ends by itself if it cannot be sent or is no longer allowed', () => {
  for (const how of ['lose', 'forbid']) {
    const n = nudge();
    n.it.begin('key');
    n[how]();
    n.tick();
    assert.equal(n.it.turning, false, how);
    assert.equal(n.sent.at(-1), 'let-go');
  }
  const n = nudge();
  n.forbid();
  n.it.begin('key');
  assert.deepEqual(n.sent, []);
});

test('turning the other way needs a new hold', () => {
  const { it, sent } = nudge();
  it.begin('key');
  it.turn(-1);
  assert.equal(it.turning, false);
  assert.deepEqual(sent, [1, 'let-go']);
});

test('milestones are spoken one after the other, of one kind only the newest', () => {
  const said = [], later = [];
  const s = new Speak(w => said.push(w), { later: f => later.push(f) });
  s.say('one');
  s.say('left', 'guided');
  s.say('right', 'guided');
  s.say('two');
  while (later.length) later.shift()();
  assert.deepEqual(said, ['one', 'right', 'two']);
});

test('blind: a vote counts for the clip behind the letter', () => {
  const draws = [0.2, 0.9, 0.9];
  const b = new Blind(() => draws.shift());
  assert.equal(b.clip('a'), 1);
  assert.equal(b.clip('b'), 0);
  b.vote('a');
  assert.equal(b.clip('a'), 0);
  b.vote('b');
  b.vote.call(Object.assign(b, { random: () => 0 }), 'same');
  assert.deepEqual(b.votes, { after: 2, before: 0, same: 1 });
});
