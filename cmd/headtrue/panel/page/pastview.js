// Past work: the logbook with search, a run in full, two compared, control charts, studies. All
// pictures and texts come from the program.
import { button, h, id, show, t, table, write } from './dom.js';
import { number } from './format.js';
import { data } from './link.js';
import { save, saveBlob } from './save.js';

const COMMANDS = ['align', 'restore', 'proof', 'sweep', 'gauge', 'observe'];
const FOLLOW_MS = 30000; // a study that goes on is drawn anew so often
const FIGURES = ['left-off', 'found-off', 'tape', 'backlash', 'gearing'];

const query = fields => new URLSearchParams(Object.entries(fields).filter(([, v]) => v !== '' && v !== undefined && v !== null)).toString();

// field makes a labelled input or select of the search.
function field(name, word, options) {
  const input = options ? h('select', { id: name }, options.map(([value, words]) => h('option', { value }, words))) : h('input', { id: name });
  return { input, box: h('div.field', {}, h('label', { for: name }, t(word)), input) };
}

export class PastView {
  constructor(actions) {
    this.actions = actions;
    this.picked = new Set();
    this.urls = [];
  }

  // open builds the page when it is first shown, and fetches what is new.
  open() {
    if (!this.list) this.build();
    this.search();
    this.studies();
  }

  build() {
    this.fields = {};
    const form = h('form.search', { role: 'search', 'aria-label': t('past.search'), onsubmit: e => { e.preventDefault(); this.search(); } });
    for (const n of ['text', 'unit', 'head', 'job', 'since', 'until']) {
      const f = field('find-' + n, 'past.' + n);
      this.fields[n] = f.input;
      if (n === 'since' || n === 'until') f.input.type = 'date';
      form.append(f.box);
    }
    const command = field('find-command', 'past.command', [['', t('past.all')], ...COMMANDS.map(c => [c, c])]);
    this.fields.command = command.input;
    form.append(command.box, h('button.primary', { type: 'submit' }, t('past.go')));
    this.list = h('div.scroll', { tabindex: '0', role: 'group', 'aria-label': t('past.runs') });
    this.count = h('p.soft');
    this.compare = button(t('past.compare'), () => this.compared(), { disabled: true });
    this.detail = h('section.card.detail', { 'aria-labelledby': 'detail-title', hidden: true });
    this.charts = h('div');
    this.studyList = h('div');
    id('view-past').append(
      h('section.card.runs', { 'aria-labelledby': 'runs-title' }, h('h2', { id: 'runs-title' }, t('past.runs')), form, this.count, this.list,
        h('div.row', {}, this.compare, button(t('past.exportList'), () => saveBlob(new Blob([JSON.stringify(this.found, null, 1)], { type: 'application/json' }), 'runs.json'))), h('p.soft', {}, t('past.pickTwo'))),
      this.detail,
      h('section.card.charts', { 'aria-labelledby': 'charts-title' }, h('h2', { id: 'charts-title' }, t('past.charts')), this.chartForm(), this.charts),
      h('section.card.studies', { 'aria-labelledby': 'studies-title' }, h('h2', { id: 'studies-title' }, t('past.studies')), this.studyList));
  }

  async fetch(path, what) {
    try {
      return await data(path, this.actions.token(), what);
    } catch (e) {
      throw Object.assign(e, { message: t('past.failed', { say: [e.message, e.do].filter(Boolean).join(' ') }) });
    }
  }

  async search() {
    const ask = Object.fromEntries(Object.entries(this.fields).map(([n, f]) => [n, f.value.trim()]));
    write(this.count, t('past.busy'));
    try {
      const got = await this.fetch('runs?' + query({ ...ask, limit: 200 }));
      this.found = got.runs;
      this.picked.clear();
      this.rows(got.runs);
      write(this.count, got.runs.length ? t('past.count', { n: got.runs.length }) + (got.more ? '. ' + t('past.more') : '') : t('past.none'));
    } catch (e) {
      write(this.count, e.message);
    }
  }

  rows(runs) {
    const c = n => t('past.columns.' + n);
    this.compare.disabled = true;
    const pick = r => {
      const b = button('\u2610', () => {
        this.picked.has(r.run) ? this.picked.delete(r.run) : this.picked.add(r.run);
        const on = this.picked.has(r.run);
        write(b, on ? '\u2611' : '\u2610');
        b.setAttribute('aria-pressed', String(on));
        this.compare.disabled = this.picked.size !== 2;
      }, { 'aria-pressed': 'false', 'aria-label': t('past.pick', { run: r.run }) });
      return b;
    };
    this.list.replaceChildren(table(t('past.runs'), ['run', 'begun', 'command', 'unit', 'outcome', 'found', 'left', 'pick'].map(c), runs.map(r => [
      button(r.run, () => this.run(r.run), { class: 'link', 'aria-label': t('past.open', { run: r.run }) }),
      when(r.begun), r.command, [r.unit, r.head].filter(Boolean).join(', '), r.outcome || t('past.cutOff'),
      number(r.found_off_arcmin, 1, true), number(r.left_off_arcmin, 1, true), pick(r)])));
  }

