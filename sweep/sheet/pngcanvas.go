package sheet

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// pngScale is the number of pixels in a point: 216 to the inch.
const pngScale = 3

// pngCanvas draws figures as pixels.
type pngCanvas struct {
	image  *image.RGBA
	face   font.Face
	bottom float64 // of the figure, in points from the upper edge
}

// PNG draws the figures of the page below one another, each with its title.
func (p Page) PNG() ([]byte, error) {
	figures := p.figures()
	face, err := opentype.NewFace(labelFont(), &opentype.FaceOptions{Size: labelPoints * pngScale, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		return nil, err
	}
	size := image.Rect(0, 0, int(figureWidth*pngScale), int(figuresHeight(figures)*pngScale))
	c := &pngCanvas{image: image.NewRGBA(size), face: face}
	draw.Draw(c.image, size, image.White, image.Point{}, draw.Src)
	for i, b := range figures {
		c.bottom = (figureTall + titleTall) * float64(i+1)
		c.text(ink, xy{figureMargin, figureTall + titleTall/3}, false, b.Title)
		b.Figure.draw(c, figureWidth-figureMargin, figureTall)
	}
	var out bytes.Buffer
	err = png.Encode(&out, c.image)
	return out.Bytes(), err
}

func (c *pngCanvas) at(p xy) (x, y float32) {
	return float32(p.X * pngScale), float32((c.bottom - p.Y) * pngScale)
}

func (c *pngCanvas) area(ink color.Color, through ...xy) {
	low, high := xy{math.Inf(1), math.Inf(1)}, xy{math.Inf(-1), math.Inf(-1)}
	for _, p := range through {
		x, y := c.at(p)
		low, high = xy{min(low.X, float64(x)), min(low.Y, float64(y))}, xy{max(high.X, float64(x)), max(high.Y, float64(y))}
	}
	corner := image.Pt(int(low.X)-1, int(low.Y)-1)
	r := vector.NewRasterizer(int(high.X)-corner.X+2, int(high.Y)-corner.Y+2)
	for i, p := range through {
		x, y := c.at(p)
		if x, y = x-float32(corner.X), y-float32(corner.Y); i == 0 {
			r.MoveTo(x, y)
		} else {
			r.LineTo(x, y)
		}
	}
	r.ClosePath()
	r.Draw(c.image, r.Bounds().Add(corner), image.NewUniform(ink), image.Point{})
}

// line draws each piece of a line, and of its dashes, as a rectangle.
func (c *pngCanvas) line(s stroke, through ...xy) {
	left, on, next := math.Inf(1), true, 0 // of the dash under way
	if len(s.dashes) > 0 {
		left, next = s.dashes[0], 1
	}
	for i := 1; i < len(through); i++ {
		from, to := through[i-1], through[i]
		length := math.Hypot(to.X-from.X, to.Y-from.Y)
		for gone := 0.0; gone < length; {
			piece := min(left, length-gone)
			if on {
				c.piece(s, along(from, to, gone/length), along(from, to, (gone+piece)/length))
			}
			gone += piece
			if left -= piece; left <= 0 {
				left, on, next = s.dashes[next%len(s.dashes)], !on, next+1
			}
		}
	}
}

func along(from, to xy, share float64) xy {
	return xy{from.X + share*(to.X-from.X), from.Y + share*(to.Y-from.Y)}
}

func (c *pngCanvas) piece(s stroke, from, to xy) {
	length := math.Hypot(to.X-from.X, to.Y-from.Y)
	if length == 0 {
		return
	}
	x, y := (to.X-from.X)/length*s.width/2, (to.Y-from.Y)/length*s.width/2
	c.area(s.color, xy{from.X - y, from.Y + x}, xy{to.X - y, to.Y + x}, xy{to.X + y, to.Y - x}, xy{from.X + y, from.Y - x})
}

func (c *pngCanvas) glyph(s shape, ink color.Color, at xy) {
	corners, turn := 4, math.Pi/4
	radius := glyphRadius * math.Sqrt2
	if s == disc || s == ring {
		corners, turn, radius = 24, 0, glyphRadius
	}
	around := func(radius float64) []xy {
		all := make([]xy, corners+1)
		for i := range all {
			sin, cos := math.Sincos(2*math.Pi*float64(i)/float64(corners) + turn)
			all[i] = xy{at.X + radius*cos, at.Y + radius*sin}
		}
		return all
	}
	if s == ring || s == square {
		c.line(stroke{color: ink, width: rimWidth}, around(radius)...)
		return
	}
	c.area(ink, around(radius)...)
}

func (c *pngCanvas) box(low, high xy) {
	c.area(color.White, low, xy{high.X, low.Y}, high, xy{low.X, high.Y})
}

func (c *pngCanvas) text(ink color.Color, at xy, upright bool, words string) {
	if !upright {
		x, y := c.at(at)
		d := font.Drawer{Dst: c.image, Src: image.NewUniform(ink), Face: c.face, Dot: fixed.P(int(x), int(y))}
		d.DrawString(words)
		return
	}
	// The words are set level on a strip of their own, and then turned.
	wide, tall := int(widthOf(words)*pngScale)+2, int(math.Ceil(rowHeight*pngScale))
	strip := image.NewRGBA(image.Rect(0, 0, wide, tall))
	base := tall - int(math.Round(baseline*pngScale))
	d := font.Drawer{Dst: strip, Src: image.NewUniform(ink), Face: c.face, Dot: fixed.P(0, base)}
	d.DrawString(words)
	x, y := c.at(at)
	turned := image.NewRGBA(image.Rect(0, 0, tall, wide))
	for i := range wide {
		for j := range tall {
			turned.Set(j, wide-1-i, strip.At(i, j))
		}
	}
	place := image.Rect(int(x)-base, int(y)-wide, int(x)-base+tall, int(y))
	draw.Draw(c.image, place, turned, image.Point{}, draw.Over)
}
