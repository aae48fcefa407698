package sheet

import (
	"fmt"
	"math"
	"strings"
	"time"

	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

// Letterhead is the head of a customer's page. Logo is a PNG file, or empty.
type Letterhead struct {
	Name    string
	Address []string
	Logo    []byte
}

// Customer lays out the page for the owner of the deck: the result, as found and as left in
// three figures, a curve, and what was not done.
func Customer(j Job, head Letterhead) Page {
	p := sortOut(j.Entries)
	stamp, against := stampOf(p)
	page := Page{Title: "Head alignment", Run: runOf(p), Large: true, Facts: customerFacts(p), Stamp: stamp, Letterhead: &head}
	page.At, _ = time.Parse(time.RFC3339, p.at)
	page.Lead = stated(p)
	if against != "" {
		page.Lead = append(page.Lead, Capital(against)+".")
	}
	if p.byHand {
		page.Lead = append(page.Lead, "The screw was turned by hand.")
	}
	proof, proved := j.proved(p)
	if proved {
		page.Stamp += ", PROVED"
	}
	if proof != "" {
		page.Lead = append(page.Lead, proof)
	}
	page.Lead = within(page.Lead, leadLength)
	page.Rows = append(page.Rows, []Block{threeFigures(p), limitsBlock(p, j)})
	if f := beforeAndAfter(p); f != nil {
		page.Rows = append(page.Rows, []Block{*f})
	}
	last := []Block{{Title: "What was not done", Items: notDone(p)}}
	if speed := speedBlock(p); speed != nil {
		last = append([]Block{*speed}, last...)
	}
	page.Rows = append(page.Rows, last)
	if j.Listen != (Listen{}) {
		page.Rows = append(page.Rows, []Block{soundBlock(j)})
	}
	if stamp == figures.Pass || stamp == figures.InDoubt {
		page.Sign = []string{"date", "signature"}
	}
	page.Small = Fact{Name: "", Value: customerSmall(p)}
	return page
}

// customerFacts are what is known of the deck and the job; what is unknown is left out.
func customerFacts(p parts) []Fact {
	var s record.Start
	if p.start != nil {
		s = *p.start
	}
	deck := strings.TrimSpace(s.Settings["about.maker"] + " " + s.Settings["about.model"])
	var list []Fact
	for _, f := range []Fact{
		{"customer", s.Settings["about.customer"]}, {"job", s.Job}, {"date", dateOf(p.at)},
		{"deck", deck}, {"serial no.", s.Settings["about.serial"]}, {"unit", unitOf(&s)},
		{"head", headOf(&s)}, {"tape", s.Tape}, {"done by", s.Operator},
	} {
		if f.Value != "" {
			list = append(list, Fact{f.Name, brief(f.Value)})
		}
	}
	return list
}

// threeFigures are tilt, treble and balance as found and as left.
func threeFigures(p parts) Block {
	b := Block{Title: "As found and as left"}
	found, left := foundOf(p), leftOf(p)
	if found == nil && left == nil {
		b.Items = []string{"Nothing was heard of the head."}
		return b
	}
	tiltFound, tiltLeft, _ := tilts(p.figures)
	balance := func(r *record.Reading) string {
		if r == nil {
			return notGiven
		}
		return signed(r.TrebleLR[0]-r.TrebleLR[1], 1) + " dB"
	}
	level := func(r *record.Reading) string {
		if r == nil {
			return notGiven
		}
		return signed(r.TrebleDB, 1) + " dB"
	}
	b.Table = &Table{Head: []string{"", "as found", "as left"}, Rows: [][]string{
		{"tilt of the head", tiltFound, tiltLeft},
		{treblesName(found, left), level(found), level(left)},
		{"balance, left to right", balance(found), balance(left)},
	}}
	b.Note = "Tilt is the angle between the head and the recorded tracks, in minutes of arc (60′ are one degree): too much of it makes the sound dull. ± is 95 %."
	if found != nil && found.ToneHz == 0 {
		b.Note += " Treble is against the mid band, and moves with the music."
	}
	return b
}

// limitsBlock holds what was measured against the limits of the deck.
func limitsBlock(p parts, j Job) Block {
	b := Block{Title: "Measured against the limits", Table: &Table{Head: []string{"", "measured", "limit", ""}}}
	f := p.figures
	var settings map[string]string
	if p.start != nil {
		settings = p.start.Settings
	}
	l := figures.LimitsOf(settings)
	row := func(name, measured, limit string, value *float64, most float64) {
		verdict := "pass"
		switch {
		case value == nil:
			measured, verdict = notGiven, "unknown"
		case most <= 0:
			limit, verdict = notGiven, ""
		case math.Abs(*value) > most:
			verdict = "FAIL"
		}
		b.Table.Rows = append(b.Table.Rows, []string{name, measured, limit, verdict})
	}
	interval := func(sd *float64) string { return strings.TrimSpace(figures.PlusMinus(sd, "′")) }
	row("tilt as left", minutes(f.LeftOffArcmin), minutes(&l.OffArcmin), f.LeftOffArcmin, l.OffArcmin)
	row("uncertainty of it", interval(f.OptimumSDArcmin), interval(&l.SDArcmin), f.OptimumSDArcmin, l.SDArcmin)
	if f.BacklashDeg != nil {
		row("backlash", fmt.Sprintf("%.0f°", *f.BacklashDeg), fmt.Sprintf("%.0f°", l.BacklashDeg), f.BacklashDeg, l.BacklashDeg)
	}
	if n := len(j.Proofs); n > 0 {
		moved := figures.Moved(figures.Of(j.Proofs[n-1]), f.LeftOffArcmin)
		row("moved until proof", minutes(moved), minutes(&l.MovedArcmin), moved, l.MovedArcmin)
	}
	return b
}

// minutes shows a tilt without sign.
func minutes(tilt *float64) string { return strings.ReplaceAll(figures.Arcmin(tilt), "'", "′") }

// proved reports what the newest proof has measured, and whether the head has passed it.
func (j Job) proved(p parts) (said string, passed bool) {
	if len(j.Proofs) == 0 || p.start == nil {
		return "", false
	}
	q := sortOut(j.Proofs[len(j.Proofs)-1])
	if q.end == nil || q.end.Outcome != record.Measured {
		return "", false
	}
	v := figures.JudgeProof(figures.LimitsOf(p.start.Settings), q.figures, p.figures.LeftOffArcmin)
	said = fmt.Sprintf("Listened to again on %s: %s off,%s; moved by %s since it was set.", dateOf(q.at), minutes(q.figures.LeftOffArcmin),
		figures.PlusMinus(q.figures.LeftOffSDArcmin, "′"), minutes(figures.Moved(q.figures, p.figures.LeftOffArcmin)))
	return said, v.Passed
}

// thirdNames are the third-octave bands of a programme in a record, kHz.
var thirdNames = []string{"4", "5", "6.3", "8", "10", "12.5", "16"}

// beforeAndAfter is the response as found and as left by third octaves; of a tone, which has
// one frequency, its level over the tilt. It is nil if the record has neither.
func beforeAndAfter(p parts) *Block {
	found, left := foundOf(p), leftOf(p)
	switch {
	case found == nil || left == nil:
		return nil
	case found.ThirdsDBFS != nil && left.ThirdsDBFS != nil:
		x := make([]float64, len(thirdNames))
		for i := range x {
			x[i] = float64(i)
		}
		was, is := response(found), response(left)
		low, high := make([]float64, len(x)), make([]float64, len(x))
		for i := range x {
			low[i], high[i] = min(was[i], is[i]), max(was[i], is[i])
		}
		g := Graph{X: "third octave, kHz", Y: "dB against the whole", Names: thirdNames,
			Curves: []Curve{{"as found", Limit, x, was}, {"as left", Law, x, is}}, Bands: []Band{{"change", x, low, high}},
			Note: "Both channels together. A programme moves by itself: part of the change may be the music's own."}
		return &Block{Title: "Response before and after", Figure: g.Figure()}
	}
	fromOptimum, ok := p.axis.Tilt()
	if !ok {
		return nil
	}
	g := Graph{X: "tilt of the head, minutes of arc from the optimum", Y: treblesName(found) + ", dBFS", DotName: "as found, as left"}
	var tilt, level []float64
	for _, c := range p.axis.MainLobe() {
		tilt, level = append(tilt, fromOptimum(c.At)), append(level, c.DB)
	}
	if len(tilt) > 0 {
		g.Curves = []Curve{{"fitted", Law, tilt, level}}
	}
	at := func(off *float64, r *record.Reading, name string) {
		if off != nil {
			g.Dots = append(g.Dots, Dot{X: *off, Y: r.TrebleDB})
			g.Marks = append(g.Marks, Mark{X: *off, Name: name})
		}
	}
	at(p.figures.FoundOffArcmin, found, "as found")
	at(p.figures.LeftOffArcmin, left, "as left")
	return &Block{Title: "Level of the tone before and after", Figure: g.Figure()}
}

// response is the level of each third octave, both channels together, against that of the
// whole sound, dB.
func response(r *record.Reading) []float64 {
	power := func(a, b float64) float64 { return math.Pow(10, a/10) + math.Pow(10, b/10) }
	whole := power(r.LevelDBFS[0], r.LevelDBFS[1])
	list := make([]float64, len(r.ThirdsDBFS[0]))
	for i := range list {
		list[i] = 10 * math.Log10(power(r.ThirdsDBFS[0][i], r.ThirdsDBFS[1][i])/whole)
	}
	return list
}

// notDone lists what the customer might take for done.
func notDone(p parts) []string {
	list := []string{"Height, wrap and face of the head, tape path, motor speed, playback level, bias and noise reduction were not adjusted."}
	if s := p.start; s != nil {
		switch s.Settings["to"] {
		case "standard":
			list = append(list, fmt.Sprintf("The standard is that of the reference tape %q.", brief(s.Settings["reference_tape.profile"])))
		case "tape":
			list = append(list, "The head was set to the tape that was played, not to the standard: tapes of other decks may sound duller.")
		}
		if headOf(s) != "" {
			list = append(list, fmt.Sprintf("Only this head and direction (%s) were set.", brief(headOf(s))))
		}
		if s.Virtual != "" {
			list = append(list, "No real deck was set: this is the virtual bench.")
		}
	}
	return list
}

// speedBlock reports how the tape ran; nil without a tone.
func speedBlock(p parts) *Block {
	speed, flutter := p.figures.SayRunning()
	if speed == "" {
		return nil
	}
	return &Block{Title: "Speed and flutter", Items: []string{"Speed " + speed + ".", "Wow and flutter " + flutter + "."}}
}

func soundBlock(j Job) Block {
	b := Block{Title: "Listen", Note: j.Listen.Said}
	if j.Listen.Before != "" {
		b.Clips = append(b.Clips, Fact{"before", j.Listen.Before})
	}
	if j.Listen.After != "" {
		b.Clips = append(b.Clips, Fact{"after", j.Listen.After})
	}
	return b
}

func customerSmall(p parts) string {
	if p.start == nil {
		return "run unknown"
	}
	return brief(p.start.Program) + ", run " + brief(p.start.Run)
}
