// Synth makes the samples of the sounds that guide a person's hand; the same sounds as the
// program's own output makes. It runs in an audio worklet and in tests; it has no document.
//
//   act         sound                                                  repeated after
//   hands-off   one soft pulse, 580 Hz                                 2.0 s
//   turn        two short pulses, 700 Hz, while no target is known;    1.0 s
//               else the distance
//   edge, mark  1300 and 1850 Hz by turns, three times, quickly        1.2 s
//   halfway     as turn without a target                               1.0 s
//   slower      three falling notes, 1900, 1550, 1280 Hz               2.0 s
//   wrong-way   two long low notes, 520 Hz                             1.6 s
//   hold        700 and 1750 Hz together, 0.7 s                        1.0 s
//   trouble     500 and 560 Hz together, which is rough, 0.3 s         0.5 s
//   optimum     four rising notes, 1300, 1625, 1950, 2600 Hz           3.0 s
//
// Distance: pulses of 60 ms, higher and sooner the nearer the target, below it in one range of
// pitch and above it in another; a steady tone within the tolerance.

const LEVEL = 0.2, RAMP_S = 0.012, CUT_S = 0.005, PULSE_S = 0.06, PATIENCE_S = 1, GLIDE = 0.06;
const FAR_TOLERANCES = 64, FAR_S = 0.6, NEAR_S = 0.12, JITTER = 0.15;
const BELOW_HZ = 500, ABOVE_HZ = 1300, PITCH_RATIO = 1.72, LEAST_TOLERANCE = 0.05;

const note = (hz, from, to, level = 1, hz2 = 0) => ({ hz, hz2, from, to, level });
const turn = { notes: [note(700, 0, 0.05), note(700, 0.12, 0.17)], every: 1, distance: false };
const edge = {
  notes: [note(1300, 0, 0.065), note(1850, 0.08, 0.145), note(1300, 0.16, 0.225),
    note(1850, 0.24, 0.305), note(1300, 0.32, 0.385), note(1850, 0.4, 0.465)],
  every: 1.2, distance: true,
};

const SOUNDS = {
  'hands-off': { notes: [note(580, 0, 0.08, 0.5)], every: 2, distance: false },
  'turn': turn,
  'halfway': turn,
  'edge': edge,
  'mark': edge,
  'slower': { notes: [note(1900, 0, 0.1), note(1550, 0.13, 0.23), note(1280, 0.26, 0.36)], every: 2, distance: true },
  'wrong-way': { notes: [note(520, 0, 0.2), note(520, 0.28, 0.48)], every: 1.6, distance: true },
  'hold': { notes: [note(700, 0, 0.7, 1, 1750)], every: 1, distance: false },
  'trouble': { notes: [note(500, 0, 0.3, 1, 560)], every: 0.5, distance: false },
  'optimum': { notes: [note(1300, 0, 0.12), note(1625, 0.15, 0.27), note(1950, 0.3, 0.42), note(2600, 0.45, 0.8)], every: 3, distance: false },
};
const ONLY_DISTANCE = { notes: [], every: 0, distance: true };

const hasOff = g => typeof g.off === 'number' && Number.isFinite(g.off);

export const soundOf = g => g.act === 'turn' && hasOff(g) ? ONLY_DISTANCE : SOUNDS[g.act] ?? null;

// distanceOf returns pitch and interval of a request's distance, null if it has none.
export function distanceOf(g) {
  if (!hasOff(g)) return null;
  const tolerances = Math.abs(g.off) / Math.max(g.tolerance, LEAST_TOLERANCE);
  const far = Math.min(Math.max(Math.log(tolerances) / Math.log(FAR_TOLERANCES), 0), 1);
  return {
    hz: (g.off > 0 ? ABOVE_HZ : BELOW_HZ) * PITCH_RATIO ** (1 - far),
    every: NEAR_S * (FAR_S / NEAR_S) ** far,
    steady: tolerances <= 1,
  };
}

