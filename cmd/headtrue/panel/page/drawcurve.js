// The treble curve of this head, and the tilt as a pointer that rides on it.
import { begin, path, text } from './paint.js';
import { along, Axis, linear, marks } from './scales.js';
import { number } from './format.js';
import { t } from './dom.js';

// Curve keeps its axes still while they fit.
export class Curve {
  constructor() {
    this.reset();
  }

  reset() {
    this.x = new Axis(20, 0.12, [-30, 30]);
    this.y = new Axis(6, 0.2, [-24, 0]);
  }

  // draw takes {points, lines, fitted, ride, spots, pointer: {x, y, words}, found, axis}. What
  // stands still is drawn once and kept as a picture.
  draw(canvas, what) {
    const area = begin(canvas);
    if (!area) return;
    const { g, c, width, height, em } = area;
    const { low, high, optimum } = what.spots;
    const here = what.pointer;
    const xs = what.points.map(p => p.x).concat([low, high, optimum, here?.x, what.found].filter(Number.isFinite));
    const ys = what.points.flatMap(p => p.sd && !p.turning ? [p.y - 2 * p.sd, p.y + 2 * p.sd] : [p.y]).concat(Number.isFinite(here?.y) ? [here.y] : []);
    const left = 3.4 * em, right = width - 0.8 * em, top = 2.6 * em, bottom = height - 2.9 * em;
    const [x0, x1] = this.x.of(xs), [y0, y1] = this.y.of(ys);
    const x = linear(x0, x1, left, right), y = linear(y0, y1, bottom, top);
    const frame = { x, y, left, right, top, bottom };
    const key = [what.points, what.version, what.axis, canvas.width, canvas.height, x0, x1, y0, y1, c.ink, low, high, optimum];
    if (!this.key || key.some((k, i) => k !== this.key[i])) {
      this.key = key;
      this.picture ??= document.createElement('canvas');
      Object.assign(this.picture, { width: canvas.width, height: canvas.height });
      const still = this.picture.getContext('2d');
      still.setTransform(g.getTransform());
      Object.assign(still, { font: g.font, lineJoin: 'round', lineCap: 'round' });
      this.standing({ ...area, g: still }, what, frame);
    }
    g.drawImage(this.picture, 0, 0, width, height);
    if (here && Number.isFinite(here.x)) this.pointer(area, what, frame);
  }

  standing(area, what, frame) {
    const { g, c } = area, { x, y, left, right, bottom } = frame;
    this.grid(area, what, frame);
    g.save();
    g.beginPath();
    g.rect(left, 0, right - left, bottom + 1);
    g.clip();
    const hill = what.fitted;
    if (hill.length > 1) {
      path(g, hill.map(p => [x(p.x), y(p.y)]).concat([[x(hill[hill.length - 1].x), bottom], [x(hill[0].x), bottom]]), true);
      g.fillStyle = c.wash;
      g.fill();
    }
    this.spots(area, what, frame);
    g.strokeStyle = c.accent;
    for (const [list, wide] of [...what.lines.map(l => [l, 1]), [what.fitted, 2.8]]) {
      if (list.length < 2) continue;
      path(g, list.map(p => [x(p.x), y(p.y)]));
      g.lineWidth = wide;
      g.stroke();
    }
    for (const p of what.points) this.point(area, p, x(p.x), y);
    g.restore();
  }

  grid({ g, c, em, height, width }, what, { x, y, left, right, top, bottom }) {
    g.lineWidth = 1;
    g.strokeStyle = c.line;
    for (const v of marks(y.from, y.to, 5)) {
      path(g, [[left, y(v)], [right, y(v)]]);
      g.stroke();
      text(g, number(v, 0), left - 0.5 * em, y(v), c.soft, 'right', 'middle');
    }
    for (const v of marks(x.from, x.to, Math.max(3, width / (7 * em)))) {
      path(g, [[x(v), bottom], [x(v), bottom + 0.4 * em]]);
      g.stroke();
      text(g, number(v, 0, true), x(v), bottom + 0.6 * em, c.soft, 'center', 'top');
    }
    text(g, t('curve.treble'), left - 2.8 * em, 0.3 * em, c.soft, 'left', 'top');
    text(g, what.axis, right, height - 0.2 * em, c.soft, 'right', 'bottom');
  }

