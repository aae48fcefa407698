package app

import (
	"io"
	"testing"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/production"
	"headtrue/sweep/record"
)

// The cautions are asked once in a sitting, and the answer is in the record of every run.
func TestEveryRunOfASittingHasItsCautions(t *testing.T) {
	answered := record.Cautions{Asked: true, Answer: "yes"}
	b := &Batch{Name: "b", Order: func(it production.Item, command string) (Order, error) {
		loaded := settings.Loaded{Settings: settings.Default()}
		loaded.Unit = it.Unit
		return Order{Command: command, Settings: loaded, BladeSeatsItself: true}, nil
	}}
	b.Begin(&Job{front: frontTo(io.Discard), sitting: &sitting{begun: true, cautions: answered, hands: hands{itself: true}}})
	for _, unit := range []string{"D-1", "D-2"} {
		j, err := b.Job(production.Item{Unit: unit}, "align")
		if err != nil {
			t.Fatal(err)
		}
		if s := j.Start(); !j.sitting.begun || !j.sitting.hands.itself || s.Cautions != answered || s.Batch != "b" || s.Unit != unit {
			t.Errorf("%s: sitting %+v, start %+v", unit, j.sitting, s)
		}
	}
}
