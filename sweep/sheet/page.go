package sheet

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

// Job is the source of a run's page: its record, the later proofs of its as left (oldest
// first), and the sound.
type Job struct {
	Entries []record.Entry
	Proofs  [][]record.Entry
	Listen  Listen
}

// Listen names the sound beside a page: its path relative to the page, empty if there is none,
// and how it was processed.
type Listen struct {
	Before, After string
	Said          string
}

// Page is the content of one sheet of paper, in order. HTML, PDF and Text draw the same page.
type Page struct {
	Title string // kind of sheet
	Run   string // name of the run or runs
	At    time.Time
	Facts []Fact
	Lead  []string  // in plain words; the first sentence is emphasised
	Rows  [][]Block // one block, or two beside each other
	Small Fact      // details for few readers, as one paragraph

	Letterhead *Letterhead   // nil if the page has none
	Stamp      figures.Stamp // beside the lead; empty if the page has none
	Sign       []string      // what is written by hand at the foot, each above a line of its own
	Large      bool          // in larger letters
}

// Fact is a name and its value.
type Fact struct{ Name, Value string }

// Block is a piece of a page. Only the fields that are set are shown.
type Block struct {
	Title  string
	Table  *Table
	Figure *Figure
	Items  []string
	Clips  []Fact // name and path
	Note   string
}

// FigureNote is the note needed to read the figure.
func (b Block) FigureNote() string { return b.Figure.note }

// Table has a head and rows of the same length; all columns but the first are aligned to the
// right.
type Table struct {
	Head []string
	Rows [][]string
}

// uneven reports whether the first of two blocks takes two thirds of the row.
func uneven(row []Block) bool {
	a, b := row[0].Table, row[1].Table
	return a != nil && len(a.Head) > 4 && (b == nil || len(b.Head) < 4)
}

// Limits, in characters, of the texts that people or a run have written: the page stays one
// sheet of paper for any text.
const (
	factLength    = 60
	leadLength    = 560
	noteLength    = 170
	notesShown    = 3
	itemLength    = 170
	proofsShown   = 2
	settingsShown = 1200
	shortened     = "… (shortened; the record has it whole)"
)

// NewPage lays out the job sheet of a run.
func NewPage(j Job) Page {
	p := sortOut(j.Entries)
	page := Page{Title: "Job sheet", Facts: facts(p), Lead: lead(p), Small: Fact{"Settings in force", settingsOf(p)}}
	if p.start != nil {
		page.Title, page.Run = "Job sheet: "+brief(p.start.Command), brief(p.start.Run)
	}
	page.Stamp, _ = stampOf(p)
	if _, passed := j.proved(p); passed {
		page.Stamp += ", PROVED"
	}
	page.At, _ = time.Parse(time.RFC3339, p.at)
	page.Rows = append(page.Rows, []Block{statesBlock(p), estimatesBlock(p)})
	if p.placed() {
		title := "Treble against the screw"
		if p.byHand {
			title = "Treble against the tilt"
		}
		page.Rows = append(page.Rows, []Block{{Title: title, Figure: trebleFigure(p)}})
	}
	if len(p.steps) > 0 && !p.byHand { // by hand, the tilt is the delay
		page.Rows = append(page.Rows, []Block{{Title: "Delay between the channels", Figure: delayFigure(p)}, responseBlock(p)})
	} else {
		page.Rows = append(page.Rows, []Block{responseBlock(p)})
	}
	page.Rows = append(page.Rows, []Block{{Title: "Limits of what was measured", Items: limits(p)}, remarks(p, j)})
	return page
}

// lead is the verdict, cut if it is too long.
func lead(p parts) []string {
	said := stated(p)
	if d := p.decision; d != nil {
		said = append(said, Capital(strings.TrimRight(agreement(d), "."))+".")
	}
	said = append(said, missing(p)...)
	return within(append(said, howFar(p)...), leadLength)
}

