package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep"
	"headtrue/sweep/bench"
	"headtrue/sweep/bound"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// standing is where this program stands beside a bound: what virtual alignments
// came to.
type standing struct {
	Runs     int      `json:"runs"`
	Set      int      `json:"set"`
	ErrorRMS *float64 `json:"error_rms_arcmin"`
	Tape     *float64 `json:"tape_seconds"`
	Bound    *float64 `json:"bound_arcmin"`
	Ratio    *float64 `json:"ratio"`
}

// words say it; a nil standing is one that nobody asked for.
func (s *standing) words() string {
	switch {
	case s == nil:
		return "This is the bound only; --runs 10 sets this program beside it."
	case s.Set == 0:
		return fmt.Sprintf("Where this program stands: of %d virtual alignments none set the head.", s.Runs)
	}
	return fmt.Sprintf("Where this program stands: %d of %d virtual alignments set the head, %.2f' rms from the\n"+
		"truth after %.1f s of tape on average, all moves and the search from as found included;\n"+
		"%.1f times the bound for so much tape, %.4f'.", s.Set, s.Runs, *s.ErrorRMS, *s.Tape, *s.Ratio, *s.Bound)
}

// stand makes the runs, one after the other.
func (c *cli) stand(ctx context.Context, loaded settings.Loaded, o limitsOrder, tape bound.Tape) (*standing, error) {
	dir, err := os.MkdirTemp("", "headtrue-limits-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	book, err := logbook.Open(dir, "")
	if err != nil {
		return nil, err
	}
	defer book.Close()
	loaded.OnVirtual()
	s := &standing{Runs: o.runs}
	var squares, seconds float64
	for i := range o.runs {
		r, err := c.oneStanding(ctx, loaded, o, book, o.seed+uint64(i))
		if err != nil {
			return nil, err
		}
		c.note("seed %d: %s, %+.2f' off the truth after %.1f s of tape", r.seed, r.outcome, r.offArcmin, r.tapeSeconds)
		if r.outcome.HeadSet() {
			s.Set++
			squares += r.offArcmin * r.offArcmin
			seconds += r.tapeSeconds
		}
	}
	if s.Set > 0 {
		n := float64(s.Set)
		rms, mean := math.Sqrt(squares/n), seconds/n
		best := tape.Limits(mean).Both
		ratio := rms / best
		s.ErrorRMS, s.Tape, s.Bound, s.Ratio = &rms, &mean, &best, &ratio
	}
	return s, nil
}

// stood is how one virtual alignment ended.
type stood struct {
	seed                   uint64
	outcome                record.Outcome
	offArcmin, tapeSeconds float64
}

// oneStanding aligns a virtual deck as align --virtual does.
func (c *cli) oneStanding(ctx context.Context, loaded settings.Loaded, o limitsOrder, book *logbook.Book, seed uint64) (stood, error) {
	profile, err := o.bench(loaded.Settings, seed)
	if err != nil {
		return stood{}, err
	}
	j := &job{cli: c, command: "limits", settings: loaded, plan: planOf(loaded), book: book, bench: profile,
		flags: jobFlags{virtual: virtualFlags{profile: "default", seed: seed}}}
	r := stood{seed: seed}
	end, err := j.perform(ctx, func(ctx context.Context, s sweep.Setup) (record.End, error) {
		s.Clip, s.Tell = nil, nil
		end, err := sweep.Align(ctx, s)
		r.offArcmin = j.rig.bench.Truth().ErrorArcmin
		return end, err
	})
	if err != nil {
		return r, err
	}
	if end.Outcome == record.Interrupted {
		return r, ended(end, false)
	}
	entries, err := j.entries()
	if err != nil {
		return r, err
	}
	r.outcome = end.Outcome
	if used := alignedFrom(j.run.ID(), end, entries).TapeSeconds; used != nil {
		r.tapeSeconds = *used
	}
	return r, nil
}

// bench is the default virtual bench with the tape as stated. The fixed delay
// of its channels is drawn by what is said to be known of it.
func (o limitsOrder) bench(s settings.Settings, seed uint64) (bench.Profile, error) {
	p, err := settings.Bench("default")
	if err != nil {
		return p, err
	}
	if s.ToneHz > 0 {
		p.Programme = bench.Tones(virtualToneDBFS, s.ToneHz)
	}
	p.Tape.TrebleSNdB = o.snrDB
	p.Tape.WanderRMSArcmin, p.Tape.WanderShape = o.wander.RMSArcmin, o.wanderShape
	p.Tape.WanderLowHz, p.Tape.WanderHighHz = o.wander.LowHz, o.wander.HighHz
	p.Deck.ChannelDelayUS = s.ChannelDelayUS + s.ChannelDelaySDUS*rand.New(rand.NewPCG(seed, 0)).NormFloat64()
	return p, nil
}
