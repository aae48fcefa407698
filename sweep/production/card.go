package production

import (
	"encoding/csv"
	"fmt"
	"headtrue/sweep/sheet/chars"
	"io"
	"strconv"
	"strings"
	"time"
)

// width is the width of a card, in columns.
const width = 80

// Card is the result of a batch or a shift.
type Card struct {
	Title  string `json:"title" help:"what the card is of"`
	Units  []Unit `json:"units"`
	Totals Totals `json:"totals"`
}

// NewCard makes the card of units.
func NewCard(title string, units []Unit) Card {
	return Card{title, append([]Unit{}, units...), Sum(units)}
}

// Text returns the card for a terminal.
func (c Card) Text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "RUN CARD   %s\n\n", chars.Cut(c.Title, width-11))
	fmt.Fprintf(&b, "  %-14s %-9s %5s %7s %7s %5s %7s %6s  %s\n", "unit", "head", "tries", "found", "left", "±sd", "proof", "min", "state")
	for _, u := range c.Units {
		fmt.Fprintf(&b, "  %-14s %-9s %5d %7s %7s %5s %7s %6.1f  %s\n", chars.Cut(u.Unit, 14), chars.Cut(u.Head, 9), u.Tries,
			shown("%+.2f", u.FoundOffArcmin), shown("%+.2f", u.LeftOffArcmin), shown("%.2f", u.OptimumSDArcmin), shown("%+.2f", u.ProofArcmin),
			u.Seconds/60, u.State)
		if u.Why != "" {
			b.WriteString(wrapped(fmt.Sprintf("%s: %s", u.Cause, u.Why), 6))
		}
	}
	b.WriteString("\n" + c.Totals.text())
	return b.String()
}

func (t Totals) text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "  units: %d; passed %d, failed %d, taken out %d, proof due %d, to do %d\n",
		t.Units, t.Passed, t.Failed, t.Removed, t.ProofDue, t.ToDo)
	if t.Yield != nil {
		fmt.Fprintf(&b, "  yield %.0f %% of those that are done; passed at the first try %.0f %%\n", 100**t.Yield, 100**t.FirstPass)
	}
	if t.MedianSeconds != nil {
		fmt.Fprintf(&b, "  minutes for a unit, waiting included: median %.1f, %.1f to %.1f\n",
			*t.MedianSeconds/60, *t.LeastSeconds/60, *t.MostSeconds/60)
	}
	var causes []string
	for _, c := range t.Causes {
		causes = append(causes, fmt.Sprintf("%s %d", c.Cause, c.Count))
	}
	if len(causes) > 0 {
		fmt.Fprintf(&b, "  not passed for: %s\n", strings.Join(causes, ", "))
	}
	return b.String()
}

// CSV writes the units as a table.
func (c Card) CSV(to io.Writer) error {
	w := csv.NewWriter(to)
	rows := [][]string{{"batch", "unit", "head", "job", "tries", "state", "outcome", "found_off_arcmin", "left_off_arcmin",
		"optimum_sd_arcmin", "proof_off_arcmin", "moved_arcmin", "time_s", "cause", "why", "run", "proof"}}
	for _, u := range c.Units {
		rows = append(rows, []string{u.Batch, u.Unit, u.Head, u.Job, strconv.Itoa(u.Tries), string(u.State), string(u.Outcome),
			plain(u.FoundOffArcmin), plain(u.LeftOffArcmin), plain(u.OptimumSDArcmin), plain(u.ProofArcmin), plain(u.MovedArcmin),
			strconv.FormatFloat(u.Seconds, 'f', 1, 64), string(u.Cause), u.Why, u.Run, u.Proof})
	}
	return w.WriteAll(rows)
}

func shown(format string, x *float64) string {
	if x == nil {
		return "-"
	}
	return fmt.Sprintf(format, *x)
}

func plain(x *float64) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(*x, 'f', 3, 64)
}

// wrapped breaks a text into lines that begin at a column.
func wrapped(text string, column int) string {
	var b strings.Builder
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && column+len([]rune(line))+1+len([]rune(word)) > width {
			fmt.Fprintf(&b, "%*s%s\n", column, "", line)
			line = ""
		}
		line = strings.TrimPrefix(line+" "+word, " ")
	}
	fmt.Fprintf(&b, "%*s%s\n", column, "", line)
	return b.String()
}

// Title is the title of a card: of a batch, of a period, or both; either may be empty.
func Title(batch string, since, until time.Time) string {
	const minute = "2006-01-02 15:04"
	title := "all batches"
	if batch != "" {
		title = "batch " + batch
	}
	if !since.IsZero() {
		title += ", from " + since.Format(minute)
	}
	if !until.IsZero() {
		title += ", until " + until.Format(minute)
	}
	return title
}
