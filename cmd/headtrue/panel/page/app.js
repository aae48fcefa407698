// The page: it shows what the program says, and sends what a person does. It decides nothing
// that moves and computes nothing of the sound.
import { h, id, label, show, t, table, translate, write } from './dom.js';
import { known, number } from './format.js';
import { apply, byHand, controls, curve, doing, empty, running, spots } from './model.js';
import { stopTells } from './next.js';
import { data, Link } from './link.js';
import { Nudge, listen } from './nudge.js';
import { Cues } from './cues.js';
import { Speak, spoken } from './speak.js';
import { LiveView } from './liveview.js';
import { TaskView } from './taskview.js';
import { JobView, renderBatch, renderReady } from './jobview.js';
import { ResultView } from './resultview.js';
import { PastView } from './pastview.js';
import { drawGuide } from './drawwork.js';
import { mark, painter, watch } from './paint.js';

const TOKEN = 'token';

// token is that of the fragment, or of an earlier look at this page in this window.
function token() {
  const given = location.hash.slice(1);
  if (given) {
    sessionStorage.setItem(TOKEN, given);
    history.replaceState(null, '', location.pathname);
  }
  return given || sessionStorage.getItem(TOKEN) || '';
}

class App {
  constructor() {
    translate(document);
    const secret = token();
    this.model = empty();
    this.speak = new Speak(words => write(id('speak'), words));
    this.cues = new Cues();
    this.ticked = new Set();
    const url = (location.protocol === 'https:' ? 'wss://' : 'ws://') + location.host + '/stream';
    this.link = new Link(url, secret, { message: m => this.receive(m), connected: yes => this.connected(yes) });
    this.actions = {
      token: () => secret, order: (what, fields) => this.order(what, fields), take: () => this.link.take(), nextUnit: () => this.nextUnit(),
      job: () => this.job.job(), openRun: run => { this.page('past'); this.past.run(run); }, say: words => this.passing(words), note: (box, run) => box.append(this.result.note(run)),
    };
    this.nudge = new Nudge(this.link, () => controls(this.model) && doing(this.model) === 'nudge' && !this.model.state.question && !document.hidden, yes => this.task.turning(yes));
    this.live = new LiveView(this.model);
    this.task = new TaskView(this.model, this.actions, this.nudge);
    this.job = new JobView(this.model, this.actions);
    this.result = new ResultView(this.model, this.actions);
    this.past = new PastView(this.actions);
    painter('guide', () => drawGuide(id('draw-guide'), this.model.guide));
    painter('task', () => this.task.render());
    painter('rest', () => this.rest());
    watch(document.querySelectorAll('canvas'));
    const wide = matchMedia('(min-width: 62em)'); // a wide page has what is written down under the work, a narrow one at the end
    const place = () => (wide.matches ? id('left') : id('view-bench')).append(id('papers'));
    wide.addEventListener('change', place);
    place();
    this.wire();
    this.connected(false);
    this.link.connect();
  }

  wire() {
    const stop = id('stop');
    let pressed = -Infinity;
    const press = () => { pressed = performance.now(); this.stop(); };
    stop.addEventListener('pointerdown', press);
    stop.addEventListener('click', () => { if (performance.now() - pressed > 500) press(); });
    stop.addEventListener('keydown', e => {
      if (e.code !== 'Space' && e.key !== 'Enter') return;
      e.preventDefault(); // on the press, not when the key comes up
      if (!e.repeat) press();
    });
    addEventListener('keydown', e => {
      if (e.key !== 'Escape') return;
      e.preventDefault();
      this.stop();
    }, true);
    listen(this.nudge);
    id('take').addEventListener('click', () => this.link.take());
    id('give').addEventListener('click', () => this.link.give());
    id('tab-bench').addEventListener('click', () => this.page('bench'));
    id('tab-past').addEventListener('click', () => this.page('past'));
    id('tones').addEventListener('click', () => this.tones());
    id('main').addEventListener('toggle', () => mark('rest'), true);
  }

  stop() {
    this.nudge.end();
    this.link.stop();
    this.showStop();
  }

  page(name) {
    for (const n of ['bench', 'past']) {
      show(id('view-' + n), n === name);
      if (n === name) id('tab-' + n).setAttribute('aria-current', 'page');
      else id('tab-' + n).removeAttribute('aria-current');
    }
    if (name === 'past') this.past.open();
    else mark('levels', 'phase', 'spectrum', 'curve', 'screw', 'guide');
  }

  order(what, fields) {
    const seq = this.link.order(what, fields);
    if (!seq) this.passing(t('connection.off'));
    return seq;
  }

  nextUnit() {
    Object.assign(this.model, { result: null, checks: null, decision: null, steps: [] });
    this.ticked.clear();
    this.live.curve.reset();
    this.job.nextUnit();
    mark('task', 'rest', 'curve', 'screw');
  }

