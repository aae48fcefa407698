// What is heard now, drawn and in figures.
import { attribute, id, label, Rows, show, t, write } from './dom.js';
import { known, number, Steady, withUnit } from './format.js';
import { byHand, curve, doing, running, spots } from './model.js';
import { Curve } from './drawcurve.js';
import { drawLevels, drawSpectrum, Phase } from './drawlive.js';
import { drawScrew, screwWords } from './drawwork.js';
import { Trace, unfolded } from './trace.js';
import { look, mark, painter, still } from './paint.js';

const EVERY_MS = 250;

export class LiveView {
  constructor(model) {
    this.model = model;
    this.curve = new Curve();
    this.phase = new Phase();
    this.trace = new Trace();
    this.held = {};
    this.version = 0;
    this.tilt = null;
    this.figuresAt = this.saidAt = -Infinity;
    this.levels = levelsTable(id('levels-table'));
    this.speed = new Rows(id('speed-table'), ['speed.tone', 'speed.now', 'speed.mean', 'speed.flutter', 'speed.rms', 'speed.hum', 'speed.coherence'].map(n => t(n)));
    this.jig = new Rows(id('jig-table'), ['jig.link', 'jig.motor', 'jig.place', 'jig.target', 'jig.switches', 'jig.memory', 'jig.reason'].map(n => t(n)));
    painter('levels', () => drawLevels(id('draw-levels'), this.model.live), id('draw-levels'));
    painter('phase', () => this.phase.draw(id('draw-phase'), this.model.live?.figure), id('draw-phase'));
    painter('spectrum', () => drawSpectrum(id('draw-spectrum'), this.model.live, this.model.hello?.spectrum_hz), id('draw-spectrum'));
    painter('curve', () => this.drawCurve(), id('draw-curve'));
    painter('screw', () => this.drawScrew());
    id('trace-clear').addEventListener('click', () => this.begin());
  }

  // begin clears what an earlier run or deck has left.
  begin() {
    this.curve.reset();
    this.trace.clear();
    this.tilt = null;
    this.version++;
    mark('curve', 'screw');
  }

  // heard takes a live message in.
  heard(live) {
    const h = live.heard ?? {};
    this.tilt = unfolded(h, this.tilt);
    if (!running(this.model) && this.trace.add(this.tilt, h.treble_db)) this.version++;
    mark('levels', 'curve', 'screw');
    const now = performance.now();
    this.odd = !this.odd; // the two large drawings by turns, which halves their cost
    if (!still() || now - this.figuresAt >= EVERY_MS) mark(this.odd ? 'phase' : 'spectrum');
    if (now - this.figuresAt < EVERY_MS) return;
    this.figuresAt = now;
    this.figures(h, now);
  }

  steady(name, v, digits, now) {
    this.held[name] ??= new Steady(digits, EVERY_MS);
    return this.held[name].next(v, now);
  }

  figures(h, now) {
    const s = (name, v, digits) => this.steady(name, v, digits, now), u = n => t('units.' + n);
    const tilt = s('tilt', h.tilt_arcmin, 1);
    write(id('fig-tilt'), withUnit(tilt, 1, u('arcmin'), true));
    write(id('fig-tilt-sd'), !known(h.tilt_sd_arcmin) ? t('live.notMeasurable') : [t('live.within', { sd: number(2 * s('sd', h.tilt_sd_arcmin, 2), 1) }),
      t('live.still', { s: number(h.still_s, 0) }), known(h.tilt_period_arcmin) ? t('live.period', { period: number(h.tilt_period_arcmin, 1) }) : ''].filter(Boolean).join('; '));
    write(id('fig-treble'), withUnit(s('treble', h.treble_db, 1), 1, u('db'), true));
    write(id('fig-treble-re'), t(known(h.tilt_period_arcmin) ? 'live.reFull' : 'live.reMid'));
    this.levelFigures(h, s);
    this.speedFigures(h, s, u);
    const phase = t('phase.say', { phase: number(s('phase', h.phase_deg, 0), 0, true), hz: number(h.phase_hz, 0), delay: number(s('delay', h.live_delay_us, 1), 1, true) });
    write(id('phase-say'), known(h.phase_deg) ? phase : t('phase.unknown'));
    this.soundLine(h);
    if (now - this.saidAt > 2000) this.describe(h, now);
  }