  spots({ g, c, em }, what, { x, top, bottom }) {
    const { low, high, optimum, within } = what.spots;
    for (const v of [low, high]) {
      if (!Number.isFinite(v)) continue;
      g.setLineDash([0.5 * em, 0.4 * em]);
      g.strokeStyle = c.doubt;
      g.lineWidth = 2;
      path(g, [[x(v), top], [x(v), bottom]]);
      g.stroke();
      g.setLineDash([]);
      text(g, t('curve.edge'), x(v) + (v === low ? -0.4 : 0.4) * em, bottom - 0.4 * em, c.doubt, v === low ? 'right' : 'left');
    }
    if (Number.isFinite(what.found)) {
      g.strokeStyle = c.soft;
      g.lineWidth = 1.5;
      g.setLineDash([1.5, 4]);
      path(g, [[x(what.found), top], [x(what.found), bottom]]);
      g.stroke();
      g.setLineDash([]);
    }
    if (!Number.isFinite(optimum)) return;
    if (within) {
      g.globalAlpha = 0.22;
      g.fillStyle = c.good;
      g.fillRect(x(optimum - within), top, Math.max(2, x(optimum + within) - x(optimum - within)), bottom - top);
      g.globalAlpha = 1;
    }
    g.strokeStyle = c.good;
    g.lineWidth = 2;
    path(g, [[x(optimum), top], [x(optimum), bottom]]);
    g.stroke();
    path(g, [[x(optimum), bottom - 0.2 * em], [x(optimum) - 0.55 * em, bottom + 0.01], [x(optimum) + 0.55 * em, bottom]], true);
    g.fillStyle = c.good;
    g.fill();
  }

  point({ g, c, em }, p, px, y) {
    const r = (p.turning ? 0.16 : 0.34) * em;
    if (!p.usable) {
      g.strokeStyle = c.bad;
      g.lineWidth = 1.5;
      path(g, [[px - r, y(p.y) - r], [px + r, y(p.y) + r]]);
      g.stroke();
      path(g, [[px - r, y(p.y) + r], [px + r, y(p.y) - r]]);
      g.stroke();
      return;
    }
    if (p.sd && !p.turning) {
      g.strokeStyle = c.ink;
      g.lineWidth = 1.2;
      const a = y(p.y - 2 * p.sd), b = y(p.y + 2 * p.sd), k = 0.3 * em;
      for (const line of [[[px, a], [px, b]], [[px - k, a], [px + k, a]], [[px - k, b], [px + k, b]]]) {
        path(g, line);
        g.stroke();
      }
    }
    g.beginPath();
    g.arc(px, y(p.y), r, 0, 2 * Math.PI);
    g.fillStyle = p.turning || p.heard ? c.accent : c.sheet;
    g.fill();
    if (!p.turning && !p.heard) {
      g.strokeStyle = c.ink;
      g.lineWidth = 1.8;
      g.stroke();
    }
  }

  // pointer rides on the measured curve; where there is none it stands at the treble heard now.
  pointer({ g, c, em, width }, what, { x, y, left, right, top, bottom }) {
    const here = what.pointer, px = Math.min(Math.max(x(here.x), left), right);
    const height = along(what.ride, here.x) ?? here.y;
    const py = Number.isFinite(height) ? Math.min(Math.max(y(height), top), bottom) : bottom;
    g.strokeStyle = c.ink;
    g.lineWidth = 1.5;
    path(g, [[px, py], [px, bottom]]);
    g.stroke();
    if (Number.isFinite(here.y)) { // the treble of this second, beside the curve
      const ty = Math.min(Math.max(y(here.y), top), bottom);
      path(g, [[px - 0.7 * em, ty], [px + 0.7 * em, ty]]);
      g.lineWidth = 3;
      g.stroke();
    }
    const s = 0.75 * em; // a kite that stands on the curve with its tip
    path(g, [[px, py], [px - s, py - 1.5 * s], [px, py - 2.1 * s], [px + s, py - 1.5 * s]], true);
    g.fillStyle = c.ink;
    g.fill();
    g.strokeStyle = c.sheet;
    g.lineWidth = 1.5;
    g.stroke();
    const words = `${t('curve.pointer')} ${here.words}`;
    const half = g.measureText(words).width / 2 + 0.2 * em;
    const tx = Math.min(Math.max(px, left + half), width - half);
    const above = py - 2.1 * s - 0.4 * em;
    g.strokeStyle = c.sheet;
    g.lineWidth = 4;
    g.textAlign = 'center';
    g.textBaseline = 'alphabetic';
    g.strokeText(words, tx, Math.max(above, 1.6 * em));
    text(g, words, tx, Math.max(above, 1.6 * em), c.ink, 'center');
  }
}
