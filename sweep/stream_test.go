package sweep

import (
	"context"
	"encoding/json"
	"math"
	"slices"
	"testing"

	"headtrue/dsp/audio"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
)

// Live readings come 20 to 30 times a second, while the screw turns too, and follow the
// head; the record is the same with and without them.
func TestLiveReadings(t *testing.T) {
	t.Parallel()
	records := map[bool][]byte{}
	for _, live := range []bool{false, true} {
		r := newRig(t, toneBench(), 3, Plan{ToneHz: 10000})
		var heard, turned int
		var widest, last float64
		began := map[string]bool{}
		r.setup.Readings = live
		r.setup.Tell = func(e Event) {
			switch {
			case e.Kind == stream.Began:
				began[e.Phase] = true
			case e.Kind != stream.Heard:
			case e.Reading.Seconds < 0.03 || e.Reading.Seconds > 0.05 || math.IsNaN(e.Reading.ScrewDeg):
				t.Errorf("heard %+v", *e.Reading)
			default:
				heard++
				if math.Abs(e.Reading.ScrewDeg-last) > 1 {
					turned++
				}
				last = e.Reading.ScrewDeg
				widest = max(widest, math.Abs(last))
			}
		}
		end, err := Align(context.Background(), r.setup)
		if err != nil || end.Outcome != record.Aligned {
			t.Fatal(end, err)
		}
		if records[live], err = json.Marshal(r.entries); err != nil {
			t.Fatal(err)
		}
		perSecond := float64(heard) / r.bench.Truth().Seconds
		if live && (perSecond < 20 || perSecond > 30 || turned < 50 || widest < 30) || !live && heard > 0 {
			t.Errorf("live %v: %.1f a second, %d of them in turns up to %.0f degrees", live, perSecond, turned, widest)
		}
		for _, phase := range append(slices.Clone(AlignStages), "end") {
			if !began[phase] {
				t.Errorf("the phase %q was not told to begin", phase)
			}
		}
	}
	if string(records[false]) != string(records[true]) {
		t.Error("the record differs where readings are told")
	}
}

// A run that is ordered to end goes to the present optimum, and its error is as uncertain as
// it states.
func TestFinishNowEndsTheRefining(t *testing.T) {
	t.Parallel()
	seconds := map[bool]float64{}
	for _, finish := range []bool{false, true} {
		r := newRig(t, toneBench(), 4, Plan{ToneHz: 10000, WithinArcmin: 0.08, TapeBudgetSeconds: 20})
		orders := &stream.Orders{}
		r.setup.Orders = orders
		r.setup.Tell = func(e Event) {
			if finish && e.Phase == "refine" {
				orders.Finish()
			}
		}
		end, err := Align(context.Background(), r.setup)
		if err != nil || !end.Outcome.HeadSet() {
			t.Fatal(end, err)
		}
		truth, d := r.bench.Truth(), r.decision()
		if off := math.Abs(truth.ErrorArcmin); off > 3*d.Optimum.SDArcmin {
			t.Errorf("finish %v: %.2f' off, stated %.2f'", finish, off, d.Optimum.SDArcmin)
		}
		seconds[finish] = r.tapeSeconds()
	}
	if seconds[true] > seconds[false]-1 {
		t.Errorf("%.1f s of tape, %.1f s if not told to end", seconds[true], seconds[false])
	}
}

// A run that is ordered to pause stands still until it is resumed, and the tape meanwhile
// does not count.
func TestPause(t *testing.T) {
	t.Parallel()
	r := newRig(t, toneBench(), 4, Plan{ToneHz: 10000, StopAndMeasure: true})
	orders := &stream.Orders{}
	r.setup.Orders = orders
	var began, paused float64
	var shaft, tape float64
	r.setup.Sound = &counted{Source: r.setup.Sound, each: func() {
		now := r.bench.Truth()
		switch {
		case !orders.Paused():
		case began == 0:
			began, shaft = now.Seconds, now.ShaftDeg
		case now.Seconds > began+5:
			if math.Abs(now.ShaftDeg-shaft) > 0.1 {
				t.Errorf("the shaft went from %.1f to %.1f degrees meanwhile", shaft, now.ShaftDeg)
			}
			paused = now.Seconds - began
			orders.Resume()
		}
	}}
	r.setup.Tell = func(e Event) {
		switch {
		case e.Kind == stream.Stepped && e.Step.N == 5:
			orders.Pause()
		case e.Kind == stream.Said && e.Phase == "pause":
			tape = e.TapeSeconds
		case e.Kind == stream.Stepped && e.Step.N == 6 && e.TapeSeconds > tape+3:
			t.Errorf("the pause counts as tape: %.1f s, then %.1f s", tape, e.TapeSeconds)
		}
	}
	end, err := Align(context.Background(), r.setup)
	if err != nil || end.Outcome != record.Aligned || paused < 5 {
		t.Errorf("%v, %s: %s; paused for %.1f s", err, end.Outcome, end.Say, paused)
	}
}

// Each request to a person has its own number, in the events of its start and its end.
func TestPromptsAreToldByNumber(t *testing.T) {
	t.Parallel()
	r := newRig(t, toneBench(), 1, Plan{ToneHz: 10000})
	var told, asked []stream.Prompt
	open := 0
	r.setup.Ask = func(_ context.Context, p Prompt) error {
		asked = append(asked, p)
		return nil
	}
	r.setup.Tell = func(e Event) {
		switch e.Kind {
		case stream.Asked:
			told, open = append(told, *e.Prompt), open+1
		case stream.Done:
			open--
		}
	}
	if end, err := Align(context.Background(), r.setup); err != nil || end.Outcome != record.Aligned {
		t.Fatal(end, err)
	}
	if len(asked) != 3 || len(told) != 3 || open != 0 {
		t.Fatalf("asked %v, told %v, open %d", asked, told, open)
	}
	for i, what := range []string{session.BladeOff, session.SeatBlade, session.WithdrawBlade} {
		if want := (Prompt{ID: i + 1, Text: what}); asked[i] != want || told[i] != want {
			t.Errorf("asked %+v, told %+v, want %+v", asked[i], told[i], want)
		}
	}
}

// counted is sound that calls a function for each block.
type counted struct {
	audio.Source
	each func()
}

func (c *counted) Next(ctx context.Context) (audio.Block, error) {
	b, err := c.Source.Next(ctx)
	c.each()
	return b, err
}
