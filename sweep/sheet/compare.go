package sheet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet/chars"
)

// Compare compares two runs: as found and as left, the centre, the mount, the settings that
// differ, and both curves in one plot. It warns if two figures mean different things.
func Compare(a, b []record.Entry) Page {
	first, second := sortOut(a), sortOut(b)
	page := Page{Title: "Two runs compared", Run: runOf(first) + " and " + runOf(second)}
	page.At, _ = time.Parse(time.RFC3339, second.at)
	page.Lead = []string{"These two runs can be compared."}
	if reasons := apart(first, second); reasons != nil {
		page.Lead = within(append([]string{"These two runs cannot be compared in all."}, reasons...), leadLength)
	}
	over, count := "Treble against the screw", "What the screw's angle says of both runs holds where the jig kept its count in between; "
	if first.byHand || second.byHand {
		over, count = "Treble against the tilt", "A person turned the screw by hand: it has no degrees in that run; "
	}
	page.Rows = [][]Block{
		{{Title: "Both runs", Table: sideBySide(first, second)}},
		{{Title: over, Figure: bothCurves(first, second)}},
		{{Title: "What differs in the settings", Table: settingsApart(first, second), Note: "What is the same in both is left out."}},
	}
	page.Small = Fact{"Limits", "Each run is one insertion of its blade. " + count + "± is 95 %."}
	return page
}

func runOf(p parts) string {
	if p.start == nil {
		return "a run without a beginning"
	}
	return brief(p.start.Run)
}

// apart lists the reasons why figures of the two runs cannot be compared.
func apart(a, b parts) []string {
	var reasons []string
	say := func(format string, args ...any) {
		reasons = append(reasons, shorten(fmt.Sprintf(format, args...), itemLength))
	}
	if a.start == nil || b.start == nil {
		return []string{"A record without its beginning does not say what it was made on."}
	}
	differ := func(what, one, other, so string) {
		if one != other {
			say("%s differs (%s, %s): %s.", what, orNone(one), orNone(other), so)
		}
	}
	differ("The unit", unitOf(a.start), unitOf(b.start), "tilt, gearing and screw are those of two decks")
	if unitOf(a.start) == "" && unitOf(b.start) == "" {
		say("Neither run names its unit: they are not known to be of the same deck.")
	}
	differ("The head", headOf(a.start), headOf(b.start), "tilt, gearing and screw are those of two heads")
	differ("The bench", a.start.Virtual, b.start.Virtual, "a virtual run says nothing of a real deck, nor one bench of another")
	differ("The tape", a.start.Tape, b.start.Tape, "treble and delay are those of two recordings")
	differ("What was heard", kindOf(a), kindOf(b), "treble is counted in two ways")
	if a.decision == nil || b.decision == nil {
		say("One of them decided nothing: there are not two optima to hold against each other.")
	}
	switch {
	case a.byHand || b.byHand: // tilts have one axis
	case a.found == nil || b.found == nil:
		say("As found is missing in one of them: their screws cannot be laid on one axis.")
	case !oneCount(a, b):
		say("The jig's count was lost in between (epochs %d, %d): angles of one screw cannot be held against the other's.",
			a.found.Epoch, b.found.Epoch)
	}
	return reasons
}

func orNone(s string) string {
	if s == "" {
		return "not given"
	}
	return fmt.Sprintf("%q", brief(s))
}

func unitOf(s *record.Start) string { return cmp.Or(s.Unit, s.Settings["unit"]) }
func headOf(s *record.Start) string { return cmp.Or(s.Head, s.Settings["head"]) }

func kindOf(p parts) string {
	if r := foundOf(p); r != nil && r.ToneHz > 0 {
		return "tone"
	}
	return "programme"
}

// oneCount reports whether the jig's counts of both runs have the same zero.
func oneCount(a, b parts) bool {
	return a.found != nil && b.found != nil && a.found.Epoch == b.found.Epoch &&
		a.found.MicrostepsPerTurn == b.found.MicrostepsPerTurn && a.found.MicrostepsPerTurn != 0
}

// sideBySide is the table of the same figures of both runs.
func sideBySide(a, b parts) *Table {
	t := &Table{Head: []string{"", "first", "second"}}
	for _, name := range []string{"date", "unit", "head", "job", "tape", "operator", "heard"} {
		t.Rows = append(t.Rows, []string{name, factOf(a, name), factOf(b, name)})
	}
	row := func(name string, of func(parts) string) { t.Rows = append(t.Rows, []string{name, of(a), of(b)}) }
	row("outcome", outcomeOf)
	row("tilt as found", func(p parts) string { found, _, _ := tilts(p.figures); return found })
	row("tilt as left", func(p parts) string { _, left, _ := tilts(p.figures); return left })
	row("treble as found, dB", func(p parts) string { return trebleOf(foundOf(p)) })
	row("treble as left, dB", func(p parts) string { return trebleOf(leftOf(p)) })
	row("delay as found, µs", func(p parts) string { return delayOf(foundOf(p)) })
	row("delay as left, µs", func(p parts) string { return delayOf(leftOf(p)) })
	if a.byHand || b.byHand {
		row("screw turned by", func(p parts) string {
			if p.byHand {
				return "hand"
			}
			return "a jig"
		})
	}
	row("optimum, ° of screw", func(p parts) string {
		at, ok := p.axis.Optimum()
		if !ok || p.byHand {
			return notGiven
		}
		return fmt.Sprintf("%+.1f (%s)", at, strings.TrimSpace(figures.PlusMinus(&p.decision.Optimum.SDArcmin, "′")))
	})
	row("gearing, ′ a turn", func(p parts) string {
		if p.figures.Gearing == nil {
			return notGiven
		}
		return fmt.Sprintf("%+.1f%s", *p.figures.Gearing, figures.PlusMinus(&p.decision.GearingSDArcminPerTurn, ""))
	})
	return t
}

