//go:build outside

package sheet

import (
	"bytes"
	"errors"
	"image"
	"image/draw"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// These tests check the PDF with the programs of poppler-utils.

// pdfOf writes the page to a file.
func pdfOf(t *testing.T, p Page) string {
	t.Helper()
	text, err := p.PDF()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func poppler(t *testing.T, program string, args ...string) string {
	t.Helper()
	out, err := exec.Command(program, args...).Output()
	if err != nil {
		t.Fatalf("%s: %v", program, err)
	}
	return string(out)
}

func TestThePDFCanBeReadAgain(t *testing.T) {
	read := func(p Page) string {
		return strings.Join(strings.Fields(poppler(t, "pdftotext", "-layout", pdfOf(t, p), "-")), " ")
	}
	says := func(text string, wanted ...string) {
		t.Helper()
		for _, want := range wanted {
			if !strings.Contains(text, want) {
				t.Errorf("missing %q in\n%s", want, text)
			}
		}
	}
	says(read(NewPage(Job{Entries: filled(t)})), "20261127T182040Z", "D-104", "J-2041", "21.5 °C", "PASS",
		"it was 19.7' off and is now 0.3' off, ±0.6' (95 %)", "as found +19.7′ ±1.4′ -18.58 ±0.5 +11.0 ±2.0", "as left -0.3′ ±0.6′", "delay, µs",
		"+156′ ±6.4′ a turn", "OPTIMUM -41.3", "dull edge -81.9", "screw, degrees from as found", "belt changed")
	customer := Customer(Job{Entries: owned(t, "tone")}, Letterhead{Name: "Millbrook Tape Repairs", Address: []string{"4 Mill Lane"}})
	says(read(customer), "Millbrook Tape Repairs", "4 Mill Lane", "Head alignment", "A. Example", "Aldervane K-20", "004711", "PASS",
		"tilt of the head +19.7′ ±1.4′ -0.3′ ±0.6′", "as found", "as left", "signature", "Height, wrap and face of the head")
	label, err := Label(Job{Entries: owned(t, "tone")}, Letterhead{Name: "Millbrook Tape Repairs"})
	path := filepath.Join(t.TempDir(), "label.pdf")
	if err := errors.Join(err, os.WriteFile(path, label, 0o600)); err != nil {
		t.Fatal(err)
	}
	says(strings.Join(strings.Fields(poppler(t, "pdftotext", "-layout", path, "-")), " "), "Aldervane K-20 · 004711 · D-104", "Azimuth PASS", "0.3′ off, ±0.6′ (95 %)", "2026-11-27")
}

// The PDF of any run is one sheet of A4 with all words on it and the fonts embedded.
func TestThePDFIsOneSheet(t *testing.T) {
	long := crowded(t)
	for name, page := range map[string]Page{
		"tone": NewPage(Job{Entries: filled(t)}), "programme": NewPage(Job{Entries: recorded(t, "programme")}),
		"crowded": NewPage(Job{Entries: long}), "compared": Compare(filled(t), long), "nothing": NewPage(Job{}),
	} {
		path := pdfOf(t, page)
		info := poppler(t, "pdfinfo", path)
		for _, want := range []string{`Pages: +1\n`, `Page size: +595\.\d+ x 841\.\d+ pts \(A4\)`} {
			if !regexp.MustCompile(want).MatchString(info) {
				t.Errorf("%s: no %q in:\n%s", name, want, info)
			}
		}
		fonts := strings.Split(strings.TrimSpace(poppler(t, "pdffonts", path)), "\n")[2:]
		if len(fonts) == 0 {
			t.Errorf("%s: no fonts", name)
		}
		for _, line := range fonts {
			if f := strings.Fields(line); len(f) < 5 || f[len(f)-5] != "yes" {
				t.Errorf("%s: not embedded: %s", name, line)
			}
		}
		words := boxesOf(t, path)
		for _, w := range words {
			if w.x0 < pdfMargin-2 || w.x1 > pdfWidth-pdfMargin+2 || w.y0 < pdfMargin-2 || w.y1 > pdfHeight-pdfMargin+2 {
				t.Errorf("%s: %q lies outside the margins: %+v", name, w.text, w)
			}
		}
		for i, a := range words {
			for _, b := range words[i+1:] {
				wide, high := min(a.x1, b.x1)-max(a.x0, b.x0), min(a.y1, b.y1)-max(a.y0, b.y0)
				if wide > 1 && high > 3 {
					t.Errorf("%s: %q and %q lie on each other", name, a.text, b.text)
				}
			}
		}
	}
}

// printedWord is a word and its position, in points from the upper left corner.
type printedWord struct {
	text           string
	x0, y0, x1, y1 float64
}

func (b printedWord) middle() float64 { return (b.x0 + b.x1) / 2 }

func boxesOf(t *testing.T, path string) []printedWord {
	t.Helper()
	pattern := regexp.MustCompile(`<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*)</word>`)
	var list []printedWord
	for _, m := range pattern.FindAllStringSubmatch(poppler(t, "pdftotext", "-bbox", path, "-"), -1) {
		var v [4]float64
		for i := range v {
			v[i], _ = strconv.ParseFloat(m[i+1], 64)
		}
		list = append(list, printedWord{m[5], v[0], v[1], v[2], v[3]})
	}
	if list == nil {
		t.Fatal("no words found")
	}
	return list
}

// In a black-and-white print, the line of the optimum is at its place on the axis, and so are
// the dotted lines of the dull edges.
func TestLinesStandWhereTheAxisSays(t *testing.T) {
	path := pdfOf(t, NewPage(Job{Entries: filled(t)}))
	words := boxesOf(t, path)
	find := func(text string, below float64) printedWord {
		for _, w := range words {
			if w.text == text && w.y0 > below {
				return w
			}
		}
		t.Fatalf("no %q below %g points", text, below)
		return printedWord{}
	}
	top := find("OPTIMUM", 0)
	left := find("-100", top.y1)
	right := find("100", top.y1)
	at := func(deg float64) float64 { return left.middle() + (deg+100)/200*(right.middle()-left.middle()) }
	page := printed(t, path)
	for name, c := range map[string]struct{ deg, least, most float64 }{
		"optimum": {-41.27, 0.95, 1}, "as found": {0, 0.5, 0.8}, "low dull edge": {-81.86, 0.2, 0.6}, "high dull edge": {-5.47, 0.2, 0.6},
		"nothing": {-65, 0, 0.15},
	} {
		dark := darkShare(page, at(c.deg), top.y1+6, left.y0-8)
		if dark < c.least || dark > c.most {
			t.Errorf("%s at %g degrees: %.2f of the height is dark, want %g to %g", name, c.deg, dark, c.least, c.most)
		}
	}
}

const dotsPerInch = 288

// printed renders the page in grey.
func printed(t *testing.T, path string) *image.Gray {
	t.Helper()
	decoded, err := png.Decode(bytes.NewReader([]byte(poppler(t, "pdftoppm", "-gray", "-png", "-r", strconv.Itoa(dotsPerInch), path))))
	if err != nil {
		t.Fatal(err)
	}
	page := image.NewGray(decoded.Bounds())
	draw.Draw(page, page.Rect, decoded, image.Point{}, draw.Src)
	return page
}

// darkShare is the dark share of a vertical line, within half a point of it.
func darkShare(page *image.Gray, x, y0, y1 float64) float64 {
	const dots = dotsPerInch / 72.0
	dark, rows := 0, 0
	for y := int(y0 * dots); y < int(y1*dots); y++ {
		rows++
		for px := int(math.Round((x - 0.5) * dots)); px <= int(math.Round((x+0.5)*dots)); px++ {
			if page.GrayAt(px, y).Y < 100 {
				dark++
				break
			}
		}
	}
	return float64(dark) / float64(rows)
}
