// The model of the page: what the server has said so far. Pure.

export const EVENTS_KEPT = 500;

export const empty = () => ({
  connected: false, hello: null, control: null, state: null, motor: null, stopped: null, live: null,
  work: null, events: [], steps: [], decision: null, guide: null, checks: null, confirm: [], result: null, batch: null,
});

// What a new work clears.
const cleared = { events: [], steps: [], decision: null, guide: null, result: null };

// added puts numbered things behind those that are there; what is there already stays as it is.
export function added(list, more) {
  const seen = new Set(list.map(item => item.n));
  const fresh = more.filter(item => !seen.has(item.n));
  return fresh.length ? list.concat(fresh) : list;
}

// apply returns the names of the parts that a message changes; it changes the model in place.
export function apply(model, m) {
  switch (m.type) {
    case 'hello':
      Object.assign(model, { hello: m, confirm: m.confirm ?? [], work: null, batch: null, stopped: null }, cleared);
      return ['hello', 'work', 'events', 'steps', 'decision', 'guide', 'result', 'stopped'];
    case 'work': {
      Object.assign(model, { work: m }, cleared);
      if (m.command === 'check') model.checks = null;
      return ['work', 'events', 'steps', 'decision', 'guide', 'result', 'checks'];
    }
    case 'events':
      model.events = added(model.events, m.events).slice(-EVENTS_KEPT);
      return ['events'];
    case 'steps':
      model.steps = added(model.steps, m.steps);
      return ['steps'];
    case 'decision':
      model.decision = m.decision;
      return ['decision'];
    case 'result':
      Object.assign(model, { result: m, guide: null });
      return ['result', 'guide'];
    case 'checks':
      model.checks = m.checks;
      if (m.confirm) model.confirm = m.confirm;
      return ['checks'];
    case 'state': {
      const before = active(model);
      model.state = m;
      if (before || !active(model)) return ['state'];
      Object.assign(model, { result: null, guide: null }); // a new work has begun
      if (model.stopped?.state !== 'unsure') model.stopped = null;
      return ['state', 'result', 'guide', 'stopped'];
    }
    case 'control': case 'motor': case 'stopped': case 'live': case 'guide': case 'batch':
      model[m.type] = m;
      return [m.type];
  }
  return [];
}

export const controls = model => Boolean(model.connected && model.control?.you);
export const doing = model => model.state?.doing ?? 'nothing';
export const running = model => ['check', 'align', 'restore', 'proof', 'work'].includes(doing(model));
const active = model => running(model) || doing(model) === 'nudge';

// byHand is of what goes on, and then of what was done last.
export const byHand = model => Boolean(running(model) ? model.state.by_hand : model.work?.by_hand);

// motorTurns reports whether the jig says that the motor turns.
export const motorTurns = model => Boolean(model.motor?.jig && model.motor.moving);

// counts of the ready table by verdict.
export function verdicts(checks) {
  const n = { pass: 0, doubt: 0, fail: 0, unknown: 0 };
  for (const c of checks ?? []) if (c.verdict in n) n[c.verdict]++;
  return n;
}

// Silence is written as -200 dB; at or below this no treble was measured.
const NOTHING_DB = -120;

// The curve of a run: points with x in degrees of screw, or in arcmin of tilt by hand, and y in
// dB of treble; lines are those that may be joined: places at rest by their x, and each turn of
// the screw by itself, since backlash parts the two directions; ride is the line that the
// pointer rides on, the fitted curve if there is one.
export function curve(steps, hand, decision = null) {
  const points = [];
  for (const s of steps) {
    const r = s.reading, x = hand ? handPlace(s) : s.screw_deg;
    if (!r || !Number.isFinite(x) || !(r.treble_db > NOTHING_DB)) continue;
    points.push({
      x, y: r.treble_db, sd: r.treble_sd_db > 0 && r.treble_sd_db < 30 ? r.treble_sd_db : null, phase: s.phase, n: s.n, way: String(s.from_home) + s.phase,
      turning: Boolean(s.turning), usable: r.usable !== false, home: s.from_home !== false, tilt: r.tilt_arcmin, delay: r.delay_us, period: periodArcmin(r),
    });
  }
  if (hand) ontoOptimum(points, decision);
  const rest = points.filter(p => p.usable && !p.turning && p.home).sort((a, b) => a.x - b.x);
  const lines = hand ? [] : passes(points);
  if (rest.length > 1) lines.push(rest);
  const fitted = (decision?.curve ?? []).map(c => ({ x: hand ? c.tilt_arcmin : c.screw_deg, y: c.treble_db })).filter(c => Number.isFinite(c.x)).sort((a, b) => a.x - b.x);
  const newest = lines[lines.length - 1];
  return { points, lines, fitted, ride: fitted.length > 1 ? fitted : newest ? newest.slice().sort((a, b) => a.x - b.x) : [] };
}


