package exchange

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"headtrue/sweep/record"
)

type linesWriter struct {
	to *bufio.Writer
}

func newLinesWriter(to io.Writer) *linesWriter { return &linesWriter{bufio.NewWriter(to)} }

func (w *linesWriter) Write(_ string, _ int, e record.Entry) error {
	text, err := json.Marshal(e)
	if err != nil {
		return err
	}
	_, err = w.to.Write(append(text, '\n'))
	return err
}

func (w *linesWriter) Close() error { return w.to.Flush() }

// longestRow is the most that one entry may take: a thousand times what most take.
const longestRow = 1 << 20

type linesReader struct {
	from *bufio.Reader
	line int
	run  string // that has begun; empty where it is not known which has
}

func newLinesReader(from *bufio.Reader) *linesReader { return &linesReader{from: from} }

func (r *linesReader) Read() (Row, error) {
	for {
		r.line++
		text, err := r.next()
		switch {
		case errors.Is(err, io.EOF) && len(bytes.TrimSpace(text)) == 0:
			return Row{}, io.EOF
		case errors.Is(err, errTooLong):
			return Row{}, r.bad(text, err)
		case err != nil && !errors.Is(err, io.EOF):
			return Row{}, err
		case len(bytes.TrimSpace(text)) > 0:
			return r.entry(text)
		}
	}
}

// errTooLong is what a row is that cannot be one.
var errTooLong = fmt.Errorf("longer than %d bytes", longestRow)

// next reads a line. Of one that is too long it returns the beginning.
func (r *linesReader) next() (text []byte, err error) {
	for tooLong := false; ; {
		part, err := r.from.ReadSlice('\n')
		if tooLong = tooLong || len(text)+len(part) > longestRow; !tooLong {
			text = append(text, part...)
		}
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
		case tooLong && (err == nil || errors.Is(err, io.EOF)):
			return text, errTooLong
		default:
			return text, err
		}
	}
}

func (r *linesReader) entry(text []byte) (Row, error) {
	row := Row{Bytes: len(text)}
	known := json.NewDecoder(bytes.NewReader(text))
	known.DisallowUnknownFields() // what is not known would be lost without a word
	if err := known.Decode(&row.Entry); err != nil {
		return row, r.bad(text, err)
	}
	if known.More() {
		return row, r.bad(text, errors.New("more than one entry"))
	}
	if row.Entry.Start != nil {
		r.run = row.Entry.Start.Run
	}
	if row.Run = r.run; row.Run == "" {
		return row, r.bad(text, fmt.Errorf("no run has begun: its first entry is of kind %.20q", row.Entry.Kind))
	}
	return row, nil
}

// bad is the error of a line that cannot be read. If a run was to begin with it, what
// follows is of that run and not of the one before.
func (r *linesReader) bad(text []byte, err error) error {
	var start struct {
		Start *struct{ Run string }
	}
	if json.Unmarshal(text, &start) == nil && start.Start != nil {
		r.run = start.Start.Run
	} else if bytes.Contains(text, []byte(`"start"`)) {
		r.run = ""
	}
	return &RowError{r.run, fmt.Errorf("line %d: %w", r.line, err)}
}
