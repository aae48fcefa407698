package exchange

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"sync"

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

// longestRow is the greatest size of one entry: a thousand times the usual size.
const longestRow = 1 << 20

type linesReader struct {
	from *bufio.Reader
	line int
	run  string // the present run; empty if its name is unknown
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

// errTooLong is returned for a row that is too long.
var errTooLong = fmt.Errorf("longer than %d bytes", longestRow)

// next reads a line. If it is too long, next returns its beginning.
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
	err := noUnknown(text)
	if err == nil {
		err = json.Unmarshal(text, &row.Entry)
	}
	if err != nil {
		return row, r.bad(text, err)
	}
	if row.Entry.Start != nil {
		r.run = row.Entry.Start.Run
	}
	if row.Run = r.run; row.Run == "" {
		return row, r.bad(text, fmt.Errorf("no run has begun: its first entry is of kind %.20q", row.Entry.Kind))
	}
	return row, nil
}

// shape is the type of an entry without its methods: these would hide unknown fields.
var shape = sync.OnceValue(func() reflect.Type { return shapeOf(reflect.TypeFor[record.Entry]()) })

func shapeOf(t reflect.Type) reflect.Type {
	switch t.Kind() {
	case reflect.Pointer:
		return reflect.PointerTo(shapeOf(t.Elem()))
	case reflect.Slice:
		return reflect.SliceOf(shapeOf(t.Elem()))
	case reflect.Struct:
		var fields []reflect.StructField
		for f := range t.Fields() {
			fields = append(fields, reflect.StructField{Name: f.Name, Type: shapeOf(f.Type), Tag: f.Tag})
		}
		return reflect.StructOf(fields)
	}
	return t
}

// noUnknown returns an error for a field that this program does not know: it would be lost
// silently.
func noUnknown(text []byte) error {
	known := json.NewDecoder(bytes.NewReader(text))
	known.DisallowUnknownFields()
	if err := known.Decode(reflect.New(shape()).Interface()); err != nil {
		return err
	}
	if known.More() {
		return errors.New("more than one entry")
	}
	return nil
}

// bad returns the error of an unreadable line. If a run begins with that line, the lines
// after it belong to that run and not to the one before.
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
