// How a run has ended: as found against as left, the clips to hear, the papers.
import { button, h, id, show, t, table, write } from './dom.js';
import { known, number, withUnit } from './format.js';
import { controls } from './model.js';
import { Blind, Player } from './player.js';
import { data } from './link.js';
import { save } from './save.js';

const SIGNS = { PASS: 'pass', RESTORED: 'pass', 'IN DOUBT': 'doubt', 'NOT SET': 'notSet' };

export class ResultView {
  // actions has order(do, fields), openRun(run), token(), say(words).
  constructor(model, actions) {
    Object.assign(this, { model, actions, shown: null, player: null });
  }

  render() {
    const r = this.model.result;
    show(id('result'), Boolean(r));
    if (r === this.shown) return;
    this.shown = r;
    this.player?.close();
    this.player = null;
    const box = id('result');
    box.replaceChildren();
    if (r) box.append(...this.parts(r.command, r.result ?? {}, r.good));
  }

  parts(command, r, good) {
    const sign = SIGNS[r.stamp];
    return [
      h('h2', { id: 'result-title' }, t('result.title')),
      r.stamp ? h('p.stamp', { 'data-state': sign ?? 'none' }, (sign ? t('result.' + sign) + ' ' : '') + r.stamp) : null,
      h('p.say', {}, r.say ?? ''),
      r.do ? h('p.say', {}, '\u2192 ' + r.do) : null,
      this.figures(r),
      r.run ? this.hear(r.run) : null,
      r.run ? this.papers(r.run) : null,
      r.run ? this.note(r.run) : null,
    ].filter(Boolean);
  }

  figures(r) {
    const minutes = t('units.arcmin');
    const within = sd => known(sd) ? ' ' + t('live.within', { sd: number(2 * sd, 1) }) : '';
    const off = (v, sd) => h('div', {}, h('strong.big', {}, withUnit(v, 1, minutes, true)), within(sd));
    const rows = [];
    if (known(r.moved_arcmin)) rows.push([t('result.moved'), off(r.moved_arcmin, r.moved_sd_arcmin)]);
    if (known(r.treble_gain_db)) rows.push([t('result.gain'), withUnit(r.treble_gain_db, 1, t('units.db'), true) + (known(r.treble_gain_sd_db) ? ` \u00b1${number(2 * r.treble_gain_sd_db, 1)}\u202f${t('units.db')}` : '')]);
    if (known(r.screw_deg)) rows.push([t('result.screw'), withUnit(r.screw_deg, 1, t('units.deg'), true) + ', ' + t(r.screw_certain ? 'result.certain' : 'result.uncertain')]);
    if (known(r.tape_seconds)) rows.push([t('result.tape'), withUnit(r.tape_seconds, 0, t('units.s'))]);
    if (r.run) rows.push([t('result.run'), button(r.run, () => this.actions.openRun(r.run), { class: 'link', 'aria-label': `${t('result.open')}: ${r.run}` })]);
    const pair = known(r.found_off_arcmin) || known(r.left_off_arcmin) ? h('div.against', {},
      h('div', {}, h('h3', {}, t('result.found')), off(r.found_off_arcmin, r.found_off_sd_arcmin), h('span.soft', {}, t('result.off'))),
      h('span.arrow', { 'aria-hidden': 'true' }, '\u2192'),
      h('div', {}, h('h3', {}, t('result.left')), off(r.left_off_arcmin ?? r.off_arcmin, r.left_off_sd_arcmin ?? r.off_sd_arcmin), h('span.soft', {}, t('result.off')))) : null;
    return h('div', {}, pair, rows.length ? table(t('result.title'), null, rows) : null);
  }

  papers(run) {
    const paper = (word, file) => button(t(word), () => save(`runs/${run}/${file}`, `${run}-${file}`, this.actions));
    return h('div.row', {}, paper('result.sheet', 'sheet.pdf'), paper('result.workshop', 'workshop.pdf'), paper('result.label', 'label.pdf'));
  }

  note(run) {
    const field = h('textarea', { id: 'note', rows: '2', maxlength: '2000' });
    const add = () => {
      if (field.value.trim() && this.actions.order('note', { run, text: field.value.trim() })) {
        field.value = '';
        this.actions.say(t('result.noted'));
      }
    };
    return h('div.field.wide', {}, h('label', { for: 'note' }, t('result.note')), field, h('div.row', {}, button(t('result.addNote'), add)));
  }

  hear(run) {
    const box = h('div.hear', {}, h('h3', {}, t('listen.title')));
    const load = button(t('listen.load'), async () => {
      load.disabled = true;
      write(load, t('listen.loading'));
      try {
        const there = await data(`runs/${run}/listen`, this.actions.token());
        if (!there.before || !there.after) throw new Error(t('listen.none'));
        this.player = new Player();
        await this.player.load(await Promise.all(['before', 'after'].map(f => data(`runs/${run}/${f}.wav`, this.actions.token(), 'arrayBuffer'))));
        box.replaceChildren(h('h3', {}, t('listen.title')), ...listening(this.player, there.said));
      } catch (e) {
        box.append(h('p', {}, e.message));
        load.remove();
      }
    });
    box.append(load);
    return box;
  }
}

// listening are the buttons of the clips; blind, the letters stand for one of them each.
function listening(player, said) {
  const state = h('p.soft'), area = h('div');
  let blind = null;
  let named = '';
  const tell = () => write(state, player.playing ? t('listen.playing', { which: named }) : t('listen.quiet'));
  const pick = (which, words) => { player.choose(which); named = words; tell(); mark(words); };
  let marks = [];
  const mark = words => { for (const [b, w] of marks) b.setAttribute('aria-pressed', String(w === words)); };
  const play = button(t('listen.play'), async () => {
    if (player.playing) player.pause(); else await player.play();
    write(play, t(player.playing ? 'listen.pause' : 'listen.play'));
    tell();
  });
  const choice = (which, words) => { const b = button(words, () => pick(which(), words), { 'aria-pressed': 'false' }); marks.push([b, words]); return b; };
  const open = () => {
    marks = [];
    blind = null;
    area.replaceChildren(h('div.row', {}, play, choice(() => 0, t('listen.before')), choice(() => 1, t('listen.after')), button(t('listen.blind'), hidden)));
    pick(0, t('listen.before'));
  };
  const hidden = () => {
    blind ??= new Blind();
    marks = [];
    const vote = letter => button(letter === 'same' ? t('listen.same') : t('listen.better', { which: t('listen.' + letter) }), () => { blind.vote(letter); hidden(); });
    const reveal = () => { // the next round hides anew
      const was = t('listen.was', { a: t(blind.clip('a') ? 'listen.after' : 'listen.before'), b: t(blind.clip('b') ? 'listen.after' : 'listen.before') });
      blind.begin();
      hidden();
      area.append(h('p', {}, was), h('p', {}, t('listen.score', blind.votes)));
    };
    area.replaceChildren(h('p', {}, t('listen.round', { n: blind.round })),
      h('div.row', {}, play, choice(() => blind.clip('a'), t('listen.a')), choice(() => blind.clip('b'), t('listen.b'))),
      h('div.row', {}, vote('a'), vote('b'), vote('same')),
      h('div.row', {}, button(t('listen.reveal'), reveal), button(t('listen.end'), () => { const v = blind.votes; open(); area.append(h('p', {}, t('listen.score', v))); })));
    pick(blind.clip('a'), t('listen.a'));
  };
  open();
  return [said ? h('p.soft', {}, said) : null, area, state].filter(Boolean);
}