func factOf(p parts, name string) string {
	for _, f := range facts(p) {
		if f.Name == name {
			return f.Value
		}
	}
	return notGiven
}

func outcomeOf(p parts) string {
	if p.end == nil {
		return "cut off"
	}
	return string(p.end.Outcome)
}

func trebleOf(r *record.Reading) string {
	if r == nil {
		return notGiven
	}
	return fmt.Sprintf("%+.2f%s", r.TrebleDB, spread(r.TrebleSDDB))
}

func delayOf(r *record.Reading) string {
	if r == nil {
		return notGiven
	}
	return fmt.Sprintf("%+.1f%s", r.DelayUS, spread(r.DelaySDUS))
}

// settingsApart lists the settings in which the runs differ.
func settingsApart(a, b parts) *Table {
	const most = 12
	t := &Table{Head: []string{"setting", "first", "second"}}
	if a.start == nil || b.start == nil {
		return t
	}
	var keys []string
	for _, settings := range []map[string]string{a.start.Settings, b.start.Settings} {
		for key := range settings {
			if a.start.Settings[key] != b.start.Settings[key] {
				keys = append(keys, key)
			}
		}
	}
	slices.Sort(keys)
	keys = slices.Compact(keys)
	for i, key := range keys {
		if i == most {
			t.Rows = append(t.Rows, []string{fmt.Sprintf("and %d more", len(keys)-most), "", ""})
			break
		}
		t.Rows = append(t.Rows, []string{brief(key), brief(a.start.Settings[key]), brief(b.start.Settings[key])})
	}
	if keys == nil {
		t.Rows = [][]string{{"none", "", ""}}
	}
	return t
}

// bothCurves draws the second run's curve over the first's: by the jig's count if it holds
// for both, else with as found on as found.
func bothCurves(a, b parts) *Figure {
	if a.byHand || b.byHand {
		return bothTilts(a, b)
	}
	f := &Figure{x: "screw of the first run, degrees from as found", y: trebleAxis(a),
		above: &secondAxis{name: "screw of the second run, degrees from as found"}}
	laid := "The jig's count does not hold for both: as found is laid on as found."
	if oneCount(a, b) {
		steps := float64(b.found.PositionMicrosteps) - float64(a.found.PositionMicrosteps)
		f.above.shift = steps / a.found.MicrostepsPerTurn * 360
		laid = "Laid on one another by the jig's count."
	}
	f.addTreble(a, "first ", unchanged, false)
	f.addTreble(b, "second ", func(at float64) float64 { return at + f.above.shift }, true)
	for i, p := range []parts{a, b} {
		if at, ok := p.axis.Optimum(); ok {
			f.marks = append(f.marks, mark{at + float64(i)*f.above.shift,
				fmt.Sprintf("optimum of the %s %+.1f", [2]string{"first", "second"}[i], at), [2]markKind{optimum, asFound}[i]})
		}
	}
	f.cut()
	f.note = strings.TrimSpace(laid + " " + f.note)
	return f
}

// CompareText is the comparison for a terminal, with a curve for each run.
func CompareText(a, b []record.Entry) string {
	text := Compare(a, b).text()
	for i, p := range []parts{sortOut(a), sortOut(b)} {
		if len(p.steps) > 0 {
			text += fmt.Sprintf("\n%s RUN: %s", [2]string{"FIRST", "SECOND"}[i], plot(p))
		}
	}
	return text
}

// text is the text of a page, with its tables of three columns.
func (p Page) text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n  %s\n\n", strings.ToUpper(p.Title), p.Run)
	for _, s := range p.Lead {
		fmt.Fprintf(&b, "  %s\n", chars.Wrap(s, 2))
	}
	for _, row := range p.Rows {
		for _, block := range row {
			if block.Table == nil {
				continue
			}
			fmt.Fprintf(&b, "\n%s\n", strings.ToUpper(block.Title))
			for _, r := range append([][]string{block.Table.Head}, block.Table.Rows...) {
				fmt.Fprintf(&b, "  %-28s %-24s %s\n", chars.Cut(r[0], 28), chars.Cut(r[1], 24), chars.Cut(r[2], 24))
			}
		}
	}
	fmt.Fprintf(&b, "\n  %s\n", chars.Wrap(p.Small.Value, 2))
	return b.String()
}
