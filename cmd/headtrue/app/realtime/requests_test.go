package realtime

import (
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"headtrue/sweep/bench"
	"headtrue/sweep/hand"
	"headtrue/sweep/stream"
)

func TestLinesAreRequests(t *testing.T) {
	for line, want := range map[string]stream.Guidance{
		`{"act":"turn","way":"clockwise","turns":0.125}`: {Act: stream.TurnOn, New: true, Way: stream.Clockwise, Turns: 0.125},
		`{"act":"turn","way":"counter-clockwise"}`:       {Act: stream.TurnOn, New: true, Way: stream.CounterClockwise},
		`{"act":"edge","way":"clockwise"}`:               {Act: stream.Edge, New: true, Way: stream.Clockwise},
		`{"act":"wrong-way","way":"clockwise"}`:          {Act: stream.WrongWay, New: true, Way: stream.Clockwise},
		`{"act":"slower"}`:                               {Act: stream.Slower, New: true},
		`{"act":"mark"}`:                                 {Act: stream.Mark, New: true},
		`{"act":"halfway","way":"clockwise"}`:            {Act: stream.Halfway, New: true, Way: stream.Clockwise},
		`{"act":"hold"}`:                                 {Act: stream.HoldOn, New: true},
		`{"act":"trouble"}`:                              {Act: stream.Trouble, New: true},
		`{"act":"hands-off"}`:                            {Act: stream.HandsOff, New: true},
		`{"act":"optimum"}`:                              {Act: stream.Optimum, New: true},
	} {
		if got, err := readRequest([]byte(line)); err != nil || got != want {
			t.Errorf("%s: %+v, %v", line, got, err)
		}
	}
	for line, says := range map[string]string{
		`turn`:                        "invalid character",
		`{"act":"spin"}`:              `act is "spin"`,
		`{"act":"turn"}`:              `way is ""`,
		`{"act":"edge","way":"left"}`: `way is "left"`,
		`{"act":"turn","way":"clockwise","turns":-1}`:     "must not be negative",
		`{"act":"turn","way":"clockwise","turn":1}`:       `unknown field "turn"`,
		`{"act":"hold"}{"act":"hold"}`:                    "more than one",
		`{"act":"turn","way":"clockwise","turns":"much"}`: "turns",
	} {
		if _, err := readRequest([]byte(line)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v, want %q", line, err, says)
		}
	}
}

// The requests count from the time at which they come; a line that is none is noted, with its
// number, and the next one counts.
func TestAHandObeysLines(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := bench.Default()
		p.Programme = bench.Tones(-20, 10000)
		m := hand.Usual()
		m.TurnErrorPercent, m.TurnErrorDeg = 0, 0
		h := &pacedHand{Hand: hand.New(m, 1)}
		b, err := bench.NewByHand(p, 1, h)
		if err != nil {
			t.Fatal(err)
		}
		r, w := io.Pipe()
		var notes []string
		done := make(chan struct{})
		go func() {
			defer close(done)
			obey(r, h.Hand, func(format string, args ...any) { notes = append(notes, fmt.Sprintf(format, args...)) })
		}()
		begun := time.Now()
		play := func(until time.Duration) bench.Truth {
			for time.Since(begun) < until {
				if _, err := b.Next(t.Context()); err != nil {
					t.Fatal(err)
				}
			}
			return b.Truth()
		}
		if tr := play(2 * time.Second); tr.BladeSeated || tr.Seconds < 2 || tr.Seconds > 2.2 {
			t.Errorf("%+v", tr)
		}
		fmt.Fprintln(w, "\nturn\n"+example)
		if tr := play(2500 * time.Millisecond); tr.BladeSeated {
			t.Errorf("the blade was seated 0.5 s after the request: %+v", tr)
		}
		if tr := play(10 * time.Second); !tr.BladeSeated || tr.ScrewDeg < 44.9 || tr.ScrewDeg > 45.1 {
			t.Errorf("%+v", tr)
		}
		w.Close()
		<-done
		if len(notes) != 1 || !strings.Contains(notes[0], "line 2") || !strings.Contains(notes[0], example) {
			t.Errorf("%q", notes)
		}
	})
}
