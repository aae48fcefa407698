package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"headtrue/sweep/logbook"
	"headtrue/sweep/study/report"
)

// Clock supplies the time now, and a wait until a given time.
type Clock struct {
	Now   func() time.Time
	Until func(context.Context, time.Time) error
}

// WallClock reads the time again at least once a minute while it waits, since the machine
// may sleep or its clock may be set.
var WallClock = Clock{time.Now, func(ctx context.Context, t time.Time) error {
	for {
		left := time.Until(t.Round(0))
		if left <= 0 {
			return nil
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(min(left, time.Minute)):
		}
	}
}}

// Schedule is the plan of a drift study, kept as studies/NAME.json: when its points are due,
// and what to do at each.
type Schedule struct {
	Study        string    `json:"study"`
	FirstDue     time.Time `json:"first_due"`
	EverySeconds float64   `json:"every_s"`
	Points       int       `json:"points"`
	Turn         bool      `json:"turn"`
	StartCommand string    `json:"start_command"`
	StopCommand  string    `json:"stop_command"`
}

func (s Schedule) every() time.Duration {
	return time.Duration(s.EverySeconds * float64(time.Second))
}

// Due is when point n is due; the first has number 1.
func (s Schedule) Due(n int) time.Time { return s.FirstDue.Add(time.Duration(n-1) * s.every()) }

// Late is the last time at which point n may still be measured.
func (s Schedule) Late(n int) time.Time { return s.Due(n).Add(s.every() / 4) }

// Keep writes the plan of a new study.
func (s Schedule) Keep(folder string) error {
	text, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return err
	}
	return keepPlan(planFile(folder, s.Study, ".json"), string(text)+"\n")
}

// ReadSchedule reads the plan of a drift study; there is false if the study has no plan yet.
func ReadSchedule(folder, name string) (s Schedule, there bool, err error) {
	file := planFile(folder, name, ".json")
	text, err := os.ReadFile(file)
	if errors.Is(err, os.ErrNotExist) {
		return s, false, nil
	}
	if err == nil {
		err = json.Unmarshal(text, &s)
	}
	if err == nil && (s.Study != name || s.EverySeconds < 1 || s.Points < 1 || s.FirstDue.IsZero()) {
		err = errors.New("study, first_due, every_s and points are needed")
	}
	if err != nil {
		return s, false, Wrong("the plan %s: %w", file, err)
	}
	return s, true, nil
}

// follow goes through the remaining points of a schedule, each at its time. It reports and
// omits the points that were due while the program did not run.
func (s Schedule) follow(ctx context.Context, c Clock, done map[int]logbook.Summary, tell func(string, ...any), measure func(n int) error) error {
	for n := 1; n <= s.Points; n++ {
		if _, there := done[n]; there {
			continue
		}
		if c.Now().Before(s.Due(n)) {
			tell("point %d of %d is due %s", n, s.Points, report.AtMinute(s.Due(n)))
		}
		if err := c.Until(ctx, s.Due(n)); err != nil {
			return err
		}
		if c.Now().After(s.Late(n)) { // the machine or the program was off or asleep
			tell("point %d of %d, due %s, was missed: headtrue was not running", n, s.Points, report.AtMinute(s.Due(n)))
			continue
		}
		if err := measure(n); err != nil {
			return err
		}
	}
	return nil
}

// PointsOf returns the runs of a drift study by point number.
func PointsOf(ctx context.Context, b *logbook.Book, name string) (map[int]logbook.Summary, error) {
	all := map[int]logbook.Summary{}
	for s, err := range b.List(ctx, logbook.Filter{Study: name, OldestFirst: true}) {
		if err != nil {
			return nil, err
		}
		if s.Command == CommandDrift || s.Command == CommandSearch {
			all[s.Trial] = s
		}
	}
	return all, nil
}

func (s Schedule) String() string {
	every := strings.NewReplacer("h0m0s", "h", "m0s", "m").Replace(s.every().String())
	return fmt.Sprintf("%d points, one every %s, %s to %s", s.Points, every, report.AtMinute(s.Due(1)), report.AtMinute(s.Due(s.Points)))
}

// Instant reads a day, or a time, in local time; an empty text is the zero time.
func Instant(flag, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	for _, layout := range []string{time.DateOnly, "2006-01-02T15:04", "2006-01-02 15:04", "2006-01-02T15:04:05"} {
		if t, err := time.ParseInLocation(layout, text, time.Local); err == nil {
			return t, nil
		}
	}
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	return time.Time{}, Wrong("--%s %q: a day is written 2026-11-27, a moment 2026-11-27T08:30", flag, text)
}
