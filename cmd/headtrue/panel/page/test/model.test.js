import test from 'node:test';
import assert from 'node:assert/strict';
import { apply, controls, curve, empty, paragraphs, spots, timeLeft } from '../model.js';
import { next, others, stopTells } from '../next.js';
import { Trace, unfolded } from '../trace.js';

const all = (...messages) => {
  const m = Object.assign(empty(), { connected: true });
  for (const x of messages) apply(m, x);
  return m;
};
const can = { jig: true, by_hand: true, restore: true, proof: true };
const hello = { type: 'hello', can, confirm: [], settings: {} };
const mine = { type: 'control', control: 3, controller: 1, you: true };
const state = (doing, more = {}) => ({ type: 'state', doing, question: null, ...more });

test('what comes twice is there once', () => {
  const m = all({ type: 'steps', from: 0, steps: [{ n: 1 }, { n: 2 }] }, { type: 'steps', from: 0, steps: [{ n: 1 }, { n: 2 }, { n: 3 }] },
    { type: 'events', from: 1, events: [{ n: 1, say: 'a' }] }, { type: 'events', from: 1, events: [{ n: 1, say: 'a' }, { n: 2, say: 'b' }] });
  assert.deepEqual(m.steps.map(s => s.n), [1, 2, 3]);
  assert.deepEqual(m.events.map(e => e.say), ['a', 'b']);
});

test('a new work clears the last one', () => {
  const m = all({ type: 'steps', from: 0, steps: [{ n: 1 }] }, { type: 'result', command: 'align', result: {}, good: true }, { type: 'work', command: 'align' });
  assert.equal(m.steps.length, 0);
  assert.equal(m.result, null);
});

test('a result goes as soon as something new is begun, and stays while the sound is heard', () => {
  const m = all(state('align'), { type: 'result', command: 'align', result: {}, good: true }, state('nothing'), state('listen'));
  assert.ok(m.result);
  apply(m, state('restore'));
  assert.equal(m.result, null);
});

test('the next thing leads from the check to the next unit', () => {
  const checks = verdict => ({ type: 'checks', checks: [{ name: 'level', verdict }] });
  assert.equal(next(empty()).word, 'next.connecting');
  assert.equal(next(all(hello, { ...mine, you: false })).act, 'take');
  assert.equal(next(all(hello, mine, state('listen'))).do, 'check');
  assert.equal(next(all(hello, mine, state('listen'), checks('fail'))).word, 'next.checkAgain');
  assert.equal(next(all(hello, mine, state('listen'), checks('doubt'))).do, 'align');
  assert.equal(next(all(hello, mine, state('align'))).act, null);
  assert.equal(next(all(hello, mine, state('align', { paused: true }))).do, 'resume');
  assert.equal(next(all(hello, mine, state('align', { question: { id: 1 } }))).act, null);
  assert.equal(next(all(hello, mine, state('nudge'))).act, 'hold');
  assert.equal(next(all(hello, mine, state('nothing'), { type: 'result', command: 'align', good: true, result: {} })).act, 'unit');
  assert.equal(next(all(hello, mine, state('nothing'), { type: 'result', command: 'align', good: false, result: { run: 'R', restore_command: 'x' } })).do, 'restore');
});

test('nothing else can be begun while something goes on, or by a page that watches', () => {
  assert.equal(others(all(hello, mine, state('align'))).length, 0);
  assert.equal(others(all(hello, { ...mine, you: false }, state('nothing'))).length, 0);
  assert.ok(others(all(hello, mine, state('nothing'))).some(o => o.do === 'proof'));
  assert.ok(controls(all(hello, mine)));
});

test('STOP claims no more than the program has said', () => {
  assert.equal(stopTells(empty(), false), 'stop.notConnected');
  assert.equal(stopTells(empty(), true), 'stop.notSent');
  assert.equal(stopTells(all({ type: 'stopped', state: 'ordered' }), false), 'stop.ordered');
  assert.equal(stopTells(all({ type: 'stopped', state: 'standing' }), false), 'stop.standing');
  assert.equal(stopTells(all({ type: 'stopped', state: 'unsure' }), false), 'stop.unsure');
  assert.equal(stopTells(all({ type: 'stopped', state: 'standing' }, { type: 'motor', jig: true, moving: true }), false), 'stop.turning', 'it turns again');
  assert.equal(stopTells(all({ type: 'stopped', state: 'something new' }), false), 'stop.ordered');
});

test('what was said of a stop goes when something new is begun, unless it is in doubt', () => {
  const stopped = how => all(state('listen'), { type: 'stopped', state: how }, state('listen'), state('nudge')).stopped?.state;
  assert.equal(stopped('standing'), undefined);
  assert.equal(stopped('unsure'), 'unsure');
});