  async tones() {
    const b = id('tones');
    try {
      if (this.cues.on) this.cues.stop();
      else await this.cues.start();
    } catch (e) {
      this.passing(e.message);
    }
    b.setAttribute('aria-pressed', String(this.cues.on));
  }

  connected(yes) {
    const before = this.model.connected;
    this.model.connected = yes;
    if (!yes) {
      this.nudge.end();
      this.cues.silence();
      this.model.motor = this.model.live = null;
    }
    if (before !== yes && (yes || before)) this.speak.say(t(yes ? 'connection.back' : 'connection.lost'), 'connection');
    document.body.dataset.connected = String(yes);
    const tag = id('connection');
    write(tag, (yes ? '\u25cf ' : '\u2715 ') + t(this.link?.refusedToken ? 'connection.token' : yes ? 'connection.on' : 'connection.off'));
    tag.dataset.state = yes ? 'good' : 'bad';
    mark('task', 'rest');
  }

  receive(m) {
    const wasControl = controls(this.model);
    const parts = apply(this.model, m);
    if (m.type === 'refused') this.refused(m);
    if (m.type === 'note') this.passing(m.say);
    if (m.type === 'hello') this.hello(m);
    if (m.type === 'state') this.state(m);
    if (m.type === 'work') { this.live.begin(); }
    if (m.type === 'events') for (const e of m.events) if (spoken.has(e.kind)) this.speak.say(e.say, e.kind === 'guided' ? 'guided' : '');
    if (m.type === 'result') this.speak.say([m.result?.stamp, m.result?.say].filter(Boolean).join('. '));
    if (m.type === 'stopped') this.speak.say(this.stopWords(), 'stop');
    if (m.type === 'guide') return this.guide(m);
    if (m.type === 'live') return this.live.heard(m);
    if (m.type === 'motor') this.live.motor(m);
    if (m.type === 'control' && wasControl !== controls(this.model)) this.controlMoved(m);
    if (parts.some(p => ['steps', 'decision', 'work'].includes(p))) mark('curve', 'screw');
    if (parts.length) mark('task', 'rest');
  }

  hello(m) {
    this.job.build(m.settings);
    data('names', this.actions.token()).then(all => this.job.names(all), () => { /* suggestions only */ });
    const real = t('top.real', { port: m.port || t('top.noJig'), audio: m.audio || t('top.noSound') });
    write(id('bench-name'), m.virtual ? t('top.virtual', { name: m.virtual }) : real);
  }

  state(m) {
    this.task.stateMs = performance.now();
    if (m.question && m.question.id !== this.asked) this.speak.say(m.question.text, 'question');
    this.asked = m.question?.id ?? null;
    if (m.doing !== 'nudge' || m.question) this.nudge.end();
  }

  controlMoved(m) {
    this.nudge.end();
    this.speak.say(controls(this.model) ? t('control.came') : m.controller ? t('control.lost', { name: m.name }) : t('control.nobody'), 'control');
  }

  guide(g) {
    this.cues.guide(g.act, g.new, g.off_arcmin, g.tolerance_arcmin);
    mark('guide', 'curve');
    const box = id('guide');
    if (box.hidden) { mark('rest'); this.renderGuide(); }
    const now = performance.now();
    if (!g.new && now - (this.guideAt ?? 0) < 150) return;
    this.guideAt = now;
    this.renderGuide();
  }

  refused(m) {
    this.nudge.end();
    this.passing(t('refused.say', { why: t('refused.' + m.why), say: m.say ?? '', do: m.do ?? '' }).trim());
  }

  // passing shows a line for a while, and speaks it.
  passing(words) {
    const box = id('passing'), line = h('p', {}, words);
    this.speak.say(words);
    box.append(line);
    show(box, true);
    setTimeout(() => { line.remove(); show(box, box.children.length > 0); }, 9000);
    while (box.children.length > 3) box.firstChild.remove();
  }

  // rest renders all that follows neither the sound nor the task.
  rest() {
    const m = this.model;
    this.showStop();
    this.showControl();
    this.result.render();
    this.once('ready', [m.checks, m.confirm, m.result, doing(m)], () => renderReady(m, this.ticked));
    this.once('batch', [m.batch, m.state?.unit, m.state?.head], () => renderBatch(m));
    this.once('log', [m.events], () => this.log());
    this.once('motor', [m.motor], () => this.live.motor(m.motor));
    this.once('key', [m.steps.length > 0, byHand(m), Boolean(m.decision)], () => this.key());
    if (id('curve-table-box').open) this.once('table', [m.steps, m.decision], () => this.points());
    show(id('curve-table-box'), m.steps.length > 0);
    show(id('trace-clear'), m.steps.length === 0);
    show(id('guide'), Boolean(m.guide) && byHand(m) && running(m));
    document.body.dataset.guide = String(!id('guide').hidden);
    document.body.dataset.busy = String(running(m) || doing(m) === 'nudge');
    if (!id('guide').hidden) this.renderGuide();
    if (!m.live) { write(id('sound'), t('sound.none')); mark('levels', 'phase', 'spectrum', 'curve'); }
  }

