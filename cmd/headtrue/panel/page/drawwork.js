// The screw from above, and the bar that guides a hand.
import { begin, path, text } from './paint.js';
import { guidePlace } from './scales.js';
import { number } from './format.js';
import { t } from './dom.js';

// drawScrew shows the slot at the screw's angle from as found; whole turns are in the figure.
export function drawScrew(canvas, deg, { optimum, low, high }) {
  const area = begin(canvas);
  if (!area) return;
  const { g, c, width, height, em } = area;
  const mx = width / 2, my = height / 2, ring = Math.min(width, height) / 2 - 2 * em, r = ring * 0.74;
  const turn = d => (d - 90) * Math.PI / 180;
  const at = (d, radius) => [mx + radius * Math.cos(turn(d)), my + radius * Math.sin(turn(d))];
  g.strokeStyle = c.line;
  g.lineWidth = 2;
  g.beginPath();
  g.arc(mx, my, ring, 0, 2 * Math.PI);
  g.stroke();
  path(g, [at(0, ring - 0.6 * em), at(0, ring + 0.3 * em)]);
  g.strokeStyle = c.soft;
  g.stroke();
  text(g, t('screw.found'), mx, my - ring - 0.4 * em, c.soft, 'center');
  for (const d of [low, high]) {
    if (!Number.isFinite(d)) continue;
    path(g, [at(d, ring - 0.5 * em), at(d, ring + 0.5 * em)]);
    g.strokeStyle = c.doubt;
    g.lineWidth = 3;
    g.stroke();
  }
  if (Number.isFinite(optimum)) {
    path(g, [at(optimum, ring - 0.1 * em), at(optimum - 7, ring + 1.1 * em), at(optimum + 7, ring + 1.1 * em)], true);
    g.fillStyle = c.good;
    g.fill();
  }
  g.beginPath();
  g.arc(mx, my, r, 0, 2 * Math.PI);
  g.fillStyle = c.wash;
  g.fill();
  g.strokeStyle = c.soft;
  g.lineWidth = 1.5;
  g.stroke();
  if (!Number.isFinite(deg)) return;
  const wide = r * 0.2;
  g.save();
  g.translate(mx, my);
  g.rotate(deg * Math.PI / 180);
  g.fillStyle = c.ink;
  g.fillRect(-wide / 2, -r, wide, 2 * r);
  g.beginPath(); // this end of the slot is the one that pointed up as found
  g.moveTo(0, -ring + 0.15 * em);
  g.lineTo(-0.5 * em, -r - 0.1 * em);
  g.lineTo(0.5 * em, -r - 0.1 * em);
  g.closePath();
  g.fill();
  g.restore();
}

// drawGuide is the bar with the target in the middle: the marker comes in from its side. The
// arrow says which way to turn.
export function drawGuide(canvas, guide) {
  const area = begin(canvas);
  if (!area || !guide) return;
  const { g, c, width, height } = area;
  const big = Math.min(height * 0.42, width * 0.14);
  const y = height - big * 0.95, left = big * 0.4, right = width - big * 0.4, middle = width / 2, half = (right - left) / 2;
  const place = guidePlace(guide.off_arcmin ?? NaN, guide.tolerance_arcmin), inside = Math.abs(guide.off_arcmin) <= guide.tolerance_arcmin;
  if (place === null) { // without a target there is a way only
    arrow(area, guide.way, middle, height / 2, Math.min(height * 0.38, width * 0.3), guide.act);
    return;
  }
  arrow(area, guide.way, middle, height * 0.27, Math.min(height * 0.24, width * 0.2), guide.act);
  g.fillStyle = c.wash;
  g.fillRect(left, y - big * 0.25, right - left, big * 0.5);
  g.strokeStyle = c.soft;
  g.lineWidth = 2;
  g.strokeRect(left, y - big * 0.25, right - left, big * 0.5);
  g.fillStyle = c.good;
  g.globalAlpha = inside ? 1 : 0.35;
  g.fillRect(middle - half * 0.16, y - big * 0.25, half * 0.32, big * 0.5);
  g.globalAlpha = 1;
  path(g, [[middle, y - big * 0.42], [middle, y + big * 0.42]]);
  g.strokeStyle = c.ink;
  g.lineWidth = 3;
  g.stroke();
  g.font = g.font.replace(/[\d.]+px/, `${Math.round(big * 0.32)}px`);
  text(g, t('guide.lowSide'), left, height, c.soft, 'left', 'bottom');
  text(g, t('guide.target'), middle, height, c.soft, 'center', 'bottom');
  text(g, t('guide.highSide'), right, height, c.soft, 'right', 'bottom');
  const x = middle + half * place;
  path(g, [[x, y + big * 0.3], [x - big * 0.3, y - big * 0.35], [x, y - big * 0.6], [x + big * 0.3, y - big * 0.35]], true);
  g.fillStyle = c.ink;
  g.fill();
  g.strokeStyle = c.sheet;
  g.lineWidth = 3;
  g.stroke();
}

function arrow({ g, c }, way, x, y, r, act) {
  g.lineWidth = r * 0.28;
  if (!way) { // do not turn: two upright bars, or a ring of trouble
    g.strokeStyle = act === 'trouble' ? c.bad : act === 'optimum' ? c.good : c.soft;
    if (act === 'optimum') {
      path(g, [[x - r * 0.6, y], [x - r * 0.1, y + r * 0.5], [x + r * 0.7, y - r * 0.5]]);
      g.stroke();
      return;
    }
    for (const k of [-0.35, 0.35]) {
      path(g, [[x + k * r, y - r * 0.6], [x + k * r, y + r * 0.6]]);
      g.stroke();
    }
    return;
  }
  const sign = way === 'clockwise' ? 1 : -1;
  const from = -Math.PI / 2 - sign * 2.2, to = -Math.PI / 2 + sign * 1.5;
  g.strokeStyle = act === 'wrong-way' ? c.bad : c.accent;
  g.beginPath();
  g.arc(x, y, r * 0.8, from, to, sign < 0);
  g.lineCap = 'butt';
  g.stroke();
  const k = r * 0.42, cos = Math.cos(to), sin = Math.sin(to), bx = x + r * 0.8 * cos, by = y + r * 0.8 * sin;
  path(g, [[bx - sign * sin * r * 0.62, by + sign * cos * r * 0.62], [bx + k * cos, by + k * sin], [bx - k * cos, by - k * sin]], true);
  g.fillStyle = g.strokeStyle;
  g.fill();
}

export const screwWords = deg => Number.isFinite(deg) ? t('screw.describe', { deg: number(deg, 1, true) }) : t('screw.unknown');
