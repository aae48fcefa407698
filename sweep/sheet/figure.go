package sheet

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"headtrue/sweep/figures"
	"headtrue/sweep/sheet/table"
)

// Figure is a plot, as data: what is drawn at which position, and the names of the axes.
// draw.go draws it, for every kind of page alike.
type Figure struct {
	x, y    string // names of the axes, with units
	lines   []line
	points  []points
	bands   []band
	marks   []mark
	above   *secondAxis
	note    string
	columns func(low, high float64) []tick // ticks of the x axis, if they are no plain numbers
	margins *xy                            // least margins around the data; nil for those of a screw
	missed  []float64                      // places on the x axis without a point
}

// line is a curve; its name is empty if the legend does not have it.
type line struct {
	name string
	look lineLook
	xys  []xy
}

type lineLook int

const (
	firstLook  lineLook = iota
	secondLook          // of the second of two runs
	limitLook
	middleLook
	barLook
)

// points are measured positions that look alike.
type points struct {
	name string
	look pointLook
	xys  []xy
	bars []float64 // half of a bar of 95 %; zero if not drawn
}

type pointLook int

const (
	homeLook pointLook = iota
	awayLook           // arrived from the side opposite to home
	secondHomeLook
	secondAwayLook
	brokenLook // breaks a rule
)

// band is the area between a lower and an upper curve over the same places.
type band struct {
	name      string
	low, high []xy
}

// add adds a point. Points heard while turning get no bars: there are too many of them.
func (s *points) add(x, y, sd float64, turning bool) {
	if turning || sd >= unknownSD {
		sd = 0
	}
	s.xys = append(s.xys, xy{X: x, Y: y})
	s.bars = append(s.bars, figures.Coverage*sd)
}

// secondAxis is the screw of a second run, above the plot: its angle is the angle of the
// first less shift.
type secondAxis struct {
	name  string
	shift float64
}

// trebleFigure is the treble over the screw, with the results derived from it.
func trebleFigure(p parts) *Figure {
	f := &Figure{x: p.axis.Name(), y: trebleAxis(p), marks: marksOf(p)}
	f.addTreble(p, "", unchanged, false)
	f.cut()
	if p.byHand && table.HasPeriod(p.steps) {
		f.note = strings.TrimSpace(f.note + " Whole periods of the tone are those with which the level fits the curve; places that fit none are left out.")
	}
	return f
}

func trebleAxis(p parts) string {
	if table.HasPeriod(p.steps) {
		return "tone level, dBFS"
	}
	return "treble, dB"
}

func unchanged(at float64) float64 { return at }

// addTreble adds the curve and the measured points of a run; to is where a place of its axis lies.
func (f *Figure) addTreble(p parts, of string, to func(float64) float64, second bool) {
	home, away := points{name: of + "from home"}, points{name: of + "from away", look: awayLook}
	curve := firstLook
	if second {
		home.look, away.look, curve = secondHomeLook, secondAwayLook, secondLook
	}
	if p.byHand {
		home.name = of + "measured"
	}
	for i, s := range p.steps {
		set := &away
		if s.FromHome || p.byHand {
			set = &home
		}
		if at, ok := p.axis.Step(i); ok {
			set.add(to(at), s.Reading.TrebleDB, s.Reading.TrebleSDDB, s.Turning)
		}
	}
	f.points = append(f.points, home, away)
	if p.decision == nil || len(p.decision.Curve) == 0 {
		return
	}
	fit := line{name: of + "fitted", look: curve}
	for _, c := range p.axis.MainLobe() {
		fit.xys = append(fit.xys, xy{X: to(c.At), Y: c.DB})
	}
	f.lines = append(f.lines, fit)
}

// cut raises the values that are too far below the top to be useful.
func (f *Figure) cut() {
	top := math.Inf(-1)
	for _, set := range f.points {
		for _, xy := range set.xys {
			top = max(top, xy.Y)
		}
	}
	floor, cutOff := top-plotDB, false // lower values are drawn at the floor
	raise := func(xys []xy) {
		for i := range xys {
			if xys[i].Y < floor {
				xys[i].Y, cutOff = floor, true
			}
		}
	}
	for _, set := range f.points {
		raise(set.xys)
	}
	for _, l := range f.lines {
		raise(l.xys)
	}
	if cutOff {
		f.note = "What lies lower is drawn at the lower edge."
	}
	f.tellBars()
}

// tellBars explains the bars if there are any.
func (f *Figure) tellBars() {
	for _, set := range f.points {
		for _, bar := range set.bars {
			if bar > 0 {
				f.note = strings.TrimSpace(f.note + " Bars are 95 %.")
				return
			}
		}
	}
}