test('the curve parts the directions of turning, and joins the places at rest by their x', () => {
  const at = (n, x, y, more = {}) => ({ n, phase: 'refine', screw_deg: x, from_home: true, reading: { treble_db: y, treble_sd_db: 0.2, usable: true }, ...more });
  const c = curve([at(1, 0, -9, { turning: true }), at(2, 5, -8, { turning: true }), at(3, 4, -8.5, { turning: true, from_home: false }), at(4, 0, -9, { turning: true, from_home: false }),
    at(5, 30, -5), at(6, 10, -2), at(7, 20, -3), at(8, 25, -60, { reading: { treble_db: -60, usable: false } })], false);
  assert.deepEqual(c.lines.map(l => l.map(p => p.n)), [[1, 2], [3, 4], [6, 7, 5]]);
  assert.equal(c.points.length, 8);
  assert.equal(curve([at(1, 0, -200)], false).points.length, 0, 'silence is no point');
  assert.deepEqual(c.ride.map(p => p.x), [10, 20, 30]);
  const fitted = { curve: [{ screw_deg: 2, treble_db: -1 }, { screw_deg: 1, treble_db: -2 }] };
  assert.deepEqual(curve([at(1, 0, -9)], false, fitted).ride, [{ x: 1, y: -2 }, { x: 2, y: -1 }]);
});

test('by hand the counted periods of a tone are moved onto the optimum', () => {
  // 10 kHz: 100 us are 18.2 arcmin; all readings are counted one period low.
  const k = 18.2 / 100;
  const steps = [-10, -5, 0, 5, 10].map((x, i) => ({ n: i + 1, phase: 'refine', turning: true, reading: { treble_db: -Math.abs(x), treble_sd_db: 0.1, usable: true, delay_us: 10, tilt_arcmin: 10 * k, delay_period_us: 100, delay_tracked_us: x / k - 100 } }));
  const free = curve(steps, true).points.map(p => Math.round(p.x * 10) / 10);
  assert.deepEqual(free, [-28.2, -23.2, -18.2, -13.2, -8.2]);
  const moved = curve(steps, true, { optimum: { tilt_arcmin: 0.4, ok: true } }).points.map(p => Math.round(p.x * 10) / 10 + 0);
  assert.deepEqual(moved, [-10, -5, 0, 5, 10]);
});

test('the 95 % of the optimum are in the unit of the axis', () => {
  const d = { low_edge_deg: -70, high_edge_deg: 3, optimum: { deg: -33, sd_arcmin: 0.25, ok: true }, gearing_arcmin_per_turn: -180 };
  assert.deepEqual({ ...spots(d, false) }, { low: -70, high: 3, optimum: -33, within: 1, arcminPerDeg: -0.5, zero: null });
  assert.equal(spots({ optimum: { tilt_arcmin: 0.5, sd_arcmin: 0.3, ok: true } }, true).within, 0.6);
  assert.equal(spots({ optimum: { deg: 1, ok: false } }, false).optimum, null);
  assert.deepEqual(spots(null, false), {});
});

test('the time left counts down, and stands while the run waits', () => {
  assert.equal(timeLeft({ seconds_left: 40 }, 1000, 3500), 37.5);
  assert.equal(timeLeft({ seconds_left: 1 }, 0, 9000), 0);
  assert.equal(timeLeft({ seconds_left: 40, paused: true }, 1000, 9000), 40);
  assert.equal(timeLeft({ seconds_left: null }, 0, 0), null);
});

test('a question is read as paragraphs and lists', () => {
  assert.deepEqual(paragraphs('Before:\n  - one\n  - two\nGo on?'), [{ text: 'Before:' }, { list: ['one', 'two'] }, { text: 'Go on?' }]);
  assert.deepEqual(paragraphs(null), []);
});

test('the heard curve averages within its cells, and a tone is unfolded by whole periods', () => {
  const tr = new Trace(0.5);
  assert.ok(tr.add(1.1, -10) && tr.add(0.9, -12) && tr.add(-3, -20));
  assert.deepEqual(tr.points(), [{ x: -3, y: -20 }, { x: 1, y: -11 }]);
  assert.equal(tr.add(null, 3), false);
  const h = { live_tilt_arcmin: -8, tilt_period_arcmin: 18, delay_us: -44, delay_counted_us: 56, delay_period_us: 100 };
  assert.equal(unfolded(h, null), 10, 'by the counted delay');
  assert.equal(unfolded({ ...h, live_tilt_arcmin: 8.5 }, -9), -9.5, 'next to the last');
  assert.equal(unfolded({ live_tilt_arcmin: 5 }, 40), 5, 'music');
  assert.equal(unfolded({ live_tilt_arcmin: null }, 4), null);
});
