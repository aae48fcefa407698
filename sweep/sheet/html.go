package sheet

import (
	"bytes"
	_ "embed"
	"html/template"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

//go:embed page.html.tmpl
var pageHTML string

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
	"svg": svgOf, "uneven": uneven, "first": func(i int) bool { return i == 0 },
}).Parse(pageHTML))

// HTML draws the page as one file: no script, nothing from outside but the
// sound beside it. It prints on one sheet of A4.
func (p Page) HTML() ([]byte, error) {
	var out bytes.Buffer
	err := pageTemplate.Execute(&out, p)
	return out.Bytes(), err
}

// svgOf draws the figure of a block, for half a row or a whole one.
func svgOf(b Block, blocks int) (template.HTML, error) {
	width, height := vg.Length(540), vg.Length(190)
	if blocks > 1 {
		width, height = 262, 168
	}
	canvas := vgsvg.New(width, height)
	b.Figure.draw(draw.New(canvas))
	var out bytes.Buffer
	if _, err := canvas.WriteTo(&out); err != nil {
		return "", err
	}
	_, svg, _ := strings.Cut(out.String(), "<svg ")
	// The canvas has escaped the words that it draws.
	return template.HTML(`<svg role="img" aria-label="` + template.HTMLEscapeString(b.Title) + `" ` + svg), nil
}

// crowdedAt is how many characters of verdict, limits and notes still print on
// one sheet of A4 in letters of the usual size.
const crowdedAt = 1500

// Crowded says that the page prints in smaller letters.
func (p Page) Crowded() bool {
	n := 0
	for _, s := range p.Lead {
		n += len(s)
	}
	for _, row := range p.Rows {
		for _, b := range row {
			n += len(strings.Join(b.Items, "")) + len(b.Note)
		}
	}
	return n > crowdedAt
}
