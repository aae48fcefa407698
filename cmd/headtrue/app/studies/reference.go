package studies

import (
	"context"
	"fmt"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/logbook"
	"headtrue/sweep/study"
	"headtrue/sweep/study/report"
)

// Blocks are the ways to group days.
var Blocks = map[string]func(logbook.Summary) string{
	"week": func(s logbook.Summary) string {
		year, week := s.Begun.Local().ISOWeek()
		return fmt.Sprintf("%d-W%02d", year, week)
	},
	"month": func(s logbook.Summary) string { return s.Begun.Local().Format("2006-01") },
}

// ReferenceOf reports how much a figure of reference decks differs within a day, from day to
// day and from block to block of days.
func ReferenceOf(ctx context.Context, b *logbook.Book, f logbook.Filter, of, block string) (report.Reference, error) {
	byUnit := map[string][]study.Dated{}
	var units []string
	for s, err := range b.List(ctx, f) {
		if err != nil {
			return report.Reference{}, err
		}
		v := Figures[of].Of(s)
		if v == nil {
			continue
		}
		if byUnit[s.Unit] == nil {
			units = append(units, s.Unit)
		}
		byUnit[s.Unit] = append(byUnit[s.Unit], study.Dated{Standard: s.Unit, Run: Blocks[block](s), Day: Groupings["day"](s), Arcmin: *v})
	}
	var readings []study.Dated
	for _, unit := range units {
		readings = append(readings, byUnit[unit]...)
	}
	checks, left := study.Balance(readings)
	n, err := study.NestedChecks(checks)
	if err != nil {
		return report.Reference{}, app.Wrong("too little data: a reference needs 2 readings a day, on 2 days a %s, in 2 %ss; of %d readings %d are in days and %ss of equal numbers (%w)",
			block, block, len(readings), len(readings)-left, block, err)
	}
	return report.NewReference(of, Figures[of].Unit, block, n, len(readings)-left, left), nil
}