  levelFigures(h, s) {
    const m = this.model.live.meters ?? {};
    [0, 1].forEach(i => {
      const list = [s('q' + i, m.quasi_peak_dbfs?.[i], 1), s('h' + i, m.hold_dbfs?.[i], 1), s('v' + i, m.vu_db?.[i], 1), s('r' + i, h.level_dbfs?.[i], 1), s('p' + i, h.peak_dbfs?.[i], 1)];
      list.forEach((v, k) => write(this.levels[k][i], withUnit(v, 1, t(k === 2 ? 'units.vu' : 'units.dbfs'))));
      write(this.levels[5][i], t(h.clipped?.[i] ? 'levels.clip' : 'levels.no'));
    });
  }

  speedFigures(h, s, u) {
    const tone = known(h.tone_hz), later = tone ? t('speed.wait') : '\u2013';
    this.speed.write(0, tone ? withUnit(s('tone', h.tone_hz, 1), 1, u('hz')) : t('speed.noTone'));
    this.speed.write(1, withUnit(s('speed', h.speed_percent, 2), 2, u('percent'), true));
    this.speed.write(2, withUnit(s('mean', h.speed_mean_percent, 3), 3, u('percent'), true));
    this.speed.write(3, known(h.flutter_weighted_percent) ? withUnit(s('flutter', h.flutter_weighted_percent, 3), 3, u('percent')) : later);
    this.speed.write(4, known(h.flutter_rms_percent) ? withUnit(s('rms', h.flutter_rms_percent, 3), 3, u('percent')) : later);
    this.speed.write(5, [0, 1].map(i => number(s('hum' + i, h.hum_dbfs?.[i], 0), 0)).join(', ') + '\u202f' + u('dbfs') + (known(h.hum_hz) ? ` (${h.hum_hz}\u202f${u('hz')})` : ''));
    this.speed.write(6, number(s('coherence', h.coherence, 2), 2));
  }

  soundLine(h) {
    const faults = (h.faults ?? []).map(f => t('sound.' + f));
    if (h.lost_frames > 0) faults.push(t('sound.lost', { n: h.lost_frames }));
    write(id('sound'), faults.length ? '\u26a0 ' + t('sound.bad', { faults: faults.join(', ') }) : t('sound.good'));
    attribute(id('sound'), 'data-state', faults.length ? 'bad' : 'good');
  }

  describe(h, now) {
    this.saidAt = now;
    const live = this.model.live, m = live.meters ?? {}, db = v => withUnit(v, 0, t('units.dbfs'));
    label(id('draw-levels'), t('levels.describe', { left: db(m.quasi_peak_dbfs?.[0]), right: db(m.quasi_peak_dbfs?.[1]) }));
    label(id('draw-phase'), t('phase.describe', { say: id('phase-say').textContent }));
    const strongest = i => {
      const list = live.spectrum_dbfs?.[i] ?? [], hz = this.model.hello?.spectrum_hz ?? [];
      const k = list.indexOf(Math.max(...list));
      return k < 0 ? '\u2013' : withUnit(hz[k], 0, t('units.hz'));
    };
    label(id('draw-spectrum'), t('spectrum.describe', { left: strongest(0), right: strongest(1) }));
    this.describeCurve(h);
  }

  describeCurve(h) {
    const hand = byHand(this.model), unit = t(hand ? 'units.arcmin' : 'units.deg');
    const at = spots(this.model.decision, hand), at1 = v => number(v, 1, true) + unit;
    if (!this.model.steps.length) {
      label(id('draw-curve'), t('curve.describeLive', { n: this.trace.cells.size, tilt: withUnit(h?.tilt_arcmin, 1, t('units.arcmin'), true) }));
    } else {
      const list = [];
      if (known(at.low) && known(at.high)) list.push(t('curve.edges', { low: at1(at.low), high: at1(at.high) }));
      list.push(known(at.optimum) ? t('curve.best', { optimum: at1(at.optimum) }) : t('curve.none'));
      label(id('draw-curve'), t('curve.describeRun', { n: this.model.steps.length, spots: list.join(' ') }));
    }
    label(id('draw-screw'), screwWords(this.screwDeg()));
  }

  screwDeg() {
    const m = this.model;
    if (m.motor?.jig && known(m.motor.position_deg)) return m.motor.position_deg;
    return m.live?.screw_deg ?? null;
  }

  // same reports whether a drawing would be what it is already.
  same(name, parts) {
    this.drawn ??= {};
    const key = [look(), ...parts], before = this.drawn[name];
    this.drawn[name] = key;
    return Boolean(before) && key.every((k, i) => k === before[i]);
  }

