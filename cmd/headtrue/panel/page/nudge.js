// Hold to turn: the one meaning of the space bar. It ends on release, lost focus, a hidden page
// or a lost connection; the program ends it as well if it is not renewed.

export const RENEW_MS = 60; // the program waits 200

export class Nudge {
  // link sends; allowed() reports whether something may be turned now; changed(turning) shows it.
  constructor(link, allowed, changed, { every = (f, ms) => setInterval(f, ms), never = n => clearInterval(n) } = {}) {
    Object.assign(this, { link, allowed, changed, every, never });
    this.direction = 1;
    this.timer = null;
    this.by = null;
  }

  get turning() { return this.timer !== null; }

  // begin turns for as long as by ("key" or "pointer") holds.
  begin(by) {
    if (this.turning || !this.allowed()) return;
    this.by = by;
    this.timer = this.every(() => this.renew(), RENEW_MS);
    this.changed(true);
    this.renew();
  }

  renew() {
    if (!this.allowed() || !this.link.hold(this.direction)) this.end();
  }

  // end stops; with by only if that is what holds.
  end(by) {
    if (!this.turning || by && by !== this.by) return;
    this.never(this.timer);
    this.timer = null;
    this.by = null;
    this.link.letGo();
    this.changed(false);
  }

  turn(direction) {
    if (this.turning && direction !== this.direction) this.end();
    this.direction = direction;
  }
}

const typing = el => el && (el.isContentEditable || el.tagName === 'TEXTAREA' ||
  el.tagName === 'INPUT' && !['button', 'submit', 'checkbox', 'radio', 'file'].includes(el.type));

// listen connects keys and the page's own coming and going. Space writes a blank in a text
// field, and turns elsewhere; it presses no button and scrolls nothing. On STOP itself it turns
// nothing: app.js has it stop.
export function listen(nudge) {
  addEventListener('keydown', e => {
    if (e.code !== 'Space' || typing(e.target) || e.target.id === 'stop') return;
    e.preventDefault();
    if (!e.repeat) nudge.begin('key');
  }, true);
  addEventListener('keyup', e => {
    if (e.code !== 'Space') return;
    if (!typing(e.target)) e.preventDefault();
    nudge.end('key');
  }, true);
  addEventListener('focusin', e => { if (typing(e.target)) nudge.end('key'); });
  addEventListener('blur', () => nudge.end());
  addEventListener('pagehide', () => nudge.end());
  document.addEventListener('visibilitychange', () => { if (document.hidden) nudge.end(); });
}

// hold connects a button that turns while a finger or a mouse is on it.
export function hold(button, nudge) {
  button.addEventListener('pointerdown', e => {
    if (e.button !== 0) return;
    e.preventDefault();
    button.focus();
    try { button.setPointerCapture(e.pointerId); } catch { /* the pointer is gone already */ }
    nudge.begin('pointer');
  });
  for (const kind of ['pointerup', 'pointercancel', 'lostpointercapture']) button.addEventListener(kind, () => nudge.end('pointer'));
  button.addEventListener('contextmenu', e => e.preventDefault());
}
