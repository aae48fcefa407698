package sheet

import (
	"fmt"

	"headtrue/sweep/record"
)

// statesBlock compares as found and as left.
func statesBlock(p parts) Block {
	tiltFound, tiltLeft, tiltChange := tilts(p)
	found, left := foundOf(p), leftOf(p)
	row := func(name, tilt string, r *record.Reading) []string {
		if r == nil {
			return []string{name, tilt, notGiven, notGiven, notGiven}
		}
		return []string{name, tilt, trebleOf(r), delayOf(r), fmt.Sprintf("%.1f / %.1f", r.LevelDBFS[0], r.LevelDBFS[1])}
	}
	b := Block{Title: "As found and as left", Table: &Table{
		Head: []string{"", "tilt, ′", "treble, dB", "delay, µs", "level l / r, dBFS"},
		Rows: [][]string{row("as found", tiltFound, found), row("as left", tiltLeft, left)},
	}}
	b.Note = "Tilt against the optimum, by screw and gearing. ± is one standard uncertainty."
	if p.left != nil && p.left.OffArcmin != nil {
		b.Note = "Tilt against the optimum: as found by screw and gearing, as left by the delay heard with the blade away. ± is one standard uncertainty."
	}
	if found != nil && left != nil {
		b.Table.Rows = append(b.Table.Rows, []string{"change", tiltChange, signed(left.TrebleDB-found.TrebleDB, 2),
			signed(left.DelayUS-found.DelayUS, 1), notGiven})
	}
	switch {
	case found == nil:
	case found.ToneHz > 0:
		b.Note += " Treble is the tone's level."
		if found.DelayPeriodUS > 0 {
			b.Note += fmt.Sprintf(" The tone tells the delay to whole periods of %.1f µs.", found.DelayPeriodUS)
		}
	default:
		b.Note += " Treble is against the mid band."
	}
	return b
}

// unknownSD is the standard deviation that stands for "not known".
const unknownSD = 1e6

func spread(sd float64, format string) string {
	if sd <= 0 || sd >= unknownSD {
		return ""
	}
	return " ± " + fmt.Sprintf(format, sd)
}

// estimatesBlock lists the estimates of the centre.
func estimatesBlock(p parts) Block {
	b := Block{Title: "Where the centre lies"}
	d := p.decision
	if d == nil {
		b.Items = []string{"Nothing was decided in this run."}
		return b
	}
	b.Table = &Table{Head: []string{"", "screw, °", "±, ′"}}
	for _, e := range []struct {
		name string
		record.Estimate
	}{{"midpoint", d.Midpoint}, {"fitted", d.Fitted}, {"delay zero", d.DelayZero}, {"optimum", d.Optimum}} {
		row := []string{e.name, notGiven, notGiven}
		if e.OK {
			row = []string{e.name, fmt.Sprintf("%+.1f", e.Deg), fmt.Sprintf("%.2f", e.SDArcmin)}
		}
		b.Table.Rows = append(b.Table.Rows, row)
	}
	if d.GearingArcminPerTurn != 0 {
		b.Note = fmt.Sprintf("Gearing %+.1f ± %.1f′ a turn.", d.GearingArcminPerTurn, d.GearingSDArcminPerTurn)
	}
	if d.BacklashSDDeg != 0 {
		b.Note += fmt.Sprintf(" Play %.1f ± %.1f°.", d.BacklashDeg, d.BacklashSDDeg)
	}
	return b
}

// bandNames are the third-octave bands shown of a programme: every other one of the record's,
// from the first.
var bandNames = [4]string{"4 kHz", "6.3 kHz", "10 kHz", "16 kHz"}

// responseBlock holds the levels at a few frequencies before and after.
func responseBlock(p parts) Block {
	b := Block{Title: "Response before and after"}
	found, left := foundOf(p), leftOf(p)
	if found == nil || left == nil {
		b.Items = []string{"Not known: it takes a reading as found and one as left."}
		return b
	}
	switch {
	case found.ThirdsDBFS != nil && left.ThirdsDBFS != nil:
		b.Table = &Table{Head: []string{"dBFS", "l found", "l left", "change", "r found", "r left", "change"}}
		for i, name := range bandNames {
			row := []string{name}
			for c := range 2 {
				was, is := found.ThirdsDBFS[c][2*i], left.ThirdsDBFS[c][2*i]
				row = append(row, fmt.Sprintf("%.1f", was), fmt.Sprintf("%.1f", is), signed(is-was, 1))
			}
			b.Table.Rows = append(b.Table.Rows, row)
		}
		b.Note = "Levels of a programme move with the music: part of a change may be the music's own."
	case found.ToneHz > 0:
		b.Table = &Table{Head: []string{fmt.Sprintf("%.2f kHz, dBFS", found.ToneHz/1000), "as found", "as left", "change"}}
		row := func(name string, was, is float64) {
			b.Table.Rows = append(b.Table.Rows, []string{name, fmt.Sprintf("%.2f", was), fmt.Sprintf("%.2f", is), signed(is-was, 2)})
		}
		row("left", found.TrebleLR[0], left.TrebleLR[0])
		row("right", found.TrebleLR[1], left.TrebleLR[1])
		row("both", found.TrebleDB, left.TrebleDB)
		b.Note = "One tone tells the response at its own frequency only."
		if len(found.FurtherTonesHz) > 0 {
			b.Note = "The record keeps the level of the main tone only."
		}
	default:
		b.Items = []string{"Not known: the record has no levels by band."}
	}
	return b
}