// passes are the turns of the screw in one direction, in the order of time.
function passes(points) {
  const list = [];
  let last = null;
  for (const p of points) {
    if (!p.turning || !p.usable) { last = null; continue; }
    if (last && last.way === p.way) list[list.length - 1].push(p);
    else list.push([p]);
    last = p;
  }
  return list.filter(l => l.length > 1);
}

const perMicrosecond = r => r.delay_us ? r.tilt_arcmin / r.delay_us : NaN;
const periodArcmin = r => r.delay_period_us > 0 ? Math.abs(r.delay_period_us * perMicrosecond(r)) : 0;

// handPlace is the tilt of a step by hand, with the periods of a tone counted.
function handPlace(step) {
  const r = step.reading ?? {};
  if (Number.isFinite(step.x_arcmin)) return step.x_arcmin;
  if (!(r.delay_period_us > 0)) return r.tilt_arcmin;
  return r.delay_tracked_us ? r.delay_tracked_us * perMicrosecond(r) : NaN;
}

// ontoOptimum moves the counted tilts by whole periods so that the brightest lie at the optimum.
function ontoOptimum(points, decision) {
  const best = decision?.optimum?.tilt_arcmin, bright = points.filter(p => p.usable && p.period > 0).sort((a, b) => b.y - a.y).slice(0, 9);
  if (!Number.isFinite(best) || !bright.length) return;
  const middle = bright.map(p => p.x).sort((a, b) => a - b)[bright.length >> 1], period = bright[0].period;
  const by = Math.round((best - middle) / period) * period;
  for (const p of points) p.x += by;
}

// spots are the places of a decision on the axis of the curve.
export function spots(decision, hand) {
  if (!decision) return {};
  const at = e => !e ? null : hand ? e.tilt_arcmin ?? null : e.deg ?? null;
  const known = v => Number.isFinite(v) ? v : null;
  const optimum = decision.optimum?.ok === false ? null : known(at(decision.optimum));
  const perUnit = hand ? 1 : Math.abs(decision.gearing_arcmin_per_turn || 0) / 360;
  const sd = known(decision.optimum?.sd_arcmin);
  return {
    low: known(hand ? decision.low_edge_arcmin : decision.low_edge_deg),
    high: known(hand ? decision.high_edge_arcmin : decision.high_edge_deg),
    optimum, within: optimum !== null && sd !== null && perUnit > 0 ? 2 * sd / perUnit : null,
    arcminPerDeg: hand ? null : (decision.gearing_arcmin_per_turn || 0) / 360 || null, zero: hand || decision.delay_zero?.ok === false ? null : known(decision.delay_zero?.deg),
  };
}

// timeLeft counts down between two states, and stands still while the run waits.
export function timeLeft(state, heardMs, nowMs) {
  if (!state || !Number.isFinite(state.seconds_left)) return null;
  const waits = state.paused || state.question;
  return Math.max(0, state.seconds_left - (waits ? 0 : (nowMs - heardMs) / 1000));
}

// paragraphs parts the text of a question: lines that begin with a hyphen are a list.
export function paragraphs(text) {
  const parts = [];
  for (const line of (text ?? '').split('\n')) {
    const item = line.match(/^\s*-\s+(.*)$/);
    const last = parts[parts.length - 1];
    if (item && last?.list) last.list.push(item[1]);
    else if (item) parts.push({ list: [item[1]] });
    else if (line.trim()) parts.push({ text: line.trim() });
  }
  return parts;
}
