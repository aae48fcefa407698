package sheet

import (
	"fmt"
	"math"
	"strings"

	"headtrue/sweep/record"
)

// Verdict reports in plain words how a run ended, and as found and as left.
func Verdict(entries []record.Entry) string {
	p := sortOut(entries)
	return verdict(p, stated(p))
}

func verdict(p parts, ended []string) string {
	var b strings.Builder
	b.WriteString("VERDICT\n")
	say := func(format string, args ...any) {
		b.WriteString("  " + Wrap(fmt.Sprintf(format, args...), 2) + "\n")
	}
	for _, sentence := range ended {
		say("%s", sentence)
	}
	if d := p.decision; d != nil {
		estimates(&b, d)
	}
	states(&b, p)
	for _, sentence := range howFar(p) {
		say("%s", sentence)
	}
	return b.String()
}

// stated is ending, preceded by where the screw stands.
func stated(p parts) []string {
	if p.end == nil || NotSet(*p.end) == "" {
		return ending(p)
	}
	return append([]string{NotSet(*p.end)}, ending(p)...)
}

// ending reports how the run ended, and the remedy.
func ending(p parts) []string {
	if p.end == nil {
		return []string{fmt.Sprintf("The run was cut off after %d steps: the record has no end. Where the screw stands is not known from it.", len(p.steps))}
	}
	said := []string{Capital(strings.TrimRight(p.end.Say, ".")) + "."}
	if p.end.Do != "" {
		said = append(said, "What to do: "+strings.TrimRight(p.end.Do, ".")+".")
	}
	return said
}

// estimates lists the three estimates of the centre and their combination.
func estimates(b *strings.Builder, d *record.Decision) {
	fmt.Fprintf(b, "\n  %-12s%11s %16s\n", "", "screw, deg", "sd, arcmin")
	row := func(name string, e record.Estimate) {
		if !e.OK {
			why := e.Why
			if why == "" {
				why = "not known"
			}
			fmt.Fprintf(b, "  %-12s%11s  %s\n", name, "-", Wrap(why, 27))
			return
		}
		fmt.Fprintf(b, "  %-12s%+11.1f %16.2f\n", name, e.Deg, e.SDArcmin)
	}
	row("midpoint", d.Midpoint)
	row("fitted", d.Fitted)
	row("delay zero", d.DelayZero)
	row("OPTIMUM", d.Optimum)
	if d.Brightest != nil { // omitted if the gaps lie along the pattern
		row("brightest", *d.Brightest)
	}
	text := "agreement: " + d.Agreement
	if d.AgreementWhy != "" {
		text += "; " + d.AgreementWhy
	}
	fmt.Fprintf(b, "  %s\n", Wrap(text, 2))
	if d.GearingArcminPerTurn != 0 {
		fmt.Fprintf(b, "  gearing: one turn of the screw tilts the head by %+.0f' ±%.0f'\n",
			d.GearingArcminPerTurn, d.GearingSDArcminPerTurn)
	}
	if d.BacklashSDDeg != 0 {
		fmt.Fprintf(b, "  backlash: %.0f ±%.0f degrees of screw\n", d.BacklashDeg, d.BacklashSDDeg)
	}
	if d.PipelineSeconds > 0.05 {
		fmt.Fprintf(b, "  what is heard lags %.2f s behind the jig\n", d.PipelineSeconds)
	}
}

// states compares as found and as left.
func states(b *strings.Builder, p parts) {
	found, left := foundOf(p), leftOf(p)
	if found == nil && left == nil {
		return
	}
	fmt.Fprintf(b, "\n  %-12s%11s %12s %12s %18s\n", "", "treble, dB", "delay, us", "tilt, arcmin", "level l/r, dBFS")
	row := func(name string, r *record.Reading) {
		if r == nil {
			return
		}
		fmt.Fprintf(b, "  %-12s%+11.2f %+12.1f %+12.1f %+9.1f %+8.1f\n",
			name, r.TrebleDB, r.DelayUS, r.TiltArcmin, r.LevelDBFS[0], r.LevelDBFS[1])
	}
	row("as found", found)
	row("as left", left)
	if found != nil && left != nil {
		fmt.Fprintf(b, "  %-12s%+11.2f %+12.1f %+12.1f\n", "change", left.TrebleDB-found.TrebleDB,
			left.DelayUS-found.DelayUS, left.TiltArcmin-found.TiltArcmin)
	}
}

// howFar reports the way of the screw in turns, as a hand would count it. If the screw went
// back to as found, the jig's angle is the backlash that was taken up.
func howFar(p parts) []string {
	if p.left == nil || p.decision == nil || p.end == nil || p.end.ScrewOffDeg != nil {
		return nil
	}
	if o := p.end.Outcome; o == record.Measured || o == record.RestoreDoubt {
		return []string{fmt.Sprintf("The jig stands at %+.1f degrees, the slack between it and the screw taken up; it turned %.0f degrees in all.",
			p.left.ScrewDeg, p.left.TravelDeg)}
	}
	deg, slack := p.left.ScrewDeg, ""
	if d := p.decision; d.FoundHomeOK {
		deg -= d.FoundHomeDeg
		slack = fmt.Sprintf(", the jig's slack of %.1f degrees aside", math.Abs(d.FoundHomeDeg))
	}
	direction := "forward"
	if deg < 0 {
		direction = "backward"
	}
	return []string{
		fmt.Sprintf("The screw stands %.2f of a turn (%.1f degrees) %s of as found%s; it turned %.0f degrees in all.",
			math.Abs(deg/360), math.Abs(deg), direction, slack, p.left.TravelDeg),
		stepsChecked(p.left.StepsCheckedBy),
	}
}

func stepsChecked(by string) string {
	switch by {
	case "encoder":
		return "The encoder on the motor's shaft has shown after each move that no steps were lost."
	case "sound":
		return "A place that was heard before was heard again where it was counted: no steps were lost."
	}
	return "Whether the motor lost steps was not checked: its shaft has no encoder, and no place was heard twice well enough."
}

// Capital returns a text with a capital letter first.
func Capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