export class Synth {
  constructor(rate = 48000, seed = 1) {
    this.rate = rate;
    this.random = BigInt.asUintN(64, BigInt(seed) * 2685821657736338717n + 1n);
    Object.assign(this, {
      sound: null, distance: null, restart: false, age: 0, clock: 0, note: 0, pulse: -1, every: 0,
      tone: note(0, 0, 0), phase: 0, extra: 0, ramp: 0,
    });
  }

  // set makes g the present request: {act, isNew, off, tolerance}; off and tolerance in arcmin.
  set(g) {
    const next = soundOf(g);
    if (g.isNew || next !== this.sound) this.restart = true;
    this.sound = next;
    this.age = 0;
    this.distance = distanceOf(g);
  }

  silence() {
    this.sound = null;
    this.distance = null;
  }

  render(out) {
    for (let i = 0; i < out.length; i++) {
      out[i] = this.sine(this.wanted());
      this.clock++;
      if (this.pulse >= 0) this.pulse++;
      if (++this.age > PATIENCE_S * this.rate) this.silence();
    }
  }

  // wanted returns the note that should sound at the present sample; null is a rest.
  wanted() {
    if (this.restart && this.ramp === 0) {
      this.restart = false;
      this.clock = this.note = 0;
      this.pulse = -1;
    }
    if (this.restart || !this.sound) return null;
    let seconds = this.clock / this.rate;
    if (this.sound.every > 0 && seconds >= this.sound.every) {
      this.clock = this.note = seconds = 0;
      this.pulse = -1;
    }
    const notes = this.sound.notes;
    while (this.note < notes.length && seconds >= notes[this.note].to) this.note++;
    if (this.note < notes.length) return seconds >= notes[this.note].from ? notes[this.note] : null;
    return this.sound.distance && this.distance ? this.pulses() : null;
  }

  pulses() {
    const length = PULSE_S * this.rate;
    const n = note(this.distance.hz, 0, 0);
    if (this.distance.steady) {
      this.pulse = 0;
      return n;
    }
    if (this.pulse < 0 && this.sound.every > 0) this.pulse = Math.floor(length); // a pause parts it from the notes
    if (this.pulse < 0 || this.pulse >= this.every * this.distance.every * this.rate) {
      this.pulse = 0;
      this.every = 1 + JITTER * this.draw();
    }
    if (this.pulse > 0 && this.ramp > 0) n.hz = this.tone.hz; // a pulse keeps its pitch
    return this.pulse < length ? n : null;
  }

  // draw returns a number between -1 and 1: Marsaglia, Xorshift RNGs, Journal of Statistical
  // Software 8(14), 2003.
  draw() {
    let r = this.random;
    r ^= BigInt.asUintN(64, r << 13n);
    r ^= r >> 7n;
    r ^= BigInt.asUintN(64, r << 17n);
    this.random = r;
    return Number(r >> 11n) / 2 ** 52 - 1;
  }

  // sine returns the present sample. Sines change pitch or level in silence only; a steady
  // distance glides.
  sine(wanted) {
    const seconds = this.restart || !this.sound ? CUT_S : RAMP_S;
    if (wanted && this.ramp === 0) this.tone = { ...wanted };
    const same = wanted && wanted.hz2 === this.tone.hz2 && wanted.level === this.tone.level &&
      Math.abs(wanted.hz / this.tone.hz - 1) <= GLIDE;
    const by = 1 / (seconds * this.rate);
    if (same) {
      this.tone.hz += (wanted.hz - this.tone.hz) * by;
      this.ramp = Math.min(this.ramp + by, 1);
    } else {
      this.ramp = Math.max(this.ramp - by, 0);
    }
    if (this.ramp === 0) return 0;
    this.phase = (this.phase + this.tone.hz / this.rate) % 1;
    let v = Math.sin(2 * Math.PI * this.phase);
    if (this.tone.hz2 > 0) {
      this.extra = (this.extra + this.tone.hz2 / this.rate) % 1;
      v = (v + Math.sin(2 * Math.PI * this.extra)) / 2;
    }
    return v * LEVEL * this.tone.level * (0.5 - 0.5 * Math.cos(Math.PI * this.ramp));
  }
}
