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

type linesReader struct {
	from *bufio.Reader
	line int
	run  string
}

func newLinesReader(from io.Reader) *linesReader {
	return &linesReader{from: bufio.NewReaderSize(from, 1<<16)}
}

func (r *linesReader) Read() (string, record.Entry, error) {
	var e record.Entry
	r.line++
	text, err := r.from.ReadBytes('\n')
	switch {
	case errors.Is(err, io.EOF) && len(bytes.TrimSpace(text)) == 0:
		return "", e, io.EOF
	case err != nil && !errors.Is(err, io.EOF):
		return "", e, err
	}
	known := json.NewDecoder(bytes.NewReader(text))
	known.DisallowUnknownFields() // what is not known would be lost without a word
	if err := known.Decode(&e); err != nil {
		return "", e, fmt.Errorf("line %d: %w", r.line, err)
	}
	if e.Start != nil {
		r.run = e.Start.Run
	}
	if r.run == "" {
		return "", e, fmt.Errorf("line %d: no run has begun: its first entry is of kind %q", r.line, e.Kind)
	}
	return r.run, e, nil
}
