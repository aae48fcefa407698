// Link is the connection to the program: it connects, says hello, keeps the order of what is
// sent, and connects anew when it is lost. It decides nothing.

export const PROTOCOL = 'headtrue.panel.1';
export const ORDER_MS = 2000;
export const HOLD_MS = 300;

// ServerClock estimates the server's clock from the stamps of its messages: a message can only
// come late, so that the greatest difference of the newest stamps is the nearest to the truth.
export class ServerClock {
  constructor(kept = 50) {
    this.kept = kept;
    this.differences = [];
  }

  reset() { this.differences = []; }

  heard(serverMs, hereMs) {
    this.differences.push(serverMs - hereMs);
    if (this.differences.length > this.kept) this.differences.shift();
  }

  now(hereMs) {
    return this.differences.length ? Math.round(hereMs + Math.max(...this.differences)) : 0;
  }
}

export class Link {
  // on has message(m) and connected(yes).
  constructor(url, token, on, { socket = WebSocket, now = () => performance.now(), later = (f, ms) => setTimeout(f, ms) } = {}) {
    Object.assign(this, { url, token, on, socket, now, later });
    this.clock = new ServerClock();
    this.ws = null;
    this.open = false;
    this.refusedToken = false;
    this.control = 0;
    this.seq = 0;
    this.stopWaits = false;
  }

  connect() {
    const ws = new this.socket(this.url, PROTOCOL);
    this.ws = ws;
    ws.onopen = () => ws.send(JSON.stringify({ type: 'hello', token: this.token }));
    ws.onmessage = e => this.receive(JSON.parse(e.data));
    ws.onclose = e => {
      if (this.ws !== ws) return;
      this.open = false;
      this.refusedToken = e.code === 4401;
      this.on.connected(false);
      if (!this.refusedToken) this.later(() => this.connect(), this.tried ? 1000 : 0);
      this.tried = true;
    };
  }

  receive(m) {
    if (typeof m.now_ms === 'number') {
      if (m.type === 'hello') this.clock.reset();
      this.clock.heard(m.now_ms, this.now());
    }
    if (m.type === 'hello') {
      this.open = true;
      this.tried = false;
      if (this.stopWaits) this.stop();
      this.on.connected(true);
    }
    if (m.type === 'control' && m.control !== this.control) {
      this.control = m.control;
      this.seq = 0;
    }
    this.on.message(m);
  }

  // send returns whether the message could be sent.
  send(m) {
    if (!this.open || this.ws.readyState !== 1) return false;
    this.ws.send(JSON.stringify(m));
    return true;
  }

  // stop goes out at once; without a connection it goes first on the next one.
  stop() {
    this.stopWaits = !this.send({ type: 'stop' });
    return !this.stopWaits;
  }

  order(what, fields = {}) {
    return this.numbered({ type: 'order', do: what, ...fields }, ORDER_MS);
  }

  hold(direction) { return this.numbered({ type: 'hold', direction }, HOLD_MS); }
  letGo() { return this.send({ type: 'let-go' }); }
  take() { return this.send({ type: 'take' }); }
  give() { return this.send({ type: 'give' }); }

  numbered(m, lastsMs) {
    if (!this.open) return 0;
    const seq = this.seq + 1;
    if (!this.send({ ...m, control: this.control, seq, expires_ms: this.clock.now(this.now()) + lastsMs })) return 0;
    this.seq = seq;
    return seq;
  }
}

// data fetches a path of the read-only data; what is a method of Response.
export async function data(path, token, what = 'json') {
  const answer = await fetch('/data/' + path, { headers: { Authorization: 'Bearer ' + token } });
  if (!answer.ok) {
    const told = await answer.json().catch(() => ({}));
    throw Object.assign(new Error(told.error ?? `${answer.status}`), { do: told.do ?? '' });
  }
  return answer[what]();
}
