// The audio worklet of the cue tones.
import { Synth } from './synth.js';

registerProcessor('cue', class extends AudioWorkletProcessor {
  constructor() {
    super();
    this.synth = new Synth(sampleRate, Math.floor(currentTime * 1000) + 1);
    this.port.onmessage = e => e.data ? this.synth.set(e.data) : this.synth.silence();
  }

  process(_, outputs) {
    const [first, ...others] = outputs[0];
    this.synth.render(first);
    for (const o of others) o.set(first);
    return true;
  }
});