  // begin clears the detail and gives it a heading.
  begin(title, close = true) {
    clearInterval(this.following);
    for (const u of this.urls) URL.revokeObjectURL(u);
    this.urls = [];
    show(this.detail, true);
    const heading = h('h2', { id: 'detail-title', tabindex: '-1' }, title);
    this.detail.replaceChildren(heading, close ? button(t('past.close'), () => { show(this.detail, false); id('runs-title').parentElement.querySelector('input').focus(); }, { class: 'close' }) : '');
    heading.focus();
    this.detail.scrollIntoView({ block: 'start' });
    return this.detail;
  }

  async run(run) {
    const box = this.begin(t('past.run', { run }));
    await this.picture(box, `runs/${run}/figures.svg`, t('past.figures'));
    await this.text(box, `runs/${run}/sheet.txt`, t('past.sheetText'));
    const file = (word, name) => button(t('past.' + word), () => save(`runs/${run}/${name}`, `${run}-${name}`, this.actions));
    const entries = async () => saveBlob(await this.fetch('runs/' + run, 'blob'), run + '.json');
    box.append(h('h3', {}, t('past.exports')), h('div.row', {}, file('sheet', 'sheet.pdf'), file('workshop', 'workshop.pdf'), file('label', 'label.pdf'), file('sheetHtml', 'sheet.html'),
      file('sheetTxt', 'sheet.txt'), file('figuresSvg', 'figures.svg'), file('before', 'before.wav'), file('after', 'after.wav'), button(t('past.exportRun'), entries)));
    this.actions.note(box, run);
  }

  async compared() {
    const [b, a] = [...this.picked].sort();
    const box = this.begin(t('past.compared', { a, b }));
    await this.report(box, `compare?${query({ a, b })}`, `${a}-${b}`, ['pdf', 'html', 'svg', 'txt']);
  }

  // report shows the picture and the text of a comparison, a chart or a study, and saves it.
  async report(box, path, name, forms) {
    const as = form => path + (path.includes('?') ? '&' : '?') + 'as=' + form;
    await this.picture(box, as('svg'), name);
    await this.text(box, as('txt'), t('past.textOf'));
    box.append(h('h3', {}, t('past.exports')), h('div.row', {}, forms.map(f => button(t('past.' + f), () => save(as(f), `${name}.${f}`, this.actions)))));
  }

  async picture(box, path, what) {
    try {
      const url = URL.createObjectURL(await this.fetch(path, 'blob'));
      this.urls.push(url);
      box.append(h('img.picture', { src: url, alt: t('past.pictureOf', { what }) }));
    } catch (e) {
      box.append(h('p', {}, e.message));
    }
  }

  async text(box, path, title) {
    try {
      const words = await this.fetch(path, 'text');
      box.append(h('h3', {}, title), h('pre', { tabindex: '0', role: 'group', 'aria-label': title }, words));
    } catch (e) {
      box.append(h('p', {}, e.message));
    }
  }

  chartForm() {
    const of = field('chart-of', 'past.chartOf', FIGURES.map(f => [f, t('past.of.' + f)]));
    const unit = field('chart-unit', 'past.unit');
    const kind = field('chart-kind', 'past.chartKind', ['individuals', 'xbar'].map(k => [k, t('past.kinds.' + k)]));
    const group = field('chart-group', 'past.chartGroup', ['day', 'unit', 'operator'].map(k => [k, t('past.groups.' + k)]));
    const draw = async () => {
      const xbar = kind.input.value === 'xbar';
      this.charts.replaceChildren();
      await this.report(this.charts, 'chart?' + query({ of: of.input.value, unit: unit.input.value.trim(), kind: kind.input.value, group: xbar ? group.input.value : '' }), 'chart-' + of.input.value, ['pdf', 'html', 'svg', 'txt', 'json']);
    };
    return h('form.search', { onsubmit: e => { e.preventDefault(); draw(); } }, of.box, unit.box, kind.box, group.box, h('button.primary', { type: 'submit' }, t('past.draw')));
  }

  async studies() {
    try {
      const { studies } = await this.fetch('studies');
      this.studyList.replaceChildren(studies.length ? h('ul', {}, studies.map(s => h('li', {}, button(s.study, () => this.study(s.study), { class: 'link' }), ' ',
        t('past.studyLine', { command: s.command, runs: s.runs, begun: when(s.begun), ended: when(s.ended) })))) : h('p.soft', {}, t('past.noStudies')));
    } catch (e) {
      this.studyList.replaceChildren(h('p', {}, e.message));
    }
  }

  async study(name) {
    const box = this.begin(t('past.study', { study: name })), report = h('div');
    const draw = async () => {
      const fresh = h('div');
      await this.report(fresh, 'studies/' + encodeURIComponent(name), name, ['pdf', 'html', 'svg', 'txt', 'json']);
      report.replaceChildren(...fresh.childNodes);
    };
    const follow = button(t('past.follow'), () => {
      const on = follow.getAttribute('aria-pressed') !== 'true';
      follow.setAttribute('aria-pressed', String(on));
      clearInterval(this.following);
      if (on) this.following = setInterval(draw, FOLLOW_MS);
    }, { 'aria-pressed': 'false' });
    box.append(h('div.row', {}, follow), report);
    await draw();
  }
}

// when writes an instant as day and minute, UTC as in the logbook.
const when = at => at ? at.slice(0, 16).replace('T', ' ') : '\u2013';
