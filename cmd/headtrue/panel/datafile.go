package panel

import (
	"cmp"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/sheetfile"
	"headtrue/cmd/headtrue/app/studies"
	"headtrue/sweep/logbook"
	"headtrue/sweep/sheet"
	"headtrue/sweep/study"
)

// sheets are the files of a run that package sheetfile writes, by name.
var sheets = map[string]sheetfile.Kind{"sheet.pdf": sheetfile.ForCustomer, "sheet.html": sheetfile.ForCustomer, "figures.svg": sheetfile.ForCustomer,
	"workshop.pdf": sheetfile.ForWorkshop, "label.pdf": sheetfile.Label}

// file gives a file of a run.
func (q inquiry) file() error {
	rec, err := q.loaded(q.PathValue("run"))
	if err != nil {
		return err
	}
	name := q.PathValue("file")
	kind, isSheet := sheets[name]
	switch {
	case name == "sheet.txt":
		q.give(kinds["txt"], []byte(sheet.Text(rec.Entries)))
		return nil
	case isSheet:
		return folder(func(dir string) error {
			path := filepath.Join(dir, name)
			if err := sheetfile.Write(q.ctx, q.book, q.Settings, path, rec, kind); err != nil {
				return err
			}
			return q.giveFile(path)
		})
	case name == "listen", name == "before.wav", name == "after.wav":
		return folder(func(dir string) error {
			said, err := sheetfile.Clips(q.ctx, q.book, dir, rec)
			if err != nil {
				return err
			}
			if name == "listen" {
				return q.json(map[string]any{"before": said.Before != "", "after": said.After != "", "said": said.Said})
			}
			return q.giveFile(filepath.Join(dir, "clip-"+name))
		})
	}
	return app.Wrong("a run has no file %q", name)
}

func (q inquiry) giveFile(path string) error {
	raw, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return app.Wrong("the run has no such sound")
	}
	if err == nil {
		q.give(kinds[strings.TrimPrefix(filepath.Ext(path), ".")], raw)
	}
	return err
}

// chart gives a control chart.
func (q inquiry) chart() error {
	f, err := q.filter()
	if err != nil {
		return err
	}
	f.OldestFirst = true
	of, kind, group := cmp.Or(q.asked.Get("of"), "left-off"), cmp.Or(q.asked.Get("kind"), "individuals"), cmp.Or(q.asked.Get("group"), "day")
	switch {
	case studies.Figures[of].Of == nil:
		return app.Wrong("of=%q: must be left-off, found-off, tape, backlash or gearing", of)
	case kind != "individuals" && kind != "xbar":
		return app.Wrong("kind=%q: must be individuals or xbar", kind)
	case studies.Groupings[group] == nil:
		return app.Wrong("group=%q: must be day, unit or operator", group)
	}
	drawn, err := studies.ChartOf(q.ctx, q.book, f, of, kind, group, study.Baseline{})
	if err != nil {
		return app.Wrong("%w", err)
	}
	return q.drawn(drawn, drawn.Text, drawn.Page)
}

// conducted is a study of the logbook.
type conducted struct {
	Study   string    `json:"study"`
	Command string    `json:"command"`
	Runs    int       `json:"runs"`
	Begun   time.Time `json:"begun"`
	Ended   time.Time `json:"ended"`
}

// kindOf names the kind of a study by the command of its runs.
func kindOf(s logbook.Summary) string {
	if s.Command == app.CommandSearch {
		return app.CommandDrift
	}
	return s.Command
}

// allStudies lists the studies of a logbook, that with the newest run first.
func allStudies(ctx context.Context, book *logbook.Book) ([]*conducted, error) {
	list, at := []*conducted{}, map[string]*conducted{}
	for s, err := range book.List(ctx, logbook.Filter{}) {
		switch {
		case err != nil && s.Run == "":
			return nil, err
		case err != nil || s.Study == "":
			continue
		}
		c, there := at[s.Study]
		if !there {
			c = &conducted{Study: s.Study, Command: kindOf(s), Ended: s.Begun}
			at[s.Study] = c
			list = append(list, c)
		}
		c.Runs++
		c.Begun = s.Begun
	}
	return list, nil
}

func (q inquiry) studies() error {
	list, err := allStudies(q.ctx, q.book)
	if err != nil {
		return err
	}
	return q.json(map[string]any{"studies": list})
}

// The tolerance of a drift report, and the days ahead: those of the command by default.
const (
	driftLimitArcmin = 1.5
	driftDays        = 365
)

// study gives the report of a study.
func (q inquiry) study() error {
	list, err := allStudies(q.ctx, q.book)
	if err != nil {
		return err
	}
	name := q.PathValue("study")
	for _, c := range list {
		switch {
		case c.Study != name:
		case c.Command == app.CommandDrift:
			r, err := studies.DriftOf(q.ctx, q.book, name, studies.DriftOrder{LimitArcmin: driftLimitArcmin, UntilDays: driftDays}, time.Now())
			if err != nil {
				return app.Wrong("%w", err)
			}
			return q.drawn(r, r.Text, r.Page)
		case c.Command == app.CommandRepeat:
			r, err := studies.RepeatOf(q.ctx, q.book, name, nil)
			if err != nil {
				return app.Wrong("%w", err)
			}
			return q.drawn(r, r.Text, func() sheet.Page { return r.Page(time.Now()) })
		}
	}
	return app.Wrong("the logbook has no study %q", name)
}
