package main

import (
	"fmt"

	"headtrue/cmd/headtrue/app"
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

func standingFrom(s *app.Standing) *standing {
	out := &standing{Runs: s.Runs, Set: s.Set}
	if s.Set > 0 {
		ratio := s.ErrorRMSArcmin / s.BoundArcmin
		out.ErrorRMS, out.Tape, out.Bound, out.Ratio = &s.ErrorRMSArcmin, &s.MeanTapeSeconds, &s.BoundArcmin, &ratio
	}
	return out
}
