package exchange

import (
	"encoding/csv"
	"errors"
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
	for _, c := range columns() {
		w.row = append(w.row, c.name)
	}
	return w, w.to.Write(w.row)
}

func (w *csvWriter) Write(run string, n int, e record.Entry) error {
	w.row = append(w.row[:0], harmless(run), strconv.Itoa(n))
	for _, c := range columns() {
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
	room    *rowRoom
	columns []column
	order   order
}

// rowRoom limits the size of a row, for example after a quotation mark that is never
// closed.
type rowRoom struct {
	from io.Reader
	left int
}

func (r *rowRoom) Read(to []byte) (int, error) {
	if r.left <= 0 {
		return 0, errTooLong
	}
	n, err := r.from.Read(to[:min(len(to), r.left)])
	r.left -= n
	return n, err
}

func newCSVReader(from io.Reader) (*csvReader, error) {
	room := &rowRoom{from, longestRow}
	r := &csvReader{from: csv.NewReader(room), room: room}
	r.from.ReuseRecord = true
	heading, err := r.from.Read()
	if err != nil {
		return nil, fmt.Errorf("the heading: %w", err)
	}
	if len(heading) < 2 || heading[0] != runColumn || heading[1] != numberColumn {
		return nil, fmt.Errorf("the heading begins with %.40q, not with %s and %s", heading, runColumn, numberColumn)
	}
	seen := map[string]bool{}
	for _, name := range heading[2:] {
		c, err := columnNamed(name)
		if err == nil && seen[name] {
			err = fmt.Errorf("the column %q stands there twice", name)
		}
		if err != nil {
			return nil, err
		}
		seen[name] = true
		r.columns = append(r.columns, c)
	}
	return r, nil
}

func (r *csvReader) Read() (Row, error) {
	r.room.left = longestRow
	cells, err := r.from.Read()
	var wrong *csv.ParseError
	switch {
	case errors.As(err, &wrong):
		row := &RowError{r.order.run, err} // it names the line
		if len(cells) > 0 {
			row.Run = meant(cells[0])
		}
		return Row{}, row
	case err != nil:
		return Row{}, err // io.EOF, or one with its line
	}
	return r.row(cells)
}

func (r *csvReader) row(cells []string) (Row, error) {
	row := Row{Run: meant(cells[0])}
	line, _ := r.from.FieldPos(0)
	n, err := strconv.Atoi(cells[1])
	if err == nil {
		err = r.order.check(row.Run, n)
	}
	if err != nil {
		return row, &RowError{row.Run, fmt.Errorf("line %d, %s: %w", line, numberColumn, err)}
	}
	have := map[string]bool{}
	for i, text := range cells[2:] {
		if text == "" {
			continue
		}
		if r.columns[i].isNaN {
			have[r.columns[i].name] = true
		}
		row.Bytes += len(text)
		if r.columns[i].leaf.Kind() == reflect.String {
			text = meant(text)
		}
		if err := r.columns[i].parse(r.columns[i].place(&row.Entry), text); err != nil {
			line, _ := r.from.FieldPos(i + 2)
			return row, &RowError{row.Run, fmt.Errorf("line %d, %s: %w", line, r.columns[i].name, err)}
		}
	}
	lack(&row.Entry, have)
	return row, nil
}
