package sheet

import (
	"fmt"
	"strings"

	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

// statesBlock compares as found and as left.
func statesBlock(p parts) Block {
	tiltFound, tiltLeft, tiltChange := tilts(p.figures)
	found, left := foundOf(p), leftOf(p)
	row := func(name, tilt string, r *record.Reading) []string {
		if r == nil {
			return []string{name, tilt, notGiven, notGiven, notGiven}
		}
		return []string{name, tilt, trebleOf(r), delayOf(r), fmt.Sprintf("%.1f / %.1f", r.LevelDBFS[0], r.LevelDBFS[1])}
	}
	b := Block{Title: "As found and as left", Table: &Table{
		Head: []string{"", "tilt", treblesName(found, left) + ", dB", "delay, µs", "level l / r, dBFS"},
		Rows: [][]string{row("as found", tiltFound, found), row("as left", tiltLeft, left)},
	}}
	b.Note = "Tilt from the optimum, as left heard with the blade away. ± is 95 %."
	if found != nil && left != nil {
		b.Table.Rows = append(b.Table.Rows, []string{"change", tiltChange, signed(left.TrebleDB-found.TrebleDB, 2),
			signed(left.DelayUS-found.DelayUS, 1), notGiven})
	}
	switch {
	case found == nil:
	case found.DelayPeriodUS > 0:
		b.Note += fmt.Sprintf(" By itself the tone shows the delay to whole periods of %.1f µs only.", found.DelayPeriodUS)
	case found.ToneHz == 0:
		b.Note += " Treble is against the mid band."
	}
	return b
}

// unknownSD is the standard deviation that stands for "unknown".
const unknownSD = 1e6

// spread shows an interval of 95 %, empty if it is unknown.
func spread(sd float64) string {
	if sd <= 0 || sd >= unknownSD {
		return ""
	}
	return figures.PlusMinus(&sd, "")
}

// estimatesBlock lists the estimates of the centre.
func estimatesBlock(p parts) Block {
	b := Block{Title: "Where the optimum lies"}
	d := p.decision
	if d == nil {
		b.Items = []string{"Nothing was decided in this run."}
		return b
	}
	b.Table = &Table{Head: []string{"", "screw, °", "95 %"}}
	if p.byHand {
		b.Table.Head[1] = "tilt, ′"
		b.Note = "Tilt by the delay between the channels. "
	}
	row := func(name string, e record.Estimate) {
		cells := []string{name, notGiven, notGiven}
		if at, ok := p.axis.Estimate(e); ok {
			cells = []string{name, fmt.Sprintf("%+.1f", at), strings.TrimSpace(figures.PlusMinus(&e.SDArcmin, "′"))}
		}
		b.Table.Rows = append(b.Table.Rows, cells)
	}
	row("midpoint", d.Midpoint)
	row("fitted centre", d.Fitted)
	row("delay zero", d.DelayZero)
	if d.PlaceCorrectionDeg != nil {
		row("correction", record.Estimate{Deg: *d.PlaceCorrectionDeg, SDArcmin: d.PlaceCorrectionSDArcmin, OK: true})
	}
	row("optimum", d.Optimum)
	f := p.figures
	if f.Gearing != nil {
		b.Note += fmt.Sprintf("Gearing %+.0f′%s a turn.", *f.Gearing, figures.PlusMinus(f.GearingSD, "′"))
	}
	if f.BacklashDeg != nil {
		b.Note += fmt.Sprintf(" Backlash %.0f%s°.", *f.BacklashDeg, figures.PlusMinus(f.BacklashSDDeg, ""))
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
		b.Note = "One tone shows the response at its own frequency only."
		if len(found.FurtherTonesHz) > 0 {
			b.Note = "The record keeps the level of the main tone only."
		}
	default:
		b.Items = []string{"Not known: the record has no levels by band."}
	}
	return b
}
