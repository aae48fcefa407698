// The work: what goes on, the question that is open, and the one button for the next thing.
import { button, h, has, id, show, t, write } from './dom.js';
import { countdown } from './format.js';
import { controls, doing, paragraphs, running, timeLeft } from './model.js';
import { next, others } from './next.js';
import * as nudges from './nudge.js';

// renewal calls make only if what it depends on has changed.
function renewal() {
  let last;
  return (key, make) => {
    const now = JSON.stringify(key);
    if (now === last) return;
    last = now;
    make();
  };
}

export class TaskView {
  // actions has order(do, fields), take(), nextUnit(), job().
  constructor(model, actions, nudge) {
    Object.assign(this, { model, actions, nudge });
    this.stateMs = 0;
    this.renew = { question: renewal(), next: renewal(), stages: renewal(), other: renewal(), trouble: renewal() };
    setInterval(() => this.tick(), 500);
  }

  render() {
    const m = this.model, s = m.state;
    write(id('task-title'), title(m));
    write(id('task-say'), this.saying());
    this.renew.trouble(s?.error ?? null, () => this.trouble(s?.error));
    this.renew.stages([s?.stages, s?.stage, s?.stage_n, running(m)], () => this.stages());
    this.renew.question([s?.question, controls(m)], () => this.question());
    this.renew.next([next(m), controls(m), doing(m), s?.finishing, s?.paused, m.checks?.map(c => c.verdict)], () => this.next());
    this.renew.other([others(m)], () => this.others());
    this.tick();
  }

  saying() {
    const m = this.model, s = m.state;
    if (!m.connected) return t('task.lost');
    if (s?.paused) return t('doing.paused');
    if (s?.finishing) return t('doing.finishing');
    if (running(m)) {
      const said = m.events.filter(e => ['said', 'began', 'warned', 'asked', 'done'].includes(e.kind)).pop();
      return said?.say || '';
    }
    if (m.result) return '';
    const n = next(m);
    if (n.word === 'next.checkAgain') return t('next.blocked', { n: m.checks.filter(c => c.verdict === 'fail').length });
    return has('task.' + doing(m)) ? t('task.' + doing(m)) : '';
  }

  trouble(error) {
    const box = id('task-trouble');
    box.replaceChildren();
    show(box, Boolean(error));
    if (error) box.append(h('strong', {}, '\u26a0 ' + t('task.trouble')), h('p', {}, error.say ?? ''), error.do ? h('p', {}, '\u2192 ' + error.do) : '');
  }

  stages() {
    const s = this.model.state, box = id('stages');
    const names = s?.stages ?? [];
    show(box, running(this.model) && Boolean(s?.stage));
    if (box.hidden) return;
    const now = names.indexOf(s.stage);
    box.replaceChildren(
      h('p', {}, t('task.stage', { n: s.stage_n ?? now + 1, of: s.stages_about ?? names.length, name: s.stage })),
      h('ol.stages', {}, names.map((name, i) => {
        const state = i < now ? 'done' : i === now ? 'now' : 'open';
        return h('li.' + state, i === now ? { 'aria-current': 'step' } : {}, { done: '\u2713 ', now: '\u25b6 ', open: '' }[state] + name, h('span.hush', {}, ' ' + t('stages.' + state)));
      })));
  }

  question() {
    const q = this.model.state?.question, box = id('question');
    box.replaceChildren();
    show(box, Boolean(q));
    if (!q) return;
    const mine = controls(this.model);
    const answer = text => this.actions.order('answer', { question: q.id, answer: text });
    const heading = h('h3', { tabindex: '-1', id: 'question-title' }, t('task.' + (has('task.' + q.kind) ? q.kind : 'text')));
    box.className = 'question ' + q.kind;
    box.append(heading, ...paragraphs(q.text).map(p => p.list ? h('ul', {}, p.list.map(i => h('li', {}, i))) : h('p', {}, p.text)));
    let field = null;
    if (!mine) box.append(h('p.soft', {}, t('next.watch')));
    else {
      if (q.free) {
        field = h('input', { id: 'question-field', autocomplete: 'off', 'aria-label': t('next.answerLabel') });
        box.append(h('form.row', { onsubmit: e => { e.preventDefault(); answer(field.value); } }, field, h('button.primary', { type: 'submit' }, t('next.send'))));
      }
      box.append(h('div.row', {}, (q.answers ?? []).map((a, i) => button(a.say || a.answer, () => answer(a.answer), { class: i === 0 && !q.free ? 'primary' : '' }))));
    }
    const busy = document.activeElement?.matches?.('input, textarea');
    if (field) field.focus();
    else if (!busy) heading.focus({ preventScroll: true });
    if (!busy) box.scrollIntoView({ block: 'nearest' });
  }

