package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"headtrue/sweep/logbook"
)

// clock is time as it is handed in: the time now, and a wait until another.
type clock struct {
	now   func() time.Time
	until func(context.Context, time.Time) error
}

// wallClock looks at the time again and again, since a machine may sleep, or its
// clock be set, while it waits.
var wallClock = clock{time.Now, func(ctx context.Context, t time.Time) error {
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

// schedule is the plan of a drift study, kept as studies/NAME.json: when its points
// are due, and what is to be done about each.
type schedule struct {
	Study        string    `json:"study"`
	FirstDue     time.Time `json:"first_due"`
	EverySeconds float64   `json:"every_s"`
	Points       int       `json:"points"`
	Turn         bool      `json:"turn"`
	StartCommand string    `json:"start_command"`
	StopCommand  string    `json:"stop_command"`
}

func (s schedule) every() time.Duration {
	return time.Duration(s.EverySeconds * float64(time.Second))
}

// due is when a point is due; the first has number 1.
func (s schedule) due(n int) time.Time { return s.FirstDue.Add(time.Duration(n-1) * s.every()) }

// late is until when a point that was due may still be measured.
func (s schedule) late(n int) time.Time { return s.due(n).Add(s.every() / 4) }

func (s schedule) keep(folder string) error {
	text, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return err
	}
	return keepPlan(planFile(folder, s.Study, ".json"), string(text)+"\n")
}

// readSchedule reads the plan of a drift study; there is false where it has none yet.
func readSchedule(folder, name string) (s schedule, there bool, err error) {
	file := planFile(folder, name, ".json")
	text, err := os.ReadFile(file)
	if errors.Is(err, os.ErrNotExist) {
		return s, false, nil
	}
	if err == nil {
		err = json.Unmarshal(text, &s)
	}
	if err == nil && (s.Study != name || s.EverySeconds < 1 || s.Points < 1 || s.FirstDue.IsZero()) {
		err = errors.New("study, first_due, every_s and points must be there")
	}
	if err != nil {
		return s, false, usage("the plan %s: %w", file, err)
	}
	return s, true, nil
}

// period reads a time such as 6h, 90m or 21d.
func period(flag, text string) (time.Duration, error) {
	d, err := time.ParseDuration(text)
	if days, ok := strings.CutSuffix(text, "d"); ok {
		var n float64
		n, err = strconv.ParseFloat(days, 64)
		d = time.Duration(n * 24 * float64(time.Hour))
	}
	if err != nil || d < time.Minute {
		return 0, usage("--%s %q: a time is written 90m, 6h or 21d, and is a minute or more", flag, text)
	}
	return d, nil
}

// follow goes through the points of a schedule that are still to come, each at its
// time. What was due while nobody was there is told and left out.
func (s schedule) follow(ctx context.Context, c clock, done map[int]logbook.Summary, tell func(string, ...any), measure func(n int) error) error {
	for n := 1; n <= s.Points; n++ {
		if _, there := done[n]; there {
			continue
		}
		if c.now().Before(s.due(n)) {
			tell("point %d of %d is due %s", n, s.Points, atMinute(s.due(n)))
		}
		if err := c.until(ctx, s.due(n)); err != nil {
			return err
		}
		if c.now().After(s.late(n)) { // machine or program was off, or asleep
			tell("point %d of %d, due %s, is missed: headtrue did not run", n, s.Points, atMinute(s.due(n)))
			continue
		}
		if err := measure(n); err != nil {
			return err
		}
	}
	return nil
}

func atMinute(t time.Time) string { return t.Local().Format("2006-01-02 15:04") }

// pointsOf are the runs of a drift study by the numbers of their points.
func pointsOf(ctx context.Context, b *logbook.Book, name string) (map[int]logbook.Summary, error) {
	all := map[int]logbook.Summary{}
	for s, err := range b.List(ctx, logbook.Filter{Study: name, OldestFirst: true}) {
		if err != nil {
			return nil, err
		}
		if s.Command == observeCommand || s.Command == observeTurning {
			all[s.Trial] = s
		}
	}
	return all, nil
}

func (s schedule) String() string {
	every := strings.NewReplacer("h0m0s", "h", "m0s", "m").Replace(s.every().String())
	return fmt.Sprintf("%d points, one every %s, %s to %s", s.Points, every, atMinute(s.due(1)), atMinute(s.due(s.Points)))
}
