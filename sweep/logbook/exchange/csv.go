package exchange

import (
	"encoding/csv"
	"fmt"
	"io"
	"reflect"
	"strconv"

	"headtrue/sweep/record"
)

type csvWriter struct {
	to  *csv.Writer
	row []string
}

func newCSVWriter(to io.Writer) (*csvWriter, error) {
	w := &csvWriter{to: csv.NewWriter(to)}
	w.row = append(w.row, runColumn, numberColumn)
	for _, c := range columns {
		w.row = append(w.row, c.name)
	}
	return w, w.to.Write(w.row)
}

func (w *csvWriter) Write(run string, n int, e record.Entry) error {
	w.row = append(w.row[:0], harmless(run), strconv.Itoa(n))
	for _, c := range columns {
		text := ""
		if v, ok := c.in(&e); ok {
			var err error
			if text, err = c.text(v); err != nil {
				return fmt.Errorf("run %s, entry %d, %s: %w", run, n, c.name, err)
			}
			if c.leaf.Kind() == reflect.String {
				text = harmless(text)
			}
		}
		w.row = append(w.row, text)
	}
	return w.to.Write(w.row)
}

func (w *csvWriter) Close() error {
	w.to.Flush()
	return w.to.Error()
}

type csvReader struct {
	from    *csv.Reader
	columns []column
}

func newCSVReader(from io.Reader) (*csvReader, error) {
	r := &csvReader{from: csv.NewReader(from)}
	r.from.ReuseRecord = true
	heading, err := r.from.Read()
	if err != nil {
		return nil, fmt.Errorf("the heading: %w", err)
	}
	if len(heading) < 2 || heading[0] != runColumn || heading[1] != numberColumn {
		return nil, fmt.Errorf("the heading begins with %.40q, not with %s and %s", heading, runColumn, numberColumn)
	}
	for _, name := range heading[2:] {
		c, err := columnNamed(name)
		if err != nil {
			return nil, err
		}
		r.columns = append(r.columns, c)
	}
	return r, nil
}

func (r *csvReader) Read() (run string, e record.Entry, err error) {
	row, err := r.from.Read()
	if err != nil {
		return "", e, err // io.EOF, or one with its line
	}
	for i, text := range row[2:] {
		if text == "" {
			continue
		}
		if r.columns[i].leaf.Kind() == reflect.String {
			text = meant(text)
		}
		if err := r.columns[i].parse(r.columns[i].place(&e), text); err != nil {
			line, _ := r.from.FieldPos(i + 2)
			return "", e, fmt.Errorf("line %d, %s: %w", line, r.columns[i].name, err)
		}
	}
	return meant(row[0]), e, nil
}
