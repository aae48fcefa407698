// Trace: the treble curve of a head as it is heard while somebody turns it, in cells of tilt.
// Each cell holds the mean of its last readings, so that the curve follows a tape whose level
// drifts. Pure.

export class Trace {
  constructor(cellArcmin = 0.5, most = 20) {
    Object.assign(this, { cellArcmin, most, cells: new Map() });
  }

  add(tiltArcmin, trebleDB) {
    if (!Number.isFinite(tiltArcmin) || !Number.isFinite(trebleDB) || Math.abs(tiltArcmin) > 300) return false;
    const key = Math.round(tiltArcmin / this.cellArcmin);
    const cell = this.cells.get(key) ?? { n: 0, y: 0 };
    cell.n = Math.min(cell.n + 1, this.most);
    cell.y += (trebleDB - cell.y) / cell.n;
    this.cells.set(key, cell);
    return true;
  }

  points() {
    return [...this.cells].map(([key, c]) => ({ x: key * this.cellArcmin, y: c.y })).sort((a, b) => a.x - b.x);
  }

  clear() { this.cells.clear(); }
}

// unfolded returns the tilt of this instant. A tone gives it only to whole periods: the one
// nearest to the last is taken, and in the beginning that of the counted delay.
export function unfolded(h, last) {
  const live = h.live_tilt_arcmin, period = h.tilt_period_arcmin;
  if (!Number.isFinite(live)) return null;
  if (!(period > 0)) return live;
  let near = last;
  if (!Number.isFinite(near)) {
    const turns = (h.delay_counted_us - h.delay_us) / h.delay_period_us;
    near = live + (Number.isFinite(turns) ? Math.round(turns) * period : 0);
  }
  return live + Math.round((near - live) / period) * period;
}
