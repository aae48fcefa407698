package app

import (
	"context"
	"fmt"
	"hash/fnv"
	"math/rand/v2"

	"headtrue/sweep"
	"headtrue/sweep/record"
	"headtrue/sweep/study/report"
)

// Repeat measures the remaining seatings of a plan and returns the names of their runs. It
// calls measured after each seating with its number of trials.
func (j *Job) Repeat(ctx context.Context, name string, all []report.Trial, done map[int]TrialReading, measured func(trials int)) (runs []string, err error) {
	for i, seating := range report.Seatings(all) {
		if _, there := done[seating[len(seating)-1].Number]; there {
			continue
		}
		one := j.forSeating(name, seating)
		if err := one.announce(ctx, i, seating); err != nil {
			return runs, err
		}
		end, err := one.Perform(ctx, func(ctx context.Context, s sweep.Setup) (record.End, error) {
			return sweep.Gauge(ctx, s, len(seating))
		})
		if err != nil {
			return runs, err
		}
		runs = append(runs, one.Run())
		if err := Ended(end); err != nil {
			return runs, err
		}
		measured(len(seating))
	}
	return runs, nil
}

// forSeating returns the job of one seating: on its unit, by its operator.
func (j *Job) forSeating(name string, seating []report.Trial) *Job {
	one := *j
	first := seating[0]
	one.Study, one.Trial, one.rig, one.run, one.clips = name, first.Number, nil, nil, nil
	one.Settings.Unit, one.Settings.Operator = first.Unit, first.Operator
	if one.IsVirtual() {
		unit := fnv.New64a()
		unit.Write([]byte(first.Unit)) // never fails
		drawn := rand.New(rand.NewPCG(unit.Sum64(), j.Seed))
		one.Bench.Deck.StartTiltArcmin += virtualUnitsArcmin * drawn.NormFloat64()
		one.Seed = drawn.Uint64() + uint64(first.Number)
	}
	return &one
}

// virtualUnitsArcmin is the standard deviation of the tilt between virtual units of a study.
const virtualUnitsArcmin = 5

// announce shows which unit and operator come next, and waits until a person has put the
// unit on the bench.
func (j *Job) announce(ctx context.Context, i int, seating []report.Trial) error {
	first := seating[0]
	what := fmt.Sprintf("seating %d of the plan, with %d measurements: unit %s, operator %s; seat the blade anew when asked",
		i+1, len(seating), first.Unit, first.Operator)
	if j.IsVirtual() || j.BladeSeatsItself || !j.asksSomebody() {
		j.front.Note("%s", what)
		return nil
	}
	ctx, stop := j.front.Interruptible(ctx, "stopping; nothing moves")
	defer stop()
	if _, err := j.front.Ask(ctx, Part(what+": put the unit on the bench with the blade off, start its tape")); err != nil {
		return NotBegun("%w", err)
	}
	return nil
}
