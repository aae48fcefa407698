//go:build unix

package main

import (
	"encoding/json"
	"math"
	"testing"

	"headtrue/cmd/headtrue/runjson"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// A proof is a separate process, without a port: it hears the deck that another process has
// set, agrees with the bench's truth, and names unit and run.
func TestProofHearsTheDeckThatWasSet(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	sound, port, truth := rawDeck(t, dir)

	hear := func(args ...string) *process {
		p := newProcess(append(args, "--audio", "raw:f32le", "--logbook", dir)...)
		p.cmd.Stdin = sound
		p.start(t)
		if code := p.wait(t); code != 0 {
			t.Fatalf("%q: code %d:\n%s", args, code, p.said.String())
		}
		return p
	}
	hear("align", "--tone", "10k", "--port", port, "--yes", "--blade-seats-itself", "--unit", "D-104")
	p := hear("proof", "--json")
	var got runjson.Proved
	if err := json.Unmarshal([]byte(p.out.String()), &got); err != nil {
		t.Fatalf("%v: %q", err, p.out.String())
	}
	knows := truthIn(t, truth)
	if got.Outcome != record.Measured || got.OffArcmin == nil || math.Abs(*got.OffArcmin-knows.ErrorArcmin) > 3**got.OffSDArcmin || *got.OffSDArcmin > 1.5 {
		t.Errorf("%s; the bench says %.2f'", p.out.String(), knows.ErrorArcmin)
	}
	if math.Abs(*got.MovedArcmin) > 3**got.MovedSDArcmin {
		t.Errorf("moved by %.2f' ±%.2f where nothing moved", *got.MovedArcmin, *got.MovedSDArcmin)
	}
	book, err := logbook.Open(dir, "")
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	rec, err := book.Load(got.Run)
	if err != nil {
		t.Fatal(err)
	}
	if s := rec.Start(); s.Unit != "D-104" || s.ProofOf != got.ProofOf || s.Jig != nil || s.Command != "proof" {
		t.Errorf("start %+v", s)
	}
	set, err := book.Newest(logbook.Filter{Restorable: true})
	if err != nil || set.Run != got.ProofOf {
		t.Errorf("the way back leads to run %q, %v; want %q", set.Run, err, got.ProofOf)
	}
}
