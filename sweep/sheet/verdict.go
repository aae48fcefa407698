package sheet

import (
	"fmt"
	"math"
	"strings"

	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet/chars"
)

// StampOf returns the result of a run in one or two words, and what speaks against the head if
// the run itself has not said so.
func StampOf(entries []record.Entry) (s figures.Stamp, against string) {
	return stampOf(sortOut(entries))
}

func stampOf(p parts) (figures.Stamp, string) {
	var settings map[string]string
	if p.start != nil {
		settings = p.start.Settings
	}
	return figures.StampOf(settings, p.end, p.figures)
}

// Result reports how a run ended, as found and as left, and the estimates: the sheet without
// the curve, the steps and the checks.
func Result(entries []record.Entry) string { return result(sortOut(entries)) }

func result(p parts) string {
	stamp, against := stampOf(p)
	said := stated(p)
	var b strings.Builder
	if stands := notSet(p); stands != "" { // it begins with the stamp
		b.WriteString(chars.Wrap(stands, 0) + "\n")
		said = said[1:]
	} else {
		fmt.Fprintf(&b, "%s\n", stamp)
	}
	say := func(sentence string) { b.WriteString("  " + chars.Wrap(sentence, 2) + "\n") }
	for _, sentence := range said {
		say(sentence)
	}
	if against != "" {
		say(Capital(against) + ".")
	}
	states(&b, p)
	for _, sentence := range howFar(p) {
		say(sentence)
	}
	if speed, flutter := p.figures.SayRunning(); speed != "" {
		say("Speed " + speed + "; wow and flutter " + flutter + ".")
	}
	if p.decision != nil {
		estimates(&b, p)
	}
	return b.String()
}

// stated is ending, preceded by where the screw stands after a run that has not set the head.
func stated(p parts) []string {
	if stands := notSet(p); stands != "" {
		return append([]string{stands}, ending(p)...)
	}
	return ending(p)
}

func notSet(p parts) string {
	if p.end == nil {
		return ""
	}
	return NotSet(*p.end)
}

// ending reports how the run ended, and the remedy.
func ending(p parts) []string {
	if p.end == nil {
		return []string{fmt.Sprintf("The run was cut off after %d steps: its record has no end, and does not show where the screw stands.", len(p.steps))}
	}
	said := []string{Capital(strings.TrimRight(p.end.Say, ".")) + "."}
	if p.end.Do != "" {
		said = append(said, "What to do: "+strings.TrimRight(p.end.Do, ".")+".")
	}
	return said
}

// estimates lists the estimates of the optimum, the correction, and their combination.
func estimates(b *strings.Builder, p parts) {
	d, f := p.decision, p.figures
	what := "screw, degrees"
	if p.byHand {
		what = "tilt, arcmin"
	}
	fmt.Fprintf(b, "\n  %-24s%16s %18s\n", "", what, "95 % of tilt")
	row := func(name string, e record.Estimate) {
		at, ok := p.axis.Estimate(e)
		if !ok {
			why := e.Why
			if why == "" {
				why = "unknown"
			}
			fmt.Fprintf(b, "  %-24s%16s  %s\n", name, "-", chars.Wrap(why, 44))
			return
		}
		fmt.Fprintf(b, "  %-24s%+16.1f %18s\n", name, at, figures.PlusMinus(&e.SDArcmin, "'"))
	}
	row("midpoint", d.Midpoint)
	row("fitted centre", d.Fitted)
	row("delay zero", d.DelayZero)
	if d.PlaceCorrectionDeg != nil {
		row("correction, heard there", record.Estimate{Deg: *d.PlaceCorrectionDeg, SDArcmin: d.PlaceCorrectionSDArcmin, OK: true})
	}
	row("OPTIMUM", d.Optimum)
	if d.Brightest != nil { // omitted if the gaps lie along the pattern
		row("most treble", *d.Brightest)
	}
	fmt.Fprintf(b, "  %s\n", chars.Wrap(agreement(d), 2))
	if f.Gearing != nil {
		fmt.Fprintf(b, "  gearing: one turn of the screw tilts the head by %+.0f'%s\n", *f.Gearing, figures.PlusMinus(f.GearingSD, "'"))
	}
	if f.BacklashDeg != nil {
		fmt.Fprintf(b, "  backlash: %.0f degrees of screw%s\n", *f.BacklashDeg, figures.PlusMinus(f.BacklashSDDeg, ""))
	}
	if d.PipelineSeconds > 0.05 {
		fmt.Fprintf(b, "  the sound of a turn comes %.2f s after the jig reports it\n", d.PipelineSeconds)
	}
}

