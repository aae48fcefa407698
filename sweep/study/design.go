package study

import (
	"fmt"
	"math/rand/v2"
)

// Trial is one reading to be taken. All numbers begin with 1.
type Trial struct {
	Number, Unit, Operator, Reseating, Repeat int
}

// Design lists the trials of a gauge study in an order set by the seed: the same seed
// gives the same order. Seatings come in random order. The repeats of a seating follow
// one another, since a separation would need a new seating.
func Design(units, operators, reseatings, repeats int, seed uint64) ([]Trial, error) {
	for _, f := range []struct {
		what          string
		count, fewest int
	}{{"units", units, 2}, {"operators", operators, 1}, {"reseatings", reseatings, 1}, {"repeats", repeats, 1}} {
		if f.count < f.fewest {
			return nil, fmt.Errorf("study: a design with %d %s: at least %d are needed", f.count, f.what, f.fewest)
		}
	}
	rng := rand.New(rand.NewPCG(seed, 0))
	trials := make([]Trial, 0, units*operators*reseatings*repeats)
	for _, seating := range rng.Perm(units * operators * reseatings) {
		for repeat := range repeats {
			trials = append(trials, Trial{
				Number:    len(trials) + 1,
				Unit:      seating%units + 1,
				Operator:  seating/units%operators + 1,
				Reseating: seating/units/operators + 1,
				Repeat:    repeat + 1,
			})
		}
	}
	return trials, nil
}
