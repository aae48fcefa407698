package search

import (
	"context"
	"math"

	"headtrue/sweep/edges"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// material is the kind of sound that is searched on: a tone or a programme. It holds all that
// differs between the two; what they share is in Search. Another kind is another material.
type material interface {
	constants() constants

	// The coarse search. bracket finds the top with both dull edges. Of the scan under way,
	// tilts returns samples over tilt and whether the tilt is the measured delay; bracketed
	// reports whether both dull edges and the true top were seen; outerEdge returns the
	// start of the next scan; futile reports whether going on in a direction is useless, if
	// the material alone can decide that. whyNoTop returns the material's own reason why no
	// top was found, or nil.
	bracket(ctx context.Context) error
	beginScan()
	tilts() (s []edges.Sample, byDelay bool)
	bracketed() bool
	bracketFound() error
	outerEdge() float64
	futile(s []edges.Sample, byDelay bool, dir float64) (futile, decided bool)
	whyNoTop() error

	// The refinement. pass measures near the centre for the nth time, from 0. settled returns
	// the steps that a decision uses. periodSure reports whether the place and the treble's
	// centre can be separated from the next whole period. heedMix makes the treble alone
	// decide if there is evidence of a second source, and reports whether this begins.
	// delayAlone reports whether a known delay sets the head without the treble.
	pass(ctx context.Context, v estimate.Verdict, n int) error
	settled() []record.Step
	periodSure(v estimate.Verdict) bool
	heedMix(v *estimate.Verdict) (begun bool)
	delayAlone() bool

	// What is heard. whole returns the delay of a reading in which no period is open. gone
	// reports whether a reading lacks the material. vague reports whether a step is too weak
	// to show that the head stands still; follows whether steps that turned the screw changed
	// the sound, although the delay moved by tilt only; heardToFollow whether the whole run
	// did. checks are the reasons to stop early.
	whole(r record.Reading) float64
	gone(r record.Reading) bool
	vague(s record.Step) bool
	follows(run []record.Step, tilt, expect float64) bool
	heardToFollow() bool
	checks() []func() error

	// At the place. placeOff computes how far the head is off, arcmin, and whether delay and
	// level fit each other. leapOf returns the leap of a correction, or nil. atTop and
	// checkLobe return a Stop if the place is not on the true top.
	placeOff(v *estimate.Verdict, d estimate.Dwelt, want, expectedSD float64) (off float64, fits bool)
	leapOf(v *estimate.Verdict, at record.Reading, offArcmin float64) *leap
	atTop(v *estimate.Verdict, r record.Reading) error
	checkLobe(v *estimate.Verdict) error
}

// constants are those of a material.
type constants struct {
	// coarseSeconds and fineSeconds are the listening times at a place of the coarse search
	// and of the refinement.
	coarseSeconds, fineSeconds float64
	// coarseStep is the step of the coarse search, as a multiple of a seventh of the first
	// null's tilt.
	coarseStep float64
	// smooth averages three neighbours before dull edges are looked for.
	smooth bool
	// centreShare is the share of the requested uncertainty for the tilt of the optimum.
	centreShare float64
	// across are the places of a pass across the top, as multiples of the distance from the
	// centre to a dull edge.
	across []float64
	// blindReachDeg is the greatest reach of the first scan while nothing confirms its
	// direction.
	blindReachDeg float64
}

// materialOf returns the material that a search is planned for.
func materialOf(c *Search) material {
	if c.Plan.ToneHz > 0 {
		return tone{c}
	}
	return programme{c}
}

// tone is a tone, or several, heard while the screw turns or by stopping.
type tone struct{ *Search }

var toneConstants = constants{coarseSeconds: 0.25, fineSeconds: 0.5, coarseStep: 1, centreShare: estimate.ToneCentreShare,
	across: []float64{-1.25, -1, -0.75, -0.5, -0.25, 0, 0.25, 0.5, 0.75, 1, 1.25}, blindReachDeg: math.Inf(1)}

func (tone) constants() constants { return toneConstants }

// programme is programme material. Far from the top its delay is meaningless and may lie on
// either side, so that the first scan turns back at 180 degrees.
type programme struct{ *Search }

var programmeConstants = constants{coarseSeconds: 0.8, fineSeconds: 0.8, coarseStep: 1.4, smooth: true, centreShare: estimate.ProgrammeCentreShare,
	across: []float64{-1.3, -0.55, 0, 0.55, 1.3}, blindReachDeg: 180}

func (programme) constants() constants { return programmeConstants }
