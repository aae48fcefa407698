package panel

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"strings"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/sheetfile"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// data serves what is in the logbook, for reading only.
type data struct {
	load func(over map[string]string, from string) (settings.Loaded, error)
}

// readsFor is how long one request may read the logbook.
const readsFor = 30 * time.Second

// inquiry is one request for data.
type inquiry struct {
	*http.Request
	ctx   context.Context
	w     http.ResponseWriter
	book  *logbook.Book
	asked url.Values
	settings.Settings
}

func (d data) handler() http.Handler {
	mux := http.NewServeMux()
	for path, answer := range map[string]func(inquiry) error{
		"GET /data/runs": inquiry.runs, "GET /data/runs/{run}": inquiry.run, "GET /data/runs/{run}/{file}": inquiry.file,
		"GET /data/compare": inquiry.compare, "GET /data/chart": inquiry.chart, "GET /data/names": inquiry.names,
		"GET /data/studies": inquiry.studies, "GET /data/studies/{study}": inquiry.study,
	} {
		mux.HandleFunc(path, func(w http.ResponseWriter, r *http.Request) { d.answer(w, r, answer) })
	}
	return mux
}

// answer opens the logbook for one request.
func (d data) answer(w http.ResponseWriter, r *http.Request, with func(inquiry) error) {
	ctx, cancel := context.WithTimeout(r.Context(), readsFor)
	defer cancel()
	loaded, err := d.load(nil, "")
	if err == nil {
		var book *logbook.Book
		if book, err = logbook.OpenExisting(string(loaded.Logbook), loaded.Folder()); err == nil {
			defer book.Close()
			err = with(inquiry{Request: r, ctx: ctx, w: w, book: book, asked: r.URL.Query(), Settings: loaded.Settings})
		}
	}
	var f *app.Failure
	switch {
	case err == nil:
	case errors.Is(err, logbook.ErrEmpty):
		refuse(w, http.StatusNotFound, "the logbook has no runs yet", "")
	case errors.Is(err, logbook.ErrNoRun):
		refuse(w, http.StatusNotFound, err.Error(), "")
	case errors.As(err, &f):
		refuse(w, http.StatusBadRequest, f.Error(), f.Do)
	default:
		refuse(w, http.StatusInternalServerError, err.Error(), "")
	}
}

func (q inquiry) json(v any) error {
	raw, err := json.Marshal(v)
	if err == nil {
		q.give("application/json", raw)
	}
	return err
}

// give writes an answer. If the reader is gone, nobody misses it.
func (q inquiry) give(kind string, raw []byte) {
	q.w.Header().Set("Content-Type", kind)
	_, _ = q.w.Write(raw)
}

// kinds are the types of files, by ending.
var kinds = map[string]string{"txt": "text/plain; charset=utf-8", "svg": "image/svg+xml", "pdf": "application/pdf",
	"html": "text/html; charset=utf-8", "wav": "audio/wav", "json": "application/json"}

// drawn gives a page as the request wants it; text and result are its other forms.
func (q inquiry) drawn(result any, text func() string, page func() sheet.Page) error {
	switch as := q.asked.Get("as"); as {
	case "", "json":
		if result == nil {
			q.give(kinds["txt"], []byte(text()))
			return nil
		}
		return q.json(result)
	case "txt":
		q.give(kinds["txt"], []byte(text()))
		return nil
	case "svg", "pdf", "html":
		raw, err := sheetfile.Drawn("."+as, page())
		if err == nil {
			q.give(kinds[as], raw)
		}
		return err
	default:
		return app.Wrong("as=%q: must be json, txt, svg, pdf or html", as)
	}
}

// filter is the filter of a list.
func (q inquiry) filter() (f logbook.Filter, err error) {
	f = logbook.Filter{Unit: q.asked.Get("unit"), Head: q.asked.Get("head"), Job: q.asked.Get("job"), Tape: q.asked.Get("tape"),
		Operator: q.asked.Get("operator"), Command: q.asked.Get("command"), Batch: q.asked.Get("batch"), Study: q.asked.Get("study")}
	if f.Since, err = app.Instant("since", q.asked.Get("since")); err != nil {
		return f, err
	}
	if f.Until, err = app.Instant("until", q.asked.Get("until")); err != nil {
		return f, err
	}
	if outcome := q.asked.Get("outcome"); outcome == "cut-off" {
		f.CutOff = true
	} else {
		f.Outcome = record.Outcome(outcome)
	}
	return f, nil
}

// mostRuns is the most that one list shows.
const mostRuns = 200

func (q inquiry) runs() error {
	f, err := q.filter()
	if err != nil {
		return err
	}
	most := mostRuns
	if asked := q.asked.Get("limit"); asked != "" {
		if _, err := fmt.Sscanf(asked, "%d", &most); err != nil || most < 1 || most > mostRuns {
			return app.Wrong("limit=%q: must be 1 to %d", asked, mostRuns)
		}
	}
	text := strings.ToLower(strings.TrimSpace(q.asked.Get("text")))
	list, more := []logbook.Summary{}, false
	for s, err := range q.book.List(q.ctx, f) {
		switch {
		case err != nil && s.Run == "":
			return err
		case err != nil || !holds(s, text):
			continue // a row that cannot be read; headtrue logbook check names it
		}
		if more = len(list) == most; more {
			break
		}
		list = append(list, s)
	}
	return q.json(map[string]any{"runs": list, "more": more})
}

// holds reports whether a text is in one of the names of a run.
func holds(s logbook.Summary, text string) bool {
	all := strings.Join([]string{s.Run, s.Command, s.Unit, s.Head, s.Job, s.Tape, s.Operator, s.Batch, s.Study, string(s.Outcome)}, "\n")
	return strings.Contains(strings.ToLower(all), text)
}

func (q inquiry) loaded(run string) (logbook.Record, error) {
	rec, err := q.book.Load(run)
	if errors.Is(err, logbook.ErrNoRun) {
		return rec, err
	}
	return rec, app.WrongRun(q.book, run, err)
}

func (q inquiry) run() error {
	rec, err := q.loaded(q.PathValue("run"))
	if err != nil {
		return err
	}
	return q.json(rec.Entries)
}

func (q inquiry) compare() error {
	a, err := q.loaded(q.asked.Get("a"))
	if err != nil {
		return err
	}
	b, err := q.loaded(q.asked.Get("b"))
	if err != nil {
		return err
	}
	return q.drawn(nil, func() string { return sheet.CompareText(a.Entries, b.Entries) }, func() sheet.Page { return sheet.Compare(a.Entries, b.Entries) })
}

// names are what the newest runs have as names, for completion.
func (q inquiry) names() error {
	all := map[string][]string{}
	for name, field := range map[string]func(logbook.Summary) string{
		"units": func(s logbook.Summary) string { return s.Unit }, "heads": func(s logbook.Summary) string { return s.Head },
		"jobs": func(s logbook.Summary) string { return s.Job }, "tapes": func(s logbook.Summary) string { return s.Tape },
		"operators": func(s logbook.Summary) string { return s.Operator },
	} {
		all[name] = append([]string{}, q.book.Names(q.ctx, field)...)
	}
	return q.json(all)
}

// folder makes a folder that is gone after use.
func folder(use func(dir string) error) (err error) {
	dir, err := os.MkdirTemp("", "headtrue-panel-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	return use(dir)
}