  // once calls make if one of the parts is another than last time.
  once(name, parts, make) {
    this.made ??= {};
    const before = this.made[name];
    if (before && before.length === parts.length && before.every((p, i) => p === parts[i])) return;
    this.made[name] = parts;
    make();
  }

  stopWords() {
    const s = this.model.stopped;
    const place = known(s?.position_deg) ? t('stop.at', { deg: number(s.position_deg, 1, true) }) : '';
    return t(stopTells(this.model, this.link.stopWaits), { place, ms: number(s?.ms, s?.ms < 10 ? 1 : 0) });
  }

  showStop() {
    write(id('stop-say'), this.stopWords());
    const tells = stopTells(this.model, this.link.stopWaits).slice(5);
    if (id('stop').dataset.state !== tells) id('stop').dataset.state = tells;
  }

  showControl() {
    const m = this.model, c = m.control, tag = id('control');
    show(tag, m.connected && Boolean(c));
    show(id('take'), m.connected && !controls(m));
    show(id('give'), controls(m));
    if (!c) return;
    const who = controls(m) ? t('control.you') : c.controller === null ? t('control.nobody') : t('control.other', { name: c.name });
    write(tag, (controls(m) ? '\u25c6 ' : '\u25c7 ') + who + (c.watchers ? ', ' + t('control.watchers', { n: c.watchers }) : ''));
    tag.dataset.state = controls(m) ? 'good' : 'watch';
  }

  log() {
    const m = this.model, box = id('log');
    const list = m.events.filter(e => e.say).slice(-60).reverse();
    box.replaceChildren(...list.map(e => h('li.' + e.kind, {}, h('span.soft', {}, `${number(e.tape_seconds, 1)}\u202f${t('units.s')} `), e.kind === 'warned' ? '\u26a0 ' : '', e.say)));
    if (!list.length) box.append(h('li.soft', {}, t('log.empty')));
  }

  key() {
    const ofRun = this.model.steps.length > 0, names = ofRun ? ['step', 'turning', 'unusable', 'edge', 'optimum', ...(byHand(this.model) ? [] : ['found'])] : ['turning'];
    id('curve-key').replaceChildren(...['pointer', ...names].map(n => h('li.k-' + n, {}, h('span.sign', { 'aria-hidden': 'true' }), t('curve.' + (ofRun || n !== 'turning' ? n : 'heard')))));
  }

  points() {
    const c = n => t('curve.columns.' + n), hand = byHand(this.model);
    const { points } = curve(this.model.steps, hand, this.model.decision);
    const at = spots(this.model.decision, hand), unit = t(hand ? 'units.arcmin' : 'units.deg');
    const say = [known(at.low) && known(at.high) ? t('curve.edges', { low: number(at.low, 1, true) + unit, high: number(at.high, 1, true) + unit }) : '', known(at.optimum) ? t('curve.best', { optimum: number(at.optimum, 1, true) + unit }) : t('curve.none')].join(' ');
    id('curve-table').replaceChildren(h('p', {}, say), table(t('curve.table'), ['n', 'phase', ...(hand ? [] : ['x']), 'y', 'sd', 'tilt', 'delay', 'usable'].map(c),
      points.map(p => [String(p.n), p.phase, ...(hand ? [] : [number(p.x, 1, true)]), number(p.y, 1, true), number(p.sd === null ? null : 2 * p.sd, 1), number(p.tilt, 1, true), number(p.delay, 1, true), t(p.usable ? 'curve.yes' : 'curve.no')])));
  }

  renderGuide() {
    const g = this.model.guide;
    if (!g) return;
    const u = t('units.arcmin'), off = g.off_arcmin;
    const side = !known(off) ? '' : Math.abs(off) <= g.tolerance_arcmin ? t('guide.within') : t(off < 0 ? 'guide.below' : 'guide.above');
    write(id('guide-say'), g.say ?? '');
    write(id('guide-off'), known(off) ? `${number(off, 1, true)}${u}` : '');
    id('guide').dataset.act = g.act;
    const way = g.way === 'clockwise' ? t('guide.clockwise') : g.way ? t('guide.counter') : '';
    label(id('draw-guide'), [known(off) ? t('guide.off', { off: number(off, 1, true), side }) : t('guide.noTarget'), way || t('guide.noWay')].join(', '));
    write(id('guide-side'), [side || t('guide.noTarget'), way].filter(Boolean).join(', '));
  }
}

new App();