  // made returns the curve of the run, computed anew only if a step or a decision came; without a
  // run that of what was heard.
  made() {
    const m = this.model, hand = byHand(m);
    if (!m.steps.length) {
      if (this.tracedAt !== this.version) {
        const line = this.trace.points();
        this.traced = { points: line.map(p => ({ ...p, usable: true, heard: true, turning: true })), lines: [line], fitted: line, ride: line };
        this.tracedAt = this.version;
      }
      return this.traced ?? { points: [], lines: [], fitted: [], ride: [] };
    }
    const from = [m.steps, m.decision, hand];
    if (!this.from || from.some((f, i) => f !== this.from[i])) {
      this.from = from;
      this.ofRun = curve(m.steps, hand, m.decision);
    }
    return this.ofRun;
  }

  // pointer is where the head is now, on the axis of the curve.
  pointer(made, byTilt) {
    const m = this.model, h = m.live?.heard ?? {}, ofRun = m.steps.length > 0;
    if (!['listen', 'nudge'].includes(doing(m)) && !running(m)) return null;
    if (ofRun && !running(m) && m.hello?.virtual && !m.hello.kept) return null; // a fresh virtual deck has taken the place of the one that was set
    let x = byTilt ? this.tilt : this.screwDeg();
    if (byTilt && ofRun && running(m)) x = made.points[made.points.length - 1]?.x ?? NaN;
    let words = null;
    if (!byTilt && !known(x)) { // no jig is open: the tilt on the scale of the decision
      const { zero, arcminPerDeg } = spots(m.decision, false);
      if (!known(zero) || !arcminPerDeg || !known(this.tilt)) return null;
      [x, words, byTilt] = [zero + this.tilt / arcminPerDeg, this.tilt, true];
    }
    if (!known(x)) return null;
    return { x, y: h.treble_db ?? NaN, words: withUnit(words ?? x, 1, t(byTilt ? 'units.arcmin' : 'units.deg'), true) };
  }

  drawCurve() {
    const m = this.model, hand = byHand(m), ofRun = m.steps.length > 0, byTilt = hand || !ofRun;
    const made = this.made();
    show(id('curve-empty'), made.points.length < 3);
    const pointer = this.pointer(made, byTilt);
    if (this.same('curve', [made, m.decision, byTilt, pointer && Math.round(pointer.x * 20), pointer && Math.round(pointer.y * 5), pointer?.words])) return;
    this.curve.draw(id('draw-curve'), {
      ...made, version: this.version, spots: ofRun ? spots(m.decision, hand) : {}, pointer, found: ofRun && !hand ? 0 : NaN, axis: t(byTilt ? 'curve.tilt' : 'curve.screw'),
    });
  }

  drawScrew() {
    const deg = this.screwDeg(), hand = byHand(this.model), there = known(deg) && !hand;
    show(id('draw-screw'), there);
    show(id('fig-screw-box'), there);
    if (!there || this.same('screw', [Math.round(deg * 5), this.model.decision])) return;
    drawScrew(id('draw-screw'), deg, spots(this.model.decision, false));
    write(id('fig-screw'), withUnit(deg, 1, t('units.deg'), true));
    write(id('fig-screw-re'), t('live.fromFound'));
  }

  motor(m) {
    const deg = v => withUnit(v, 1, t('units.deg'), true);
    const none = !m?.jig;
    this.jig.write(0, none ? t('jig.none') : m.link === 'ok' ? t('jig.ok') : t('jig.lost', { why: m.link }));
    this.jig.write(1, none ? '\u2013' : t(m.moving ? 'jig.moves' : m.energised ? 'jig.stands' : 'jig.off'));
    this.jig.write(2, deg(m?.position_deg));
    this.jig.write(3, deg(m?.target_deg));
    this.jig.write(4, none ? '\u2013' : [m.stop_held ? t('jig.stopHeld') : '', m.limit_held ? t('jig.limitHeld') : ''].filter(Boolean).join(', ') || t('jig.free'));
    this.jig.write(5, m?.memory || '\u2013');
    this.jig.write(6, m?.reason || '\u2013');
    attribute(id('jig-table'), 'data-state', none || m.link === 'ok' ? 'good' : 'bad');
    mark('curve', 'screw');
  }
}

function levelsTable(root) {
  const names = ['quasi', 'hold', 'vu', 'rms', 'sample', 'clipped'];
  const row = document.createElement('tr');
  for (const n of ['', 'left', 'right']) {
    const cell = document.createElement(n ? 'th' : 'td');
    if (n) cell.scope = 'col';
    cell.textContent = n ? t('levels.' + n) : '';
    row.append(cell);
  }
  root.append(row);
  return names.map(n => {
    const tr = document.createElement('tr'), th = document.createElement('th');
    th.scope = 'row';
    th.textContent = t('levels.' + n);
    const cells = [document.createElement('td'), document.createElement('td')];
    tr.append(th, ...cells);
    root.append(tr);
    return cells;
  });
}
