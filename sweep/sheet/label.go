package sheet

import (
	"codeberg.org/go-pdf/fpdf"

	"headtrue/sweep/figures"
)

// Dimensions of a label, in millimetres: a common size of label tape.
const (
	labelWidth, labelHeight = 62, 29
	pointsPerMM             = 72 / 25.4
)

// Label draws a label for the deck as PDF: what it is, the result, the day and the run.
func Label(j Job, head Letterhead) ([]byte, error) {
	p := sortOut(j.Entries)
	stamp, _ := stampOf(p)
	if _, passed := j.proved(p); passed {
		stamp += ", PROVED"
	}
	const margin = 6.0
	width := labelWidth*pointsPerMM - 2*margin
	d := newPDF(fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "pt", Size: fpdf.SizeType{Wd: labelWidth * pointsPerMM, Ht: labelHeight * pointsPerMM}}))
	at := NewPage(j).At
	d.describe("Label "+runOf(p), at)
	d.AddPage()
	y := margin
	row := func(style string, size float64, text string) {
		if text == "" {
			return
		}
		d.font(style, size, ink)
		d.Text(margin, y+size*0.95, d.fit(text, width))
		y += size * 1.25
	}
	row("", 7, head.Name)
	var deck string
	for _, f := range customerFacts(p) {
		if f.Name == "unit" || f.Name == "deck" || f.Name == "serial no." || f.Name == "head" {
			if deck != "" {
				deck += " · "
			}
			deck += f.Value
		}
	}
	row("B", 8, deck)
	row("B", 13, "Azimuth "+string(stamp))
	if off := p.figures.LeftOffArcmin; off != nil && stamp != figures.NotSet {
		row("", 8.5, minutes(off)+" off,"+figures.PlusMinus(p.figures.LeftOffSDArcmin, "′")+" (95 %)")
	}
	row("", 7, dateOf(p.at))
	row("", 6.5, "run "+runOf(p))
	return d.bytes()
}
