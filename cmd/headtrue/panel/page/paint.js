// When and on what to draw: canvases at the screen's own resolution, colours from the style
// sheet, one frame for all that has changed.

const jobs = new Map(); // by name: the function that draws
const places = new Map(); // by name: the canvas, of a drawing
const away = new Set(); // canvases that are out of view
const dirty = new Set();
let asked = false;

export function painter(name, draw, canvas) {
  jobs.set(name, draw);
  if (canvas) places.set(name, canvas);
}

// mark asks for a drawing in the next frame; a hidden page has none.
export function mark(...names) {
  for (const n of names) dirty.add(n);
  if (asked || document.hidden) return;
  asked = true;
  requestAnimationFrame(frame);
}

export const markAll = () => mark(...jobs.keys());

function frame() {
  asked = false;
  const now = [...dirty].filter(name => !away.has(places.get(name)));
  for (const name of now) dirty.delete(name);
  for (const name of now) jobs.get(name)?.();
}

let colours = null;
const NAMES = ['ground', 'sheet', 'ink', 'soft', 'line', 'left', 'right', 'good', 'doubt', 'bad', 'accent', 'wash'];

// palette returns the colours of the style sheet.
export function palette() {
  if (!colours) {
    const css = getComputedStyle(document.documentElement);
    colours = Object.fromEntries(NAMES.map(n => [n, css.getPropertyValue('--' + n).trim()]));
    colours.size = parseFloat(css.fontSize) * 0.8;
    colours.font = `${colours.size}px ${css.getPropertyValue('--figures').trim() || 'sans-serif'}`;
  }
  return colours;
}

let looks = 0;

// look changes with colours and sizes: what was drawn before must be drawn anew.
export const look = () => looks;

function renew() {
  colours = null;
  looks++;
  markAll();
}

// paper draws all in the colours of the paper, or of the screen again.
function paper(yes) {
  document.documentElement.toggleAttribute('data-print', yes);
  colours = null;
  looks++;
  for (const draw of jobs.values()) draw();
}

// watch redraws all when colours or sizes change.
export function watch(canvases) {
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', renew);
  addEventListener('resize', renew);
  addEventListener('beforeprint', () => paper(true));
  addEventListener('afterprint', () => paper(false));
  document.addEventListener('visibilitychange', () => { if (!document.hidden) markAll(); });
  const sizes = new ResizeObserver(renew);
  const views = new IntersectionObserver(list => {
    for (const v of list) v.isIntersecting ? away.delete(v.target) : away.add(v.target);
    mark();
  });
  for (const c of canvases) {
    sizes.observe(c);
    views.observe(c);
  }
}

export const still = () => matchMedia('(prefers-reduced-motion: reduce)').matches;

// begin clears a canvas and returns what draws on it, in CSS pixels; null if it is not to be seen.
export function begin(canvas) {
  const width = canvas.clientWidth, height = canvas.clientHeight;
  if (!width || !height) return null;
  const ratio = Math.min(devicePixelRatio || 1, 3);
  const w = Math.round(width * ratio), hgt = Math.round(height * ratio);
  if (canvas.width !== w || canvas.height !== hgt) Object.assign(canvas, { width: w, height: hgt });
  const g = canvas.getContext('2d');
  g.setTransform(ratio, 0, 0, ratio, 0, 0);
  g.clearRect(0, 0, width, height);
  const c = palette();
  g.font = c.font;
  g.lineJoin = g.lineCap = 'round';
  return { g, c, width, height, em: c.size };
}

export function path(g, points, close = false) {
  g.beginPath();
  points.forEach(([x, y], i) => i ? g.lineTo(x, y) : g.moveTo(x, y));
  if (close) g.closePath();
}

export function text(g, words, x, y, colour, align = 'left', base = 'alphabetic') {
  g.fillStyle = colour;
  g.textAlign = align;
  g.textBaseline = base;
  g.fillText(words, x, y);
}
