package sheet

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

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
	return t.UTC().Format("2006-01-02 15:04 UTC")
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
		known = append(known, "firmware "+s.Jig.Firmware+", link "+s.Jig.Link)
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

// tiltAt is the tilt at an angle of the screw, relative to the optimum, by the gearing.
func tiltAt(d *record.Decision, deg float64) float64 {
	return (deg - d.Optimum.Deg) * d.GearingArcminPerTurn / 360
}

// signed shows a number with its sign, and zero without.
func signed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	switch {
	case strings.Trim(s, "-0.") == "":
		return strings.TrimPrefix(s, "-")
	case v > 0:
		return "+" + s
	}
	return s
}

// tilts are as found and as left relative to the optimum, empty if not known.
func tilts(p parts) (found, left, change string) {
	d := p.decision
	found, left, change = notGiven, notGiven, notGiven
	if d == nil || !d.Optimum.OK || d.GearingArcminPerTurn == 0 {
		return found, left, change
	}
	foundOff, foundSD := tiltAt(d, d.FoundHomeDeg), math.Hypot(d.FoundHomeSDArcmin, d.Optimum.SDArcmin)
	if d.FoundOffArcmin != nil { // without the tilt of the seated blade; older records have none
		foundOff, foundSD = *d.FoundOffArcmin, d.FoundOffSDArcmin
	}
	if d.FoundHomeOK {
		found = fmt.Sprintf("%+.1f ± %.1f", foundOff, foundSD)
	}
	if p.left != nil {
		stands, sd := tiltAt(d, p.left.ScrewDeg)-p.left.BladeTiltArcmin, d.Optimum.SDArcmin
		if p.left.OffArcmin != nil { // it was measured there
			stands, sd = *p.left.OffArcmin, math.Hypot(sd, p.left.OffSDArcmin)
		}
		left = fmt.Sprintf("%s ± %.2f", signed(stands, 2), sd)
		if d.FoundHomeOK {
			change = fmt.Sprintf("%+.1f", stands-foundOff)
		}
	}
	return found, left, change
}
