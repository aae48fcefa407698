package sheet

import (
	"cmp"
	"math"
	"time"
)

// Graph is a plot over time, over a number or over named places, for the pages of studies.
type Graph struct {
	X, Y string // names of the axes, with units
	// DayZero is the instant of X 0 if X counts days: then the axis shows dates.
	DayZero time.Time
	// Names are those of the places 0, 1, 2 ... of X, if it counts places.
	Names []string

	DotName string // in the legend; "" is measured
	Dots    []Dot
	Curves  []Curve
	Bands   []Band
	Bars    []Bar
	Marks   []Mark
	Missed  []float64 // places of X without a point
	Note    string
}

// Dot is a measured point; Broken marks one that breaks a rule. SD is zero if it is not drawn.
type Dot struct {
	X, Y, SD float64
	Broken   bool
}

// Curve is a line through places: a law, a limit or a middle.
type Curve struct {
	Name string
	Kind CurveKind
	X, Y []float64
}

// CurveKind is what a curve shows.
type CurveKind int

const (
	Law CurveKind = iota
	Limit
	Middle
)

// Band is the area between two curves over the same places.
type Band struct {
	Name         string
	X, Low, High []float64
}

// Bar is an upright line at a place.
type Bar struct{ X, Low, High float64 }

// Mark is an upright line with a name above the plot; a shift is dotted.
type Mark struct {
	X     float64
	Name  string
	Shift bool
}

// Figure returns the figure of the graph.
func (g Graph) Figure() *Figure {
	f := &Figure{x: g.X, y: g.Y, note: g.Note, missed: g.Missed, margins: &xy{1e-3, 1e-3}}
	if g.Names != nil {
		f.margins = &xy{0.5, 1e-3}
		f.columns = func(low, high float64) []tick { return namedTicks(g.Names, low, high) }
	}
	if !g.DayZero.IsZero() {
		f.columns = func(low, high float64) []tick { return dateTicks(g.DayZero, low, high) }
	}
	for _, b := range g.Bands {
		f.bands = append(f.bands, band{b.Name, paired(b.X, b.Low), paired(b.X, b.High)})
	}
	for _, c := range g.Curves {
		f.lines = append(f.lines, line{c.Name, [...]lineLook{firstLook, limitLook, middleLook}[c.Kind], paired(c.X, c.Y)})
	}
	for i, b := range g.Bars {
		name := ""
		if i == 0 {
			name = "95 %"
		}
		f.lines = append(f.lines, line{name, barLook, []xy{{b.X, b.Low}, {b.X, b.High}}})
	}
	plain, broken := points{name: cmp.Or(g.DotName, "measured")}, points{name: "breaks a rule", look: brokenLook}
	for _, d := range g.Dots {
		set := &plain
		if d.Broken {
			set = &broken
		}
		set.add(d.X, d.Y, d.SD, false)
	}
	f.points = []points{plain, broken}
	for _, m := range g.Marks {
		kind := asFound
		if m.Shift {
			kind = dullEdge
		}
		f.marks = append(f.marks, mark{m.X, m.Name, kind})
	}
	f.tellBars()
	return f
}

func paired(x, y []float64) []xy {
	all := make([]xy, len(x))
	for i := range x {
		all[i] = xy{x[i], y[i]}
	}
	return all
}

func namedTicks(names []string, low, high float64) []tick {
	var list []tick
	for i, name := range names {
		if at := float64(i); at >= low && at <= high {
			list = append(list, tick{at, name})
		}
	}
	return list
}

// dateSteps are the distances of dates on an axis, and how they are written.
var dateSteps = []struct {
	days   float64
	layout string
}{
	{1. / 24 / 60, "15:04"}, {1. / 24 / 12, "15:04"}, {1. / 24 / 4, "15:04"}, {1. / 24, "15:04"}, {1. / 8, "2 Jan 15:04"}, {1. / 4, "2 Jan 15:04"},
	{1. / 2, "2 Jan 15:04"}, {1, "2 Jan"}, {2, "2 Jan"}, {7, "2 Jan"}, {14, "2 Jan"}, {28, "2 Jan 2006"}, {91, "2 Jan 2006"}, {364, "2 Jan 2006"},
}

// dateTicks are dates at whole minutes, hours or days by the clock of the bench; X counts days
// from an instant.
func dateTicks(zero time.Time, low, high float64) []tick {
	const most = 9
	step := dateSteps[len(dateSteps)-1]
	for _, s := range dateSteps {
		if (high-low)/s.days <= most {
			step = s
			break
		}
	}
	local := zero.Local()
	midnight := time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, time.Local)
	start := midnight.Sub(zero).Hours() / 24
	var list []tick
	for i := math.Ceil((low - start) / step.days); ; i++ {
		at := start + i*step.days
		if at > high {
			return list
		}
		when := zero.Add(time.Duration(at * 24 * float64(time.Hour))).Round(time.Minute)
		list = append(list, tick{at, when.Local().Format(step.layout)})
	}
}
