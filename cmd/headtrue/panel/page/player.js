// Before and after, to hear: two clips that run side by side, of which one is heard. Switching
// moves only the gains, so that there is no gap. Both were made equally loud by the program.

const FADE_S = 0.012;

export class Player {
  constructor() {
    this.context = null;
    this.clips = [];
    this.gains = [];
    this.sources = [];
    this.heard = 0;
    this.playing = false;
  }

  async load(files) {
    this.context ??= new AudioContext();
    this.clips = await Promise.all(files.map(f => this.context.decodeAudioData(f)));
  }

  get seconds() { return Math.min(...this.clips.map(c => c.duration)); }

  async play() {
    if (this.playing) return;
    await this.context.resume();
    const at = this.context.currentTime + 0.05;
    this.gains = this.clips.map((_, i) => {
      const g = this.context.createGain();
      g.gain.value = i === this.heard ? 1 : 0;
      g.connect(this.context.destination);
      return g;
    });
    this.sources = this.clips.map((clip, i) => {
      const s = this.context.createBufferSource();
      Object.assign(s, { buffer: clip, loop: true, loopEnd: this.seconds });
      s.connect(this.gains[i]);
      s.start(at);
      return s;
    });
    this.playing = true;
  }

  choose(which) {
    this.heard = which;
    const now = this.context?.currentTime ?? 0;
    this.gains.forEach((g, i) => g.gain.setTargetAtTime(i === which ? 1 : 0, now, FADE_S / 3));
  }

  pause() {
    for (const s of this.sources) s.stop();
    for (const g of this.gains) g.disconnect();
    this.sources = [];
    this.gains = [];
    this.playing = false;
  }

  close() {
    this.pause();
    this.context?.close();
    this.context = null;
  }
}

// Blind hides which clip is A, and counts what was preferred.
export class Blind {
  constructor(random = Math.random) {
    this.random = random;
    this.votes = { after: 0, before: 0, same: 0 };
    this.round = 0;
    this.begin();
  }

  begin() {
    this.swapped = this.random() < 0.5;
    this.round++;
  }

  // clip returns the number of the clip behind a letter: 0 is before, 1 after.
  clip(letter) { return (letter === 'a') === this.swapped ? 1 : 0; }

  vote(letter) {
    this.votes[letter === 'same' ? 'same' : this.clip(letter) ? 'after' : 'before']++;
    this.begin();
  }
}
