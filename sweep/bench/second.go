package bench

import (
	"fmt"
	"math"
)

// Second is a second source in the programme with its own delay between the channels, as
// from spaced microphones or an effect. It is the programme's own loop, both channels
// added, played backwards: spectrum and dynamics are the programme's, but no waveform is
// common to both.
type Second struct {
	// PowerPercent is the power of the second source relative to the first, over both
	// channels and the whole loop; 0 means none.
	PowerPercent float64 `yaml:"power_percent"`
	// DelayUS is its delay in the right channel, in microseconds.
	DelayUS float64 `yaml:"delay_us"`
	// Course is "steady" (the default), "comes_and_goes" (its power rises and falls back
	// to 0) or "moves" (its delay goes from 0 to DelayUS and back). Both follow a raised
	// cosine with PeriodSeconds, rounded to a whole number of periods in the loop.
	Course        string  `yaml:"course"`
	PeriodSeconds float64 `yaml:"period_seconds"`
	// Symmetric splits the power between two such sources; the other starts at another
	// place in the loop and has the opposite delay.
	Symmetric bool `yaml:"symmetric"`
}

var courses = []string{"", "steady", "comes_and_goes", "moves"}

func (s Second) validate(kind string) error {
	if err := oneOf("programme.second.course", s.Course, courses...); err != nil || s.PowerPercent == 0 {
		return err
	}
	if kind != "music" && kind != "wav" {
		return fmt.Errorf("bench profile: programme.second.power_percent is %g with a programme of kind %q: only music and wav can have a second source", s.PowerPercent, kind)
	}
	if s.changes() && s.PeriodSeconds == 0 {
		return fmt.Errorf("bench profile: programme.second.period_seconds is 0: course %q needs one", s.Course)
	}
	return nil
}

func (s Second) changes() bool { return s.Course == "comes_and_goes" || s.Course == "moves" }

// twinPlace is the start of the twin of a symmetric source, as a share of the loop that
// falls on no bar line.
const twinPlace = 0.381966

// addSecond mixes the second source into the programme.
func (m *programme) addSecond(s Second) error {
	if s.PowerPercent == 0 {
		return nil
	}
	first := power(m.left) + power(m.right)
	source, err := m.backwards()
	if err != nil {
		return err
	}
	left, right := make([]float64, len(m.left)), make([]float64, len(m.left))
	source.mix(left, right, s, 0, s.DelayUS)
	if s.Symmetric {
		source.mix(left, right, s, int(twinPlace*float64(len(left))), -s.DelayUS)
	}
	added := power(left) + power(right)
	if added == 0 {
		return nil // silence has no second source
	}
	g := math.Sqrt(s.PowerPercent / 100 * first / added)
	mixed := &programme{left: left, right: right, rate: m.rate}
	for i := range left {
		left[i] = m.left[i] + g*left[i]
		right[i] = m.right[i] + g*right[i]
	}
	*m = *mixed
	return nil
}

// point is a source in both channels, as a table that can be read at any place.
type point struct {
	table *track
	rate  int
}

func (m *programme) backwards() (point, error) {
	n := len(m.left)
	sum := make([]float64, n)
	for i := range sum {
		sum[i] = m.left[n-1-i] + m.right[n-1-i]
	}
	plan, err := newPlan(n, Rate) // equal rates: the number of frames stays
	if err != nil {
		return point{}, err
	}
	coef := plan.forward.Coefficients(nil, sum)
	for k := range coef {
		coef[k] /= complex(float64(n), 0)
	}
	t := &track{n: n * oversampling, m: make([]float64, n*oversampling+2*tablePad)}
	t.fill(coef, plan.backward)
	return point{table: t, rate: m.rate}, nil
}

// mix adds the source to both channels, starting at frame from of its loop.
func (p point) mix(left, right []float64, s Second, from int, delayUS float64) {
	n := len(left)
	cycles := 0.0
	if s.changes() {
		cycles = max(1, math.Round(float64(n)/float64(p.rate)/s.PeriodSeconds))
	}
	perUS := 1e-6 * float64(p.rate*oversampling)
	for i := range n {
		swell := 0.5 - 0.5*math.Cos(2*math.Pi*cycles*float64(i)/float64(n))
		gain, later := 1.0, delayUS*perUS
		switch s.Course {
		case "comes_and_goes":
			gain = math.Sqrt(swell)
		case "moves":
			later *= swell
		}
		u := float64((i + from) % n * oversampling)
		left[i] += gain * p.table.at(u)
		right[i] += gain * p.table.at(u-later)
	}
}

func power(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v * v
	}
	return sum
}
