package sweep

import (
	"context"
	"math"
	"slices"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/search"
	"headtrue/sweep/tape"
)

// While the sound corrects the position, it is read at most homeTries times. A distance up to
// homeArcmin stays uncorrected, since two readings of four seconds differ by as much through
// wander; up to mostNearArcmin if a correction would lose the blade's seat in the slot. At one
// tilt, the levels of a tone differ by sameTrebleDB at most. A head that may turn the other way
// is turned by at most probeArcmin first.
const (
	mostNearArcmin = 2
	probeArcmin    = 8
	homeTries      = 6
	homeArcmin     = 0.25
	sameTrebleDB   = 4
)

// homeIn compares the delay with the as-found one and corrects the difference. If the count
// was kept and gives the as-found position, the sound corrects only within its own
// uncertainty: a greater difference is reported, and the screw stays at the place by the
// count. If the backlash was taken up, the count is exact.
func (c *course) homeIn(ctx context.Context, past AsFoundBaseline, counts bool) (restoreCheck, error) {
	want := past.heard()
	if want == nil || !estimate.DelayUsable(*want) {
		return restoreCheck{}, nil
	}
	way := wayChecked{tape: c.Plan.Tape}
	way.perDeg, way.signKnown = c.gearingOf(past)
	way.measured = way.signKnown && (c.back == nil || c.back.perDeg == 0)
	exact := counts && past.Found.SlackTakenUp
	counted := c.ScrewDeg
	var h restoreCheck
	for try := 0; ; try++ {
		r, err := c.Listen(ctx, c.Plan.ProofSeconds)
		switch {
		case err != nil:
			return restoreCheck{}, err
		case !estimate.DelayUsable(r) && counts: // an earlier correction cannot be confirmed
			return restoreCheck{}, c.stayAt(ctx, counted)
		case !estimate.DelayUsable(r):
			return restoreCheck{}, nil
		}
		now := estimate.TiltBetween(c.Plan.Tape, r, *want)
		if way.unmoved(c.ScrewDeg, now, c.FromHome(), estimate.TiltSD(c.Plan.Tape, r, *want), r) {
			return restoreCheck{off: now, sd: past.homeSD(c.Plan.Tape, r), heard: unmoved, reading: &r}, nil
		}
		way.add(c.ScrewDeg, now, c.FromHome(), estimate.TiltSD(c.Plan.Tape, r, *want), r)
		if c.back != nil && way.signKnown && !way.measured {
			c.back.perDeg = way.perDeg
		}
		target, perDeg := homeTarget(way.seen, way.perDeg), way.perDeg
		h = restoreCheck{off: (c.ScrewDeg - target) * perDeg, sd: past.homeSD(c.Plan.Tape, r), heard: alike, reading: &r,
			offDeg: c.ScrewDeg - target, sdDeg: past.homeSD(c.Plan.Tape, r) / math.Abs(perDeg)}
		c.Tell("restore", "%.2f' from as found", h.off)
		if try == 0 && counts {
			c.NoteLostSteps(h.off, h.sd, perDeg)
		}
		if off := (counted - target) * perDeg; counts && math.Abs(off) > c.believed(past, h.sd, perDeg) {
			h.off, h.heard = off, contrary
			return h, c.stayAt(ctx, counted)
		}
		near := homeArcmin
		if c.back != nil && c.Trip == nil { // nothing was turned, and a turn would cost the seat in the slot
			near = max(near, min(h.sd, mostNearArcmin))
		}
		if exact || math.Abs(h.off) < near || try == homeTries-1 {
			if r.DelayPeriodUS > 0 && !past.levelsVoid() && h.unlike(want) > sameTrebleDB {
				h.heard = different
			}
			h.leapt = counts && r.DelayPeriodUS > 0 && math.Abs((counted-target)*perDeg) > estimate.PeriodOf(c.Plan.Tape, r)/4
			return h, nil
		}
		if err := c.GoTo(ctx, c.homeward(target, way, r), true); err != nil {
			return restoreCheck{}, err
		}
	}
}

// homeward limits the next turn to a place: a short one before the sign of the gearing is
// known and, in a restore, within the window.
func (c *course) homeward(target float64, way wayChecked, r record.Reading) float64 {
	if !way.signKnown {
		most := probeArcmin / math.Abs(way.perDeg)
		if r.DelayPeriodUS > 0 { // a quarter of a period best separates the two directions
			most = estimate.PeriodOf(c.Plan.Tape, r) / 4 / math.Abs(way.perDeg)
		}
		target = max(c.ScrewDeg-most, min(target, c.ScrewDeg+most))
	}
	if c.back == nil {
		return target
	}
	return max(-c.windowDeg, min(target, c.windowDeg))
}

// wayChecked holds the readings at the places of a way home and the gearing by them, arcmin
// per degree.
type wayChecked struct {
	tape      tape.Format
	seen      []search.OffAt
	fromHome  bool // the last place was reached from the home side
	perDeg    float64
	signKnown bool
	measured  bool // the gearing was measured by a run
}

