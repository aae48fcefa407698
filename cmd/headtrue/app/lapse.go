package app

import (
	"context"
	"time"

	"headtrue/sweep/record"
)

// Lapse lets weeks pass at a virtual bench in a minute: its clock jumps from point to point,
// and the deck ages by the days of the bench's profile.
type Lapse struct{ now, begun time.Time }

// NewLapse returns a lapse that begins at a time.
func NewLapse(begun time.Time) *Lapse { return &Lapse{begun, begun} }

// GoOn moves the beginning to that of a study that goes on.
func (l *Lapse) GoOn(begun time.Time) { l.now, l.begun = begun, begun }

// Clock is the clock of the lapse.
func (l *Lapse) Clock() Clock {
	return Clock{Now: func() time.Time { return l.now }, Until: func(ctx context.Context, t time.Time) error {
		if t.After(l.now) {
			l.now = t
		}
		return ctx.Err()
	}}
}

// age gives a job the deck and the air of the day.
func (l *Lapse) age(j *Job) {
	var roomC float64
	j.Bench, roomC = j.Bench.OnDay(l.now.Sub(l.begun).Hours() / 24)
	j.air = &record.Ambient{TemperatureC: &roomC, From: "the virtual bench"}
}
