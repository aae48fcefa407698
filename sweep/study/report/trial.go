package report

import (
	"fmt"

	"headtrue/sweep/study"
)

// Trial is one reading of the plan of a repeatability study, with the user's names.
type Trial struct {
	Number    int    `json:"number"`
	Unit      string `json:"unit"`
	Operator  string `json:"operator"`
	Reseating int    `json:"reseating"`
	Repeat    int    `json:"repeat"`
}

func (t Trial) String() string {
	return fmt.Sprintf("trial %d: unit %s, operator %s, seating %d, repeat %d", t.Number, t.Unit, t.Operator, t.Reseating, t.Repeat)
}

// NamedTrials replaces the numbers in a design's trials by the user's names.
func NamedTrials(design []study.Trial, units, operators []string) (all []Trial) {
	for _, d := range design {
		all = append(all, Trial{d.Number, units[d.Unit-1], operators[d.Operator-1], d.Reseating, d.Repeat})
	}
	return all
}

// Seatings divides a plan at each new seating of the blade.
func Seatings(all []Trial) (cut [][]Trial) {
	for i, t := range all {
		if i == 0 || t.Unit != all[i-1].Unit || t.Operator != all[i-1].Operator || t.Reseating != all[i-1].Reseating {
			cut = append(cut, nil)
		}
		cut[len(cut)-1] = append(cut[len(cut)-1], t)
	}
	return cut
}
