package logbook

import (
	"context"
	"strings"
	"testing"

	"headtrue/sweep/record"
)

// A proof turns no screw, so it cannot be restored or proved again. Runs of a batch are
// found by its name.
func TestProofsAndBatchesAreToldApart(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.open(t)
		off := 0.5
		found := record.Entry{Kind: record.KindFound, Found: &record.Found{}}
		left := record.Entry{Kind: record.KindLeft, Left: &record.Left{OffArcmin: &off}}
		for _, made := range []struct {
			start   record.Start
			entries []record.Entry
		}{
			{record.Start{Command: "align", Operator: "set", Batch: "b1"}, []record.Entry{found, left, end(record.Aligned)}},
			{record.Start{Command: "align", Operator: "unheard", Batch: "b1"}, []record.Entry{found, end(record.Aligned)}},
			{record.Start{Command: "align", Operator: "cut off", Batch: "b2"}, []record.Entry{found, left}},
			{record.Start{Command: "proof", Operator: "proof", Batch: "b1", ProofOf: "x"}, []record.Entry{found, left, end(record.Measured)}},
		} {
			run := begin(t, book, made.start)
			appendAll(t, run, made.entries...)
		}
		for _, c := range []struct {
			f    Filter
			want string
		}{
			{Filter{Restorable: true}, "set, unheard, cut off"},
			{Filter{SetHead: true}, "set"},
			{Filter{Batch: "b1"}, "set, unheard, proof"},
		} {
			c.f.OldestFirst = true
			var got []string
			for s, err := range book.List(context.Background(), c.f) {
				if err != nil {
					t.Fatal(err)
				}
				got = append(got, s.Operator)
			}
			if strings.Join(got, ", ") != c.want {
				t.Errorf("%+v: got %q, want %s", c.f, got, c.want)
			}
		}
	})
}
