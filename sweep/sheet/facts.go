package sheet

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

const notGiven = "–"

// facts is the heading: the facts under which a workshop files a job.
func facts(p parts) []Fact {
	var s record.Start
	if p.start != nil {
		s = *p.start
	}
	given := func(name, value string) Fact {
		if value == "" {
			value = notGiven
		}
		return Fact{name, brief(value)}
	}
	list := []Fact{
		given("unit", unitOf(&s)),
		given("head", headOf(&s)),
		given("date", dateOf(p.at)),
		given("job", s.Job),
		given("tape", s.Tape),
		given("operator", s.Operator),
		given("air", airOf(s.Ambient)),
		given("program", s.Program),
		given("jig", jigOf(s)),
		given("sound", soundOf(s)),
		given("heard", heardOf(p)),
		given("tape used", fmt.Sprintf("%.1f s", p.seconds)),
	}
	if p.byHand {
		list = slices.DeleteFunc(list, func(f Fact) bool { return f.Name == "jig" })
	}
	if s.RestoreOf != "" {
		list = append(list, given("undoes", s.RestoreOf))
	}
	if s.ProofOf != "" {
		list = append(list, given("proof of", s.ProofOf))
	}
	return list
}

func dateOf(at string) string {
	t, err := time.Parse(time.RFC3339, at)
	if err != nil {
		return at
	}
	return t.Local().Format("2006-01-02 15:04 MST")
}

func airOf(a *record.Ambient) string {
	if a == nil {
		return ""
	}
	var known []string
	if a.TemperatureC != nil {
		known = append(known, fmt.Sprintf("%.1f °C", *a.TemperatureC))
	}
	if a.HumidityPercent != nil {
		known = append(known, fmt.Sprintf("%.0f %% humidity", *a.HumidityPercent))
	}
	if known == nil {
		return ""
	}
	if a.From != "" {
		known = append(known, "by "+a.From)
	}
	return strings.Join(known, ", ")
}

func jigOf(s record.Start) string {
	var known []string
	if s.Virtual != "" {
		known = append(known, "virtual")
	}
	if s.Jig != nil {
		jig := "firmware " + s.Jig.Firmware + ", link " + s.Jig.Link
		if s.Jig.Identity != "" {
			jig = "jig " + s.Jig.Identity + ", " + jig
		}
		known = append(known, jig)
	}
	if s.Port != "" {
		known = append(known, s.Port)
	}
	return strings.Join(known, ", ")
}

func soundOf(s record.Start) string {
	if s.Virtual != "" {
		return fmt.Sprintf("bench %q, seed %d", s.Virtual, s.Seed)
	}
	return s.Audio
}

// heardOf reports whether a tone or a programme was heard.
func heardOf(p parts) string {
	r := foundOf(p)
	switch {
	case r == nil:
		return ""
	case r.ToneHz == 0:
		return "programme"
	}
	said := fmt.Sprintf("tone of %.0f Hz", r.ToneHz)
	for _, hz := range r.FurtherTonesHz {
		said += fmt.Sprintf(", %.0f Hz", hz)
	}
	return said
}

func foundOf(p parts) *record.Reading {
	if p.found == nil {
		return nil
	}
	return p.found.BladeOff
}

func leftOf(p parts) *record.Reading {
	switch {
	case p.left == nil:
		return nil
	case p.left.Released != nil:
		return p.left.Released
	}
	return p.left.Verified
}

// signed shows a number with its sign, and zero without.
func signed(v float64, decimals int) string { return figures.Signed(&v, decimals, "") }

// tilts are as found and as left relative to the optimum.
func tilts(f figures.Figures) (found, left, change string) {
	show := func(off, sd *float64) string {
		if off == nil {
			return notGiven
		}
		return figures.Signed(off, 1, "′") + figures.PlusMinus(sd, "′")
	}
	return show(f.FoundOffArcmin, f.FoundOffSDArcmin), show(f.LeftOffArcmin, f.LeftOffSDArcmin), show(f.ChangeArcmin(), nil)
}
