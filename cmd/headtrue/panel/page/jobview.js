// The form of the unit on the bench, and the batch. What is left empty is as in the settings.
import { button, h, id, show, t, table, write } from './dom.js';
import { number } from './format.js';
import { doing, running } from './model.js';

const NAMES = ['unit', 'head', 'job', 'tape', 'operator'];
const LISTS = { unit: 'units', head: 'heads', job: 'jobs', tape: 'tapes', operator: 'operators' };

export class JobView {
  constructor(model, actions) {
    Object.assign(this, { model, actions, fields: {} });
  }

  // build makes the form once the settings are known.
  build(settings = {}) {
    const form = id('job');
    if (form.children.length) return;
    form.addEventListener('submit', e => e.preventDefault());
    const field = (name, word, props = {}) => {
      const input = h('input', { id: 'job-' + name, placeholder: String(settings[name] ?? ''), ...props });
      this.fields[name] = input;
      form.append(h('div.field', {}, h('label', { for: 'job-' + name }, t(word)), input));
    };
    for (const n of NAMES) {
      field(n, 'job.' + n, { list: 'names-' + n });
      form.append(h('datalist', { id: 'names-' + n }));
    }
    field('tone_hz', 'job.tone', { inputmode: 'decimal' });
    field('within_arcmin', 'job.within', { inputmode: 'decimal' });
    this.fields.to = h('select', { id: 'job-to' }, ...['tape', 'standard'].map(v => h('option', { value: v, selected: settings.to === v }, t(v === 'tape' ? 'job.toTape' : 'job.toStandard'))));
    form.append(h('div.field', {}, h('label', { for: 'job-to' }, t('job.to')), this.fields.to));
    id('other').after(this.batchForm());
  }

  batchForm() {
    const name = h('input', { id: 'batch-name' }), list = h('textarea', { id: 'batch-list', rows: '4', spellcheck: 'false' });
    const hand = button(t('job.byHand'), () => flip(hand), { 'aria-pressed': 'false' }), again = button(t('job.again'), () => flip(again), { 'aria-pressed': 'false' });
    const pressed = b => b.getAttribute('aria-pressed') === 'true';
    const begin = () => this.actions.order('work', { ...this.job(), batch: name.value.trim(), list_csv: list.value, by_hand: pressed(hand), again: pressed(again) });
    return h('details', {}, h('summary', {}, t('job.batchTitle')),
      h('div.field', {}, h('label', { for: 'batch-name' }, t('job.batch')), name),
      h('div.field', {}, h('label', { for: 'batch-list' }, t('job.list')), list),
      h('div.row', {}, hand, again, button(t('other.batch'), begin)));
  }

  // names fills the suggestions in.
  names(all) {
    for (const n of NAMES) id('names-' + n)?.replaceChildren(...(all[LISTS[n]] ?? []).map(v => h('option', { value: v })));
  }

  job() {
    const out = {};
    for (const n of NAMES) if (this.fields[n]?.value.trim()) out[n] = this.fields[n].value.trim();
    for (const n of ['tone_hz', 'within_arcmin']) {
      const v = parseFloat((this.fields[n]?.value ?? '').replace(',', '.'));
      if (Number.isFinite(v)) out[n] = v;
    }
    const to = this.fields.to?.value;
    if (to && to !== this.model.hello?.settings?.to) out.to = to;
    return out;
  }

  nextUnit() {
    const unit = this.fields.unit;
    if (!unit) return;
    unit.value = '';
    unit.focus();
    unit.scrollIntoView({ block: 'center' });
  }
}

function flip(b) { b.setAttribute('aria-pressed', String(b.getAttribute('aria-pressed') !== 'true')); }

export function renderBatch(model) {
  const b = model.batch, s = model.state;
  show(id('batch'), Boolean(b?.units?.length));
  if (!b) return;
  const c = n => t('batch.columns.' + n);
  const here = u => s?.doing === 'work' && u.unit === s.unit && (u.head ?? '') === (s.head ?? '');
  id('batch-table').replaceChildren(table(`${t('batch.title')} ${b.name ?? ''}`, ['unit', 'head', 'state', 'left', 'why', 'run'].map(c),
    b.units.map(u => [u.unit, u.head, here(u) ? `\u25b6 ${t('batch.now')}` : u.state, number(u.left_off_arcmin, 1, true), [u.why, u.cause].filter(Boolean).join('; '), u.run])));
}

export function renderReady(model, ticked) {
  const list = model.checks;
  show(id('ready'), Boolean(list) && !model.result && (!running(model) || doing(model) === 'check'));
  if (!list) return;
  const c = n => t('ready.columns.' + n), n = { pass: 0, doubt: 0, fail: 0, unknown: 0 };
  for (const k of list) n[k.verdict] = (n[k.verdict] ?? 0) + 1;
  write(id('ready-say'), t('ready.say', n));
  const order = { fail: 0, doubt: 1, unknown: 2, pass: 3 };
  const rows = list.slice().sort((a, b) => order[a.verdict] - order[b.verdict]);
  id('ready-table').replaceChildren(table(t('ready.title'), ['name', 'verdict', 'found', 'do'].map(c),
    rows.map(k => [k.name, h('span.verdict.' + k.verdict, {}, t('ready.' + k.verdict)), k.found, k.do ?? ''])));
  id('ready-confirm').replaceChildren(...(model.confirm ?? []).map(words => {
    const b = button('', () => { ticked.has(words) ? ticked.delete(words) : ticked.add(words); paint(); });
    const paint = () => {
      b.setAttribute('aria-pressed', String(ticked.has(words)));
      write(b, `${t(ticked.has(words) ? 'ready.seen' : 'ready.open')} ${words}`);
    };
    paint();
    return h('li', {}, b);
  }));
}