// unmoved reports whether the head stayed at its tilt from any earlier place to this one. It
// compares only places reached from the home side: else the backlash lies between.
func (w *wayChecked) unmoved(deg, off float64, fromHome bool, sd float64, r record.Reading) bool {
	return w.fromHome && fromHome && slices.ContainsFunc(w.seen, func(s search.OffAt) bool {
		return s.UnmovedAt(deg, off, w.perDeg, sd, estimate.PeriodOf(w.tape, r))
	})
}

// add adds a place. The way to it shows the sign of the gearing if that is not known, and
// the period of a tone in which the reading lies.
func (w *wayChecked) add(deg, off float64, fromHome bool, sd float64, r record.Reading) {
	const clearArcmin, clearSDs = 1, 2
	n := len(w.seen)
	if n == 0 || !w.fromHome || !fromHome {
		if n > 0 && !w.signKnown { // the way was short, in either direction
			off = w.nearestPeriod(off, w.seen[n-1].Off, r)
		}
		w.seen, w.fromHome = []search.OffAt{{Deg: deg, Off: off}}, fromHome
		return
	}
	turned := w.perDeg * (deg - w.seen[0].Deg)
	toward, away := w.seen[0].Off+turned, w.seen[0].Off-turned
	if !w.signKnown && math.Abs(turned) > max(clearArcmin, clearSDs*sd) {
		w.signKnown = true
		if math.Abs(w.nearestPeriod(off, away, r)-away) < math.Abs(w.nearestPeriod(off, toward, r)-toward) {
			w.perDeg = -w.perDeg // it moved away by as much
		}
	}
	last := w.seen[n-1]
	w.seen = append(w.seen, search.OffAt{Deg: deg, Off: w.nearestPeriod(off, last.Off+w.perDeg*(deg-last.Deg), r)})
	w.measure(sd)
}

// measure computes the gearing from the way if it is not known and the way is long enough.
func (w *wayChecked) measure(sd float64) {
	const clearArcmin, clearSDs, most = 3, 8, 2
	first, last := w.seen[0], w.seen[len(w.seen)-1]
	turned := w.perDeg * (last.Deg - first.Deg)
	if ratio := (last.Off - first.Off) / turned; !w.measured && math.Abs(turned) > max(clearArcmin, clearSDs*sd) && ratio > 1.0/most && ratio < most {
		w.perDeg *= ratio
	}
}

// nearestPeriod is the tilt by a reading of a tone, arcmin, in the period nearest to near.
func (w *wayChecked) nearestPeriod(tilt, near float64, r record.Reading) float64 {
	if r.DelayPeriodUS == 0 {
		return tilt
	}
	return near + math.Remainder(tilt-near, estimate.PeriodOf(w.tape, r))
}

// believed is the greatest difference between the sound and a kept count, in arcmin, at
// which the sound corrects the count: the sound's uncertainty (sd) times Contradiction. If
// the backlash is not known, or the tape is that of the run, it is the tilt by the greatest
// backlash, times two because perDeg may not be known well.
func (c *course) believed(past AsFoundBaseline, sd, perDeg float64) float64 {
	sameTape := c.back != nil && c.back.sameTape && !past.Found.SlackTakenUp
	if past.sure() && !sameTape {
		return estimate.Contradiction * sd
	}
	return 2 * estimate.SlackAllowanceDeg * math.Abs(perDeg)
}

// stayAt returns to a place that was left.
func (c *course) stayAt(ctx context.Context, deg float64) error {
	if c.ScrewDeg == deg {
		return nil
	}
	return c.GoTo(ctx, deg, true)
}

// homeTarget returns the place of as found by all readings. The error of music differs
// between readings, so the newest alone would wander. A reading far off has less weight
// because the gearing is not exact.
func homeTarget(seen []search.OffAt, perDeg float64) float64 {
	const farArcmin = 2
	var sum, weights float64
	for _, s := range seen {
		w := 1 / (1 + math.Pow(s.Off/farArcmin, 2))
		sum += w * (s.Deg - s.Off/perDeg)
		weights += w
	}
	return sum / weights
}

// gearingOf returns the gearing in arcmin per degree: as the past run measured it while the
// screw followed, else as the restore did, else as planned, whose sign may be unknown.
func (c *course) gearingOf(past AsFoundBaseline) (perDeg float64, signKnown bool) {
	if d := past.Decision; d != nil && d.GearingArcminPerTurn != 0 && !past.slipped() {
		return d.GearingArcminPerTurn / 360, true
	}
	if c.back != nil && c.back.perDeg != 0 {
		return c.back.perDeg, true
	}
	return c.Plan.GearingArcminPerTurn / 360, c.Plan.GearingSignKnown
}

// likeTrebleDB is the level difference of a tone from as found above which the places a
// whole period away are heard, too.
const likeTrebleDB = 1.5

// foundAgainArcmin is the tilt from as found within which no restore is needed.
const foundAgainArcmin = 1
