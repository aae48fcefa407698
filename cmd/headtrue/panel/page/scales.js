// Scales of the drawings. Pure.

// linear returns a map from [from, to] to pixels [low, high], with its inverse.
export function linear(from, to, low, high) {
  const k = (high - low) / (to - from || 1);
  const map = v => low + (v - from) * k;
  map.back = px => from + (px - low) / k;
  map.from = from;
  map.to = to;
  return map;
}

// logarithmic is linear for the logarithm: frequencies.
export function logarithmic(from, to, low, high) {
  const inner = linear(Math.log(from), Math.log(to), low, high);
  const map = v => inner(Math.log(Math.max(v, Number.MIN_VALUE)));
  map.back = px => Math.exp(inner.back(px));
  map.from = from;
  map.to = to;
  return map;
}

// step returns the distance of about count round marks over a span: 1, 2 or 5 times a power of ten.
export function step(span, count) {
  const rough = Math.abs(span) / Math.max(1, count);
  if (!(rough > 0) || !Number.isFinite(rough)) return 1;
  const ten = 10 ** Math.floor(Math.log10(rough));
  const part = rough / ten;
  return ten * (part <= 1 ? 1 : part <= 2 ? 2 : part <= 5 ? 5 : 10);
}

// marks returns the round numbers within [from, to].
export function marks(from, to, count) {
  const by = step(to - from, count), list = [];
  for (let i = Math.ceil(from / by - 1e-9); i * by <= to + by * 1e-9; i++) list.push(i * by + 0);
  return list;
}

// spread returns the least span around the values that is at least least wide, with a margin of
// a part of it on both sides; fallback if there is none.
export function spread(values, least, margin, fallback) {
  let low = Infinity, high = -Infinity;
  for (const v of values) {
    if (!Number.isFinite(v)) continue;
    if (v < low) low = v;
    if (v > high) high = v;
  }
  if (low > high) return fallback;
  const width = Math.max(high - low, least), middle = (low + high) / 2;
  return [middle - width * (0.5 + margin), middle + width * (0.5 + margin)];
}

// Axis keeps a span still until the values leave it or need less than half of it, so that the
// picture does not breathe with every point.
export class Axis {
  constructor(least, margin, fallback) {
    Object.assign(this, { least, margin, fallback, span: null });
  }

  of(values) {
    const wanted = spread(values, this.least, this.margin, null);
    if (!wanted) return this.span ?? this.fallback;
    const inside = spread(values, this.least, 0, null);
    const now = this.span;
    const fits = now && inside[0] >= now[0] && inside[1] <= now[1];
    const tooWide = now && (wanted[1] - wanted[0]) < 0.5 * (now[1] - now[0]);
    if (!fits || tooWide) this.span = wanted;
    return this.span;
  }

  reset() { this.span = null; }
}

// Position of a tilt on the guide's bar, -1 to 1: equal ratios of the distance look equal, so
// that the last minute of arc is as wide as the first ten. Within the tolerance it is linear.
export function guidePlace(offArcmin, toleranceArcmin, farArcmin = 40) {
  if (!Number.isFinite(offArcmin)) return null;
  const tolerance = Math.max(toleranceArcmin || 0, 0.05), size = Math.abs(offArcmin), zone = 0.16;
  if (size <= tolerance) return zone * offArcmin / tolerance;
  const far = Math.max(farArcmin, 2 * tolerance);
  const part = Math.log(size / tolerance) / Math.log(far / tolerance);
  return Math.sign(offArcmin) * Math.min(1, zone + (1 - zone) * part);
}

// along returns the height of a broken line at x, and null outside of it: where the pointer
// stands on the measured curve. Points are sorted by x.
export function along(points, x) {
  if (!points.length || !Number.isFinite(x) || x < points[0].x || x > points[points.length - 1].x) return null;
  for (let i = 1; i < points.length; i++) {
    const a = points[i - 1], b = points[i];
    if (x <= b.x) return b.x === a.x ? b.y : a.y + (b.y - a.y) * (x - a.x) / (b.x - a.x);
  }
  return points[0].y;
}
