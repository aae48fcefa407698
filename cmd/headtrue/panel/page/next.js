// What the one big button does: the next thing to do, by the state of the bench. Pure.
import { controls, doing, running, verdicts } from './model.js';

// next returns {word, act, ...}: word is a name of the catalogue, act what app.js carries out;
// act null means that there is only something to wait for.
export function next(model) {
  if (!model.connected) return { word: 'next.connecting', act: null };
  if (!controls(model)) return { word: 'control.take', act: 'take' };
  const s = model.state;
  if (s?.question) return { word: 'next.answer', act: null };
  if (s?.stopping) return { word: 'next.stopping', act: null };
  if (doing(model) === 'nudge') return { word: 'nudge.hold', act: 'hold' };
  if (running(model)) return s.paused ? { word: 'next.resume', act: 'order', do: 'resume' } : { word: 'next.wait', act: null };
  return afterwards(model) ?? beginning(model);
}

// afterwards is the next thing when a run has ended.
function afterwards(model) {
  const r = model.result;
  if (!r) return null;
  if (r.command === 'align' && !r.good && r.result?.restore_command && model.hello?.can?.restore) {
    return { word: 'next.restore', act: 'order', do: 'restore', fields: { run: r.result.run } };
  }
  if (r.command === 'check') return null;
  return { word: 'next.unit', act: 'unit' };
}

function beginning(model) {
  const can = model.hello?.can ?? {};
  if (!can.jig) return can.by_hand ? { word: 'next.alignByHand', act: 'order', do: 'align', fields: { by_hand: true } } : { word: 'next.listen', act: 'order', do: 'listen' };
  const n = verdicts(model.checks);
  if (!model.checks) return { word: 'next.check', act: 'order', do: 'check' };
  if (n.fail > 0) return { word: 'next.checkAgain', act: 'order', do: 'check' };
  return { word: 'next.align', act: 'order', do: 'align' };
}

// others are the further things that may be begun now, as {do, word, fields}.
export function others(model) {
  const can = model.hello?.can ?? {};
  if (!controls(model) || running(model) || doing(model) === 'nudge') return [];
  const list = [];
  const add = (yes, word, what, fields = {}) => { if (yes) list.push({ word, do: what, fields }); };
  add(can.jig, 'other.check', 'check');
  add(can.jig, 'other.align', 'align');
  add(can.by_hand, 'other.alignByHand', 'align', { by_hand: true });
  add(can.restore && can.jig, 'other.restore', 'restore');
  add(can.restore && can.by_hand, 'other.restoreByHand', 'restore', { by_hand: true });
  add(can.proof, 'other.proof', 'proof');
  add(can.jig, 'other.nudge', 'nudge', { deg: 360, deg_per_s: 15 });
  add(doing(model) === 'nothing', 'other.listen', 'listen');
  add(doing(model) === 'listen', 'other.quiet', 'quiet');
  return list;
}

// stopTells returns the name of the sentence under STOP: it claims no more than the server has said.
export function stopTells(model, waits) {
  if (!model.connected) return waits ? 'stop.notSent' : 'stop.notConnected';
  const s = model.stopped;
  if (!s) return model.motor?.jig && model.motor.moving ? 'stop.turning' : 'stop.ready';
  if (s.state === 'standing' && model.motor?.jig && model.motor.moving) return 'stop.turning';
  return { ordered: 'stop.ordered', standing: 'stop.standing', unsure: 'stop.unsure', 'nothing-moves': 'stop.nothingMoves' }[s.state] ?? 'stop.ordered';
}
