// Levels, phase figure, spectrum.
import { begin, path, still, text } from './paint.js';
import { linear, logarithmic, marks } from './scales.js';
import { number } from './format.js';
import { t } from './dom.js';

const FLOOR_DBFS = -60;
export const VU_ZERO_DBFS = -18;

export function drawLevels(canvas, live) {
  const area = begin(canvas);
  if (!area) return;
  const { g, c, width, height, em } = area;
  const left = 1.6 * em, right = width - 1.2 * em, x = linear(FLOOR_DBFS, 0, left, right);
  const at = v => Math.min(Math.max(x(v ?? FLOOR_DBFS), left), right);
  const rows = height - 1.7 * em, row = rows / 2;
  for (const v of marks(FLOOR_DBFS, 0, width / (4 * em))) {
    g.strokeStyle = c.line;
    g.lineWidth = 1;
    path(g, [[x(v), 0], [x(v), rows]]);
    g.stroke();
    text(g, number(v, 0), x(v), height, c.soft, 'center', 'bottom');
  }
  ['left', 'right'].forEach((name, i) => {
    const y = i * row + 0.12 * row, thick = 0.48 * row;
    text(g, t('phase.' + name), 0, y + thick * 0.75, c.ink, 'left', 'middle');
    g.fillStyle = c.line;
    g.fillRect(left, y + thick + 2, right - left, 1);
    const m = live?.meters, clipped = live?.heard?.clipped?.[i];
    if (!m) return;
    g.fillStyle = c[name];
    g.fillRect(left, y, at(m.quasi_peak_dbfs?.[i]) - left, thick);
    g.globalAlpha = 0.75;
    g.fillRect(left, y + thick + 0.07 * row, at((m.vu_db?.[i] ?? -200) + VU_ZERO_DBFS) - left, 0.2 * row);
    g.globalAlpha = 1;
    g.fillStyle = clipped ? c.bad : c.ink;
    g.fillRect(at(m.hold_dbfs?.[i]) - 1.5, y - 2, 3, thick + 4);
    if (clipped) text(g, t('levels.clip'), right, y + thick / 2, c.bad, 'right', 'middle');
  });
}

// Phase keeps the scale of the figure, which follows the loudest sample slowly.
export class Phase {
  constructor() {
    this.reach = 0.1;
    this.trail = [];
  }

  // draw shows right+left upwards and their difference to the side: equal channels stand
  // upright, opposed ones lie.
  draw(canvas, figure) {
    const area = begin(canvas);
    if (!area) return;
    const { g, c, width, height, em } = area;
    const size = Math.min(width, height) / 2 - 1.4 * em, mx = width / 2, my = height / 2;
    g.strokeStyle = c.line;
    g.lineWidth = 1;
    path(g, [[mx - size, my], [mx, my - size], [mx + size, my], [mx, my + size]], true);
    g.stroke();
    path(g, [[mx, my - size], [mx, my + size]]);
    g.stroke();
    path(g, [[mx - size, my], [mx + size, my]]);
    g.stroke();
    text(g, t('phase.same'), mx, my - size - 0.3 * em, c.soft, 'center');
    text(g, t('phase.opposite'), mx + size + 0.4 * em, my, c.soft, 'left', 'middle');
    text(g, t('phase.left'), mx - size * 0.62, my - size * 0.62, c.left, 'center');
    text(g, t('phase.right'), mx + size * 0.62, my - size * 0.62, c.right, 'center');
    const [l, r] = figure ?? [];
    if (!l?.length || l.length !== r?.length) return;
    let most = 1e-4;
    for (let i = 0; i < l.length; i++) most = Math.max(most, Math.abs(l[i]), Math.abs(r[i]));
    this.reach = most > this.reach ? most : this.reach + (most - this.reach) * 0.05;
    const k = size / (2 * this.reach);
    const points = l.map((v, i) => [mx + (r[i] - v) * k, my - (v + r[i]) * k]);
    this.trail = still() ? [points] : [points, ...this.trail].slice(0, 2);
    this.trail.forEach((line, age) => {
      g.globalAlpha = [1, 0.25][age];
      path(g, line);
      g.strokeStyle = c.accent;
      g.lineWidth = 1.3;
      g.stroke();
    });
    g.globalAlpha = 1;
  }
}

const LOWEST_DBFS = -100;

export function drawSpectrum(canvas, live, hz) {
  const area = begin(canvas);
  if (!area) return;
  const { g, c, width, height, em } = area;
  const left = 3.1 * em, right = width - 0.6 * em, bottom = height - 1.6 * em, top = 0.6 * em;
  const x = logarithmic(20, 20000, left, right), y = linear(LOWEST_DBFS, 0, bottom, top);
  g.strokeStyle = c.line;
  g.lineWidth = 1;
  for (const v of marks(LOWEST_DBFS, 0, 5)) {
    path(g, [[left, y(v)], [right, y(v)]]);
    g.stroke();
    text(g, number(v, 0), left - 0.4 * em, y(v), c.soft, 'right', 'middle');
  }
  for (const v of [20, 100, 1000, 10000]) {
    path(g, [[x(v), top], [x(v), bottom]]);
    g.stroke();
    text(g, v < 1000 ? String(v) : v / 1000 + '\u202fk', x(v), height, c.soft, v === 20 ? 'left' : 'center', 'bottom');
  }
  if (!hz?.length || !live?.spectrum_dbfs) return;
  [['left', []], ['right', [0.5 * em, 0.35 * em]]].forEach(([name, dash], i) => {
    const levels = live.spectrum_dbfs[i] ?? [];
    path(g, levels.map((v, k) => [x(hz[k]), y(Math.min(0, Math.max(v, LOWEST_DBFS)))]));
    g.setLineDash(dash);
    g.strokeStyle = c[name];
    g.lineWidth = 2;
    g.stroke();
    g.setLineDash([]);
  });
}
