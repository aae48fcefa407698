package sheet

import (
	"image/color"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// canvas is the surface on which a figure is drawn. Lengths are in points, from the lower left
// corner, with y upwards.
type canvas interface {
	line(s stroke, through ...xy)
	// area fills the polygon through some corners.
	area(c color.Color, through ...xy)
	glyph(shape shape, c color.Color, at xy)
	// box fills a rectangle with white.
	box(low, high xy)
	// text sets words from a position on; upright sets them from bottom to top.
	text(c color.Color, at xy, upright bool, words string)
}

// xy is a position: in the figure's own units, or on a canvas.
type xy struct{ X, Y float64 }

// stroke is the style of a line.
type stroke struct {
	color  color.Color
	width  float64
	dashes []float64 // lengths drawn and left out in turn
}

// shape is the shape of a measured point.
type shape int

const (
	disc shape = iota
	ring
	box
	square // not filled
	cross
)

// glyphRadius is half the size of a point, rimWidth the line width of points that are not
// filled.
const (
	glyphRadius = 2.0
	rimWidth    = 0.5
)

// labelPoints is the size of all text in a figure.
const labelPoints = 7.0

// labelFont is the font of the figures; the pages have it as well.
var labelFont = sync.OnceValue(func() *sfnt.Font {
	f, err := sfnt.Parse(liberationsansregular.TTF)
	if err != nil {
		panic(err) // it is built in
	}
	return f
})

// widthOf is the width of words in a figure.
func widthOf(words string) float64 {
	const perPoint = 64
	f, size := labelFont(), fixed.Int26_6(labelPoints*perPoint)
	var b sfnt.Buffer
	var sum fixed.Int26_6
	for _, r := range words {
		glyph, err := f.GlyphIndex(&b, r)
		if err != nil {
			continue
		}
		if advance, err := f.GlyphAdvance(&b, glyph, size, font.HintingNone); err == nil {
			sum += advance
		}
	}
	return float64(sum) / perPoint
}
