// Cues plays the guiding tones in the browser. A browser lets a page sound only after a touch,
// so start() belongs into the handler of one.

export class Cues {
  constructor() {
    this.context = null;
    this.node = null;
    this.on = false;
  }

  async start() {
    if (!this.context) {
      this.context = new AudioContext({ latencyHint: 'interactive' });
      await this.context.audioWorklet.addModule(new URL('worklet.js', import.meta.url));
      this.node = new AudioWorkletNode(this.context, 'cue', { numberOfInputs: 0, outputChannelCount: [1] });
      this.node.connect(this.context.destination);
    }
    await this.context.resume();
    this.on = true;
  }

  stop() {
    this.on = false;
    this.node?.port.postMessage(null);
    this.context?.suspend();
  }

  // guide makes a request sound; without a further one within a second the sound ends.
  guide(act, isNew, off, tolerance) {
    if (this.on) this.node?.port.postMessage({ act, isNew, off, tolerance });
  }

  silence() { this.node?.port.postMessage(null); }
}