// delayFigure is the delay over the screw, with the line given by gearing and delay zero.
func delayFigure(p parts) *Figure {
	f := &Figure{x: p.axis.Name(), y: "delay, µs"}
	at, usPerDeg, ok := delayLine(p)
	home := points{name: "from home"}
	away := points{name: "from away", look: awayLook}
	low, high := math.Inf(-1), math.Inf(1)
	if lowEdge, highEdge, edges := p.axis.Edges(); ok && edges && table.HasPeriod(p.steps) {
		beyond := (highEdge - lowEdge) / 2
		low, high = lowEdge-beyond, highEdge+beyond
		f.note = "Whole periods of the tone are added so that each place lies nearest the line; far places are left out."
	}
	x0, x1 := math.Inf(1), math.Inf(-1)
	for i, s := range p.steps {
		r := s.Reading
		deg, known := p.axis.Step(i)
		if !known || deg < low || deg > high || r.Coherence <= 0 {
			continue
		}
		us := r.DelayTrackedUS
		if r.DelayPeriodUS > 0 && ok {
			expect := at + usPerDeg*deg
			us = expect + math.Remainder(r.DelayUS-expect, r.DelayPeriodUS)
		}
		set := &away
		if s.FromHome {
			set = &home
		}
		set.add(deg, us, r.DelaySDUS, s.Turning)
		x0, x1 = min(x0, deg), max(x1, deg)
	}
	f.points = []points{home, away}
	f.tellBars()
	if ok && x0 < x1 {
		f.lines = []line{{name: "gearing", xys: []xy{{X: x0, Y: at + usPerDeg*x0}, {X: x1, Y: at + usPerDeg*x1}}}}
		z := p.decision.DelayZero.Deg
		f.marks = []mark{{z, fmt.Sprintf("delay zero %+.1f", z), optimum}}
	}
	return f
}

// delayLine is the delay at zero degrees and its change per degree: it passes through the
// given fixed delay at delay zero, with the slope of the gearing.
func delayLine(p parts) (at, usPerDeg float64, ok bool) {
	d := p.decision
	if d == nil || p.start == nil || p.figures.Gearing == nil {
		return 0, 0, false
	}
	zero, ok := p.axis.Estimate(d.DelayZero)
	if !ok {
		return 0, 0, false
	}
	for _, s := range p.steps {
		if r := s.Reading; r.TiltArcmin != 0 {
			usPerDeg = r.DelayUS / r.TiltArcmin * d.GearingArcminPerTurn / 360
			break
		}
	}
	fixed, err := strconv.ParseFloat(p.start.Settings["channel_delay_us"], 64)
	if err != nil {
		fixed = 0
	}
	return fixed - usPerDeg*zero, usPerDeg, usPerDeg != 0
}

// extent is the range of everything that is drawn, with a margin.
func (f *Figure) extent() (x0, x1, y0, y1 float64) {
	x0, x1, y0, y1 = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	widen := func(xys []xy) {
		for _, xy := range xys {
			x0, x1 = min(x0, xy.X), max(x1, xy.X)
			y0, y1 = min(y0, xy.Y), max(y1, xy.Y)
		}
	}
	for _, set := range f.points {
		widen(set.xys)
		if f.margins != nil { // with the bars
			for i, p := range set.xys {
				widen([]xy{{p.X, p.Y - set.bars[i]}, {p.X, p.Y + set.bars[i]}})
			}
		}
	}
	for _, l := range f.lines {
		widen(l.xys)
	}
	for _, b := range f.bands {
		widen(b.low)
		widen(b.high)
	}
	if x0 > x1 {
		x0, x1, y0, y1 = -1, 1, -1, 1
	}
	for _, m := range f.marks {
		x0, x1 = min(x0, m.at), max(x1, m.at)
	}
	for _, x := range f.missed {
		x0, x1 = min(x0, x), max(x1, x)
	}
	least := xy{1, 0.5}
	if f.margins != nil {
		least = *f.margins
	}
	around := func(a, b, least float64) (float64, float64) {
		d := max((b-a)*0.04, least)
		return a - d, b + d
	}
	x0, x1 = around(x0, x1, least.X)
	y0, y1 = around(y0, y1, least.Y)
	return x0, x1, y0, y1
}

// stepOf is a round step that divides a range into about the given number of parts.
func stepOf(width float64, parts int) float64 {
	rough := width / float64(parts)
	power := math.Pow(10, math.Floor(math.Log10(rough)))
	for _, m := range []float64{1, 2, 2.5, 5} {
		if m*power >= rough {
			return m * power
		}
	}
	return 10 * power
}