// missing names the parts of a complete run that the record lacks.
func missing(p parts) []string {
	var lacks []string
	for _, part := range []struct {
		name string
		has  bool
	}{
		{"who asked for what", p.start != nil},
		{"the state as found", p.found != nil},
		{"measured places", len(p.steps) > 0},
		{"a decision", p.decision != nil},
		{"the state as left", p.left != nil},
	} {
		if !part.has {
			lacks = append(lacks, part.name)
		}
	}
	if lacks == nil {
		return nil
	}
	return []string{"Missing in the record: " + strings.Join(lacks, ", ") + "."}
}

// remarks are the notes of persons, the later proofs, and the sound.
func remarks(p parts, j Job) Block {
	b := Block{Title: "Notes, proofs, sound"}
	for _, n := range p.notes[:min(len(p.notes), notesShown)] {
		by := ""
		if n.By != "" {
			by = brief(n.By) + ": "
		}
		b.Items = append(b.Items, by+shorten(n.Text, noteLength))
	}
	if more := len(p.notes) - notesShown; more > 0 {
		b.Items = append(b.Items, fmt.Sprintf("%d more notes in the record.", more))
	}
	for _, proof := range j.Proofs[max(0, len(j.Proofs)-proofsShown):] {
		b.Items = append(b.Items, shorten(proofLine(sortOut(proof)), itemLength))
	}
	if more := len(j.Proofs) - proofsShown; more > 0 {
		b.Items = append(b.Items, fmt.Sprintf("%d earlier proofs in the logbook.", more))
	}
	if len(b.Items) == 0 {
		b.Items = []string{"No notes, and no proof after this run."}
	}
	if j.Listen.Before != "" {
		b.Clips = append(b.Clips, Fact{"before", j.Listen.Before})
	}
	if j.Listen.After != "" {
		b.Clips = append(b.Clips, Fact{"after", j.Listen.After})
	}
	b.Note = j.Listen.Said
	return b
}

// proofLine is what a later run measured of as left.
func proofLine(p parts) string {
	run, r := runOf(p), leftOf(p)
	if r == nil {
		r = foundOf(p)
	}
	if r == nil {
		return "Proof " + run + ": nothing was heard."
	}
	_, off, _ := tilts(p.figures)
	return fmt.Sprintf("Proof %s: %s from the optimum, treble %+.2f dB.", run, off, r.TrebleDB)
}

// settingsOf lists the settings of the run that are not empty.
func settingsOf(p parts) string {
	if p.start == nil {
		return "not recorded"
	}
	var list []string
	for key, value := range p.start.Settings {
		if value != "" && key != "unit" && key != "head" {
			list = append(list, key+" "+value)
		}
	}
	if list == nil {
		return "none recorded"
	}
	slices.Sort(list)
	return shorten(strings.Join(list, "; "), settingsShown)
}

// within keeps the sentences that fit, and shortens the first that does not.
func within(sentences []string, most int) []string {
	for i, s := range sentences {
		if n := len([]rune(s)); n > most {
			return append(sentences[:i:i], shorten(s, most))
		}
		most -= len([]rune(s))
	}
	return sentences
}

// shorten cuts a text to a number of characters and adds a note in words.
func shorten(text string, most int) string { return cutTo(text, most, shortened) }

// brief is shorten for a name, with dots instead of the note.
func brief(text string) string { return cutTo(text, factLength, "…") }

// cutTo makes one line of a text. Characters that no printed page has become a question mark,
// so that both kinds of page show the same.
func cutTo(text string, most int, end string) string {
	runes := []rune(strings.Join(strings.Fields(strings.Map(printable, text)), " "))
	if len(runes) <= most {
		return string(runes)
	}
	return strings.TrimRight(string(runes[:most]), " ") + end
}

func printable(r rune) rune {
	switch {
	case r == '\n' || r == '\t' || r == '\r':
		return ' '
	case r < ' ' || r == 0x7f || r > 0xffff:
		return '?'
	}
	return r
}