  next() {
    const m = this.model, n = next(m), box = id('next');
    const had = box.contains(document.activeElement);
    const more = [];
    const order = (word, what) => more.push(button(t(word), () => this.actions.order(what)));
    if (controls(m) && running(m) && !m.state.stopping && !m.state.question) {
      if (!m.state.paused && doing(m) !== 'check') order('next.pause', 'pause');
      if (['align', 'work'].includes(doing(m)) && !m.state.finishing) order('next.finish', 'finish');
    }
    const out = [];
    if (n.act === 'hold') out.push(...this.holding());
    else if (n.act) out.push(button(t(n.word), () => this.act(n), { class: 'next' }));
    else if (n.word !== 'next.answer') out.push(h('p.waits', {}, t(n.word)));
    if (m.connected && !controls(m)) out.push(h('p.soft', {}, t('next.watch')));
    box.replaceChildren(...out, h('p.remains', { id: 'time-left' }), h('div.row', {}, more));
    if (had) (box.querySelector('button') ?? id('task-title')).focus();
    this.tick();
  }

  holding() {
    const big = button(t('nudge.hold'), null, { class: 'next hold', id: 'hold' });
    nudges.hold(big, this.nudge);
    const ways = [[-1, 'nudge.back'], [1, 'nudge.forward']].map(([direction, word]) => button(t(word), () => {
      this.nudge.turn(direction);
      for (const w of ways) w.setAttribute('aria-pressed', String(Number(w.dataset.way) === direction));
    }, { 'aria-pressed': String(this.nudge.direction === direction), 'data-way': String(direction) }));
    return [h('div.row', { role: 'group', 'aria-label': t('nudge.direction') }, ways), big, h('p.soft', {}, t('nudge.say')),
      h('div.row', {}, button(t('nudge.leave'), () => this.actions.order('leave')))];
  }

  // turning shows that the button is held.
  turning(yes) {
    const big = id('hold');
    if (!big) return;
    big.classList.toggle('held', yes);
    write(big, t(yes ? 'nudge.turning' : 'nudge.hold'));
  }

  act(n) {
    if (n.act === 'take') this.actions.take();
    else if (n.act === 'unit') this.actions.nextUnit();
    else this.actions.order(n.do, { ...(n.do === 'listen' || n.do === 'resume' ? {} : this.actions.job()), ...n.fields });
  }

  others() {
    const list = others(this.model), box = id('other');
    box.replaceChildren(...list.map(o => button(t(o.word), () => this.actions.order(o.do, o.do === 'quiet' ? {} : { ...this.actions.job(), ...o.fields }))));
    if (!list.length) box.append(h('p.soft', {}, t('other.none')));
  }

  tick() {
    const box = id('time-left'), m = this.model;
    if (!box) return;
    const left = running(m) ? timeLeft(m.state, this.stateMs, performance.now()) : null;
    write(box, left === null ? '' : t('next.left', { time: countdown(left, t('units.s')) }));
  }
}

function title(m) {
  if (!m.connected) return t('doing.lost');
  const what = doing(m), s = m.state;
  if (m.result && !running(m) && what !== 'nudge') return t(m.result.good ? 'doing.done' : 'doing.notDone');
  const name = s?.by_hand && has(`doing.${what}ByHand`) ? t(`doing.${what}ByHand`) : t('doing.' + what);
  const unit = s?.unit ? ': ' + t(s.head ? 'doing.unitHead' : 'doing.unit', { unit: s.unit, head: s.head }) : '';
  return name + unit;
}
