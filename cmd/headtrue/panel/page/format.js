// Numbers as people read them. Pure: no document, no clock.

const MINUS = '\u2212';
export const UNKNOWN = '\u2013';

export const known = v => typeof v === 'number' && Number.isFinite(v);

// number writes v with a fixed count of digits; signed puts a + before positive ones.
export function number(v, digits = 1, signed = false) {
  if (!known(v)) return UNKNOWN;
  let text = Math.abs(v).toFixed(digits);
  const zero = Number(text) === 0;
  if (zero) return text;
  if (v < 0) return MINUS + text;
  return signed ? '+' + text : text;
}

// between writes value, a narrow gap and the unit.
export const withUnit = (v, digits, unit, signed = false) =>
  known(v) ? number(v, digits, signed) + (unit === '\u2032' || unit === '\u00b0' ? '' : '\u202f') + unit : UNKNOWN;

// countdown writes a time that is left: 0:00 from one minute on, seconds below; never negative.
export function countdown(seconds, unit = 's') {
  if (!known(seconds)) return UNKNOWN;
  const whole = Math.max(0, Math.ceil(seconds - 1e-9));
  if (whole < 60) return `${whole}\u202f${unit}`;
  const m = Math.floor(whole / 60), s = String(whole % 60).padStart(2, '0');
  if (m < 60) return `${m}:${s}`;
  return `${Math.floor(m / 60)}:${String(m % 60).padStart(2, '0')}:${s}`;
}

// fill puts values into a sentence of the catalogue: {name}.
export const fill = (text, values = {}) =>
  text.replace(/\{(\w+)\}/g, (all, name) => name in values ? values[name] : all);

// Steady holds a figure still so that it can be read: it is renewed after everyMs at the
// soonest, and only if it has moved by more than 0.6 of its last digit.
export class Steady {
  constructor(digits, everyMs = 250) {
    this.digits = digits;
    this.everyMs = everyMs;
    this.shown = null;
    this.at = -Infinity;
  }

  next(v, nowMs) {
    if (!known(v)) v = null;
    const appears = (v === null) !== (this.shown === null);
    if (!appears) {
      if (v === null) return null;
      if (nowMs - this.at < this.everyMs) return this.shown;
      if (Math.abs(v - this.shown) <= 0.6 * 10 ** -this.digits) return this.shown;
    }
    this.at = nowMs;
    this.shown = v === null ? null : Number(v.toFixed(this.digits));
    return this.shown;
  }
}