// agreement reports whether the estimates agree.
func agreement(d *record.Decision) string {
	said := "the estimates agree"
	switch d.Agreement {
	case "differ":
		said = "the estimates differ"
	case "partial":
		said = "not all estimates are known"
	}
	if d.AgreementWhy != "" {
		said += ": " + d.AgreementWhy
	}
	return said
}

// states compares as found and as left.
func states(b *strings.Builder, p parts) {
	found, left := foundOf(p), leftOf(p)
	if found == nil && left == nil {
		return
	}
	fmt.Fprintf(b, "\n  %-10s%18s %14s %22s\n", "", "tilt, arcmin", treblesName(found, left)+", dB", "level l/r, dBFS")
	f := p.figures
	row := func(name string, off, sd *float64, r *record.Reading) {
		if r != nil {
			fmt.Fprintf(b, "  %-10s%18s %+14.2f %+13.1f / %+.1f\n", name,
				figures.Signed(off, 1, "'")+figures.PlusMinus(sd, "'"), r.TrebleDB, r.LevelDBFS[0], r.LevelDBFS[1])
		}
	}
	row("as found", f.FoundOffArcmin, f.FoundOffSDArcmin, found)
	row("as left", f.LeftOffArcmin, f.LeftOffSDArcmin, left)
	if f.TrebleGainDB != nil {
		fmt.Fprintf(b, "  %-10s%18s %+14.2f\n", "change", figures.Signed(f.ChangeArcmin(), 1, "'"), *f.TrebleGainDB)
	}
}

func treblesName(readings ...*record.Reading) string {
	for _, r := range readings {
		if r != nil && r.ToneHz > 0 {
			return figures.Kilohertz(nominal(r.ToneHz))
		}
	}
	return "treble"
}

// nominal rounds a measured frequency, which contains the tape's speed error, to two digits.
func nominal(hz float64) float64 {
	step := 10.0
	for hz/step >= 100 {
		step *= 10
	}
	return float64(int(hz/step+0.5)) * step
}

// howFar reports the way of the screw in turns, as a hand would count it. If the screw went
// back to as found, the jig's angle is the backlash that was taken up.
func howFar(p parts) []string {
	if p.byHand {
		return []string{howByHand(p)}
	}
	if p.left == nil || p.decision == nil || p.end == nil || p.end.ScrewOffDeg != nil || math.IsNaN(p.left.ScrewDeg+p.left.TravelDeg) {
		return nil
	}
	if o := p.end.Outcome; o == record.Measured || o == record.RestoreDoubt {
		return []string{fmt.Sprintf("The jig stands at %+.1f degrees, the backlash between it and the screw taken up; it turned %.0f degrees in all.",
			p.left.ScrewDeg, p.left.TravelDeg)}
	}
	deg := p.left.ScrewDeg
	if d := p.decision; d.FoundHomeOK && !math.IsNaN(d.FoundHomeDeg) {
		deg -= d.FoundHomeDeg
	}
	return []string{
		fmt.Sprintf("The screw was turned %s %s in the end, and %.0f degrees in all on the way.", figures.Turn(deg), direction(*p.end, deg), p.left.TravelDeg),
		stepsChecked(p.left.StepsCheckedBy),
	}
}

// direction is that of a turn, as seen on the screw's head if the run knew how the jig turns it.
func direction(end record.End, deg float64) string {
	switch {
	case end.Forward == "" && deg < 0:
		return "backward"
	case end.Forward == "":
		return "forward"
	case (end.Forward == "clockwise") == (deg >= 0):
		return "clockwise"
	}
	return "counter-clockwise"
}

func stepsChecked(by string) string {
	switch by {
	case "encoder":
		return "The motor kept every step: the encoder on its shaft has shown it after each move."
	case "sound":
		return "The motor kept every step: a place that was heard twice sounded the same at the same count."
	}
	return "Whether the motor kept every step was not checked: its shaft has no encoder, and no place was heard twice well enough."
}

// Capital returns a text with a capital letter first.
func Capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
