package bench

import "fmt"

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
