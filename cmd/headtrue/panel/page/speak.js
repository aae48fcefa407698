// Speak puts milestones into the page's one live region, one after the other, with time to read
// each. Of sentences of one kind only the newest waits.

export class Speak {
  constructor(show, { gapMs = 1400, later = (f, ms) => setTimeout(f, ms) } = {}) {
    Object.assign(this, { show, gapMs, later });
    this.waiting = [];
    this.busy = false;
  }

  say(words, kind = '') {
    if (!words) return;
    if (kind) this.waiting = this.waiting.filter(w => w.kind !== kind);
    this.waiting.push({ words, kind });
    if (!this.busy) this.next();
  }

  next() {
    const first = this.waiting.shift();
    this.busy = Boolean(first);
    if (!first) return;
    this.show(first.words);
    this.later(() => this.next(), this.gapMs);
  }
}

// spoken are the kinds of events that are milestones; readings and remarks are not.
export const spoken = new Set(['began', 'warned', 'asked', 'guided', 'done', 'ended']);
