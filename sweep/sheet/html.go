package sheet

import (
	"bytes"
	_ "embed"
	"encoding/base64"
	"html/template"
	"strings"
	"sync"
)

//go:embed page.html.tmpl
var pageHTML string

var pageTemplate = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("page").Funcs(template.FuncMap{
		"svg": svgOf, "uneven": uneven, "first": func(i int) bool { return i == 0 },
	}).Parse(pageHTML))
})

// HTML draws the page as one file: no script, and nothing external but the sound beside it.
func (p Page) HTML() ([]byte, error) { return HTML(p) }

// HTML draws pages as one file; each prints on one sheet of A4.
func HTML(pages ...Page) ([]byte, error) {
	var out bytes.Buffer
	err := pageTemplate().Execute(&out, pages)
	return out.Bytes(), err
}

// Image is the logo as a data address; empty if there is none.
func (l Letterhead) Image() template.URL {
	if len(l.Logo) == 0 {
		return ""
	}
	return template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(l.Logo))
}

// StampClass is the style of the stamp in HTML.
func (p Page) StampClass() string {
	for _, i := range stampInks {
		if strings.HasPrefix(string(p.Stamp), string(i.begins)) {
			return strings.ToLower(strings.ReplaceAll(string(i.begins), " ", "-"))
		}
	}
	return "plain"
}

// svgOf draws the figure of a block, for half a row or a whole one. A figure of a whole row is
// drawn a second time for a narrow screen; the style shows one of them.
func svgOf(b Block, blocks int) template.HTML {
	const narrow, low = 262, 168
	if blocks > 1 {
		return template.HTML(svgFigure(b.Figure, b.Title, narrow, low)) // all words are escaped
	}
	return template.HTML(`<div class="broad">` + svgFigure(b.Figure, b.Title, 540, 190) +
		`</div><div class="narrow">` + svgFigure(b.Figure, b.Title, narrow, low) + `</div>`)
}

// crowdedAt is the number of characters of verdict, limits and notes that still print on one
// sheet of A4 in letters of the usual size.
const crowdedAt = 1500

// Crowded reports whether the page prints in smaller letters.
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
