package exchange

import (
	"errors"
	"fmt"
	"io"
	"reflect"
	"sync"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress/zstd"

	"headtrue/sweep/record"
)

// rowsPerGroup limits the rows held in memory while a file is written.
const rowsPerGroup = 20000

// schema is common to all files: run and number are required, all else is optional.
var schema = sync.OnceValue(func() *parquet.Schema { return parquet.NewSchema("entries", schemaGroup()) })

func schemaGroup() parquet.Group {
	g := parquet.Group{runColumn: parquet.String(), numberColumn: parquet.Int(32)}
	for _, c := range columns() {
		g[c.name] = parquet.Optional(nodeOf(c))
	}
	return g
}

func nodeOf(c column) parquet.Node {
	switch c.leaf.Kind() {
	case reflect.Bool:
		return parquet.Leaf(parquet.BooleanType)
	case reflect.Float64:
		return parquet.Leaf(parquet.DoubleType)
	case reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		return parquet.Uint(64)
	case reflect.Int, reflect.Int32, reflect.Int64:
		return parquet.Int(64)
	}
	return parquet.String() // texts, and lists as JSON
}

// byPlace returns the columns in the order of the file's leaves: a group sorts them.
var byPlace = sync.OnceValue(func() []column {
	var list []column
	for _, path := range schema().Columns() {
		c, err := columnNamed(path[0])
		if err != nil {
			c = column{name: path[0]} // run and number
		}
		list = append(list, c)
	}
	return list
})

type parquetWriter struct {
	to *parquet.GenericWriter[any]
}

func newParquetWriter(to io.Writer) *parquetWriter {
	return &parquetWriter{parquet.NewGenericWriter[any](to, schema(), parquet.Compression(&zstd.Codec{}), parquet.MaxRowsPerRowGroup(rowsPerGroup))}
}

func (w *parquetWriter) Write(run string, n int, e record.Entry) error {
	row := make(parquet.Row, 0, len(byPlace()))
	for i, c := range byPlace() {
		var value parquet.Value
		switch c.name {
		case runColumn:
			value = parquet.ValueOf(run).Level(0, 0, i)
		case numberColumn:
			value = parquet.ValueOf(int32(n)).Level(0, 0, i)
		default:
			v, ok := c.in(&e)
			if !ok {
				row = append(row, parquet.NullValue().Level(0, 0, i))
				continue
			}
			x, err := c.parquetValue(v)
			if err != nil {
				return fmt.Errorf("run %s, entry %d, %s: %w", run, n, c.name, err)
			}
			value = x.Level(0, 1, i)
		}
		row = append(row, value)
	}
	_, err := w.to.WriteRows([]parquet.Row{row})
	return err
}

func (c column) parquetValue(v reflect.Value) (parquet.Value, error) {
	switch {
	case v.Kind() == reflect.Bool:
		return parquet.ValueOf(v.Bool()), nil
	case v.Kind() == reflect.Float64:
		return parquet.ValueOf(v.Float()), nil
	case v.CanUint():
		return parquet.ValueOf(v.Uint()), nil
	case v.CanInt():
		return parquet.ValueOf(v.Int()), nil
	}
	text, err := c.text(v)
	return parquet.ValueOf(text), err
}

func (w *parquetWriter) Close() error { return w.to.Close() }

type parquetReader struct {
	rows    parquet.Rows
	groups  []parquet.RowGroup
	columns []column
	buffer  []parquet.Row
	ready   []parquet.Row
	row     int
	order   order
}

// unbroken converts a panic of the library on an invalid file to an error.
func unbroken(err *error) {
	if broken := recover(); broken != nil {
		*err = fmt.Errorf("no Parquet file that can be read: %v", broken)
	}
}

func newParquetReader(from io.ReaderAt, size int64) (r *parquetReader, err error) {
	defer unbroken(&err)
	if err := guardFooter(from, size); err != nil {
		return nil, err
	}
	file, err := parquet.OpenFile(from, size, parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
	if err != nil {
		return nil, err
	}
	r = &parquetReader{groups: file.RowGroups(), buffer: make([]parquet.Row, 64)}
	seen := map[string]bool{}
	for _, path := range file.Schema().Columns() {
		c := column{name: path[0]}
		if c.name != runColumn && c.name != numberColumn {
			if c, err = columnNamed(c.name); err != nil {
				return nil, err
			}
		}
		if seen[c.name] {
			return nil, fmt.Errorf("the column %q stands there twice", c.name)
		}
		seen[c.name] = true
		r.columns = append(r.columns, c)
	}
	if !seen[runColumn] || !seen[numberColumn] {
		return nil, fmt.Errorf("it has no columns %s and %s", runColumn, numberColumn)
	}
	return r, guardPages(from, file)
}

func (r *parquetReader) Read() (row Row, err error) {
	defer unbroken(&err)
	for len(r.ready) == 0 {
		if err := r.fill(); err != nil {
			return row, err
		}
	}
	r.row++
	values := r.ready[0]
	r.ready = r.ready[1:]
	n := -1
	have := map[string]bool{}
	for _, value := range values {
		c := r.columns[value.Column()]
		switch {
		case value.IsNull():
		case c.name == numberColumn:
			n = int(value.Int32())
		case c.name == runColumn:
			row.Run = value.String()
		default:
			if c.isNaN {
				have[c.name] = true
			}
			if value.Kind() == parquet.ByteArray {
				row.Bytes += len(value.ByteArray())
			}
			if wrong := c.setParquet(c.place(&row.Entry), value); wrong != nil && err == nil {
				err = fmt.Errorf("%s: %w", c.name, wrong)
			}
		}
	}
	lack(&row.Entry, have)
	if disorder := r.order.check(row.Run, n); err == nil {
		err = disorder
	}
	if err != nil {
		return row, &RowError{row.Run, fmt.Errorf("row %d, %w", r.row, err)}
	}
	return row, nil
}

// fill reads the next rows.
func (r *parquetReader) fill() error {
	if r.rows == nil {
		if len(r.groups) == 0 {
			return io.EOF
		}
		r.rows, r.groups = r.groups[0].Rows(), r.groups[1:]
	}
	n, err := r.rows.ReadRows(r.buffer)
	r.ready = r.buffer[:n]
	if errors.Is(err, io.EOF) {
		err, r.rows = r.rows.Close(), nil
	}
	return err
}

func (c column) setParquet(v reflect.Value, value parquet.Value) error {
	want := nodeOf(c).Type().Kind()
	switch {
	case value.Kind() != want:
		return fmt.Errorf("%s, not %s", value.Kind(), want)
	case v.Kind() == reflect.Bool:
		v.SetBool(value.Boolean())
	case v.Kind() == reflect.Float64:
		v.SetFloat(value.Double())
	case v.CanUint():
		v.SetUint(value.Uint64())
	case v.CanInt():
		v.SetInt(value.Int64())
	default:
		return c.parse(v, value.String())
	}
	return nil
}
