// Command arrowreader writes the cells of a Parquet file, as read by Apache Arrow's own
// reader, as one JSON object per row. It is a separate module, so that the program does
// not depend on Arrow.
package main

import (
	"encoding/json"
	"fmt"
	"os"

	"github.com/apache/arrow-go/v18/parquet"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/schema"
)

func main() {
	if err := write(os.Args[1]); err != nil {
		panic(err)
	}
}

func write(path string) error {
	f, err := file.OpenParquetFile(path, false)
	if err != nil {
		return err
	}
	defer f.Close()
	out := json.NewEncoder(os.Stdout)
	for g := range f.NumRowGroups() {
		group := f.RowGroup(g)
		rows := make([]map[string]any, group.NumRows())
		for i := range rows {
			rows[i] = map[string]any{}
		}
		for c := range group.NumColumns() {
			column, err := group.Column(c)
			if err != nil {
				return err
			}
			if err := read(column, rows); err != nil {
				return err
			}
		}
		for _, row := range rows {
			if err := out.Encode(row); err != nil {
				return err
			}
		}
	}
	return nil
}

// read sets a column's cells in the rows; an empty cell has level 0.
func read(column file.ColumnChunkReader, rows []map[string]any) error {
	switch r := column.(type) {
	case *file.BooleanColumnChunkReader:
		return cells(r, rows, func(v bool) any { return v })
	case *file.Int32ColumnChunkReader:
		return cells(r, rows, func(v int32) any { return v })
	case *file.Int64ColumnChunkReader:
		kind, whole := r.Descriptor().LogicalType().(schema.IntLogicalType)
		unsigned := whole && !kind.IsSigned()
		return cells(r, rows, func(v int64) any {
			if unsigned {
				return uint64(v)
			}
			return v
		})
	case *file.Float64ColumnChunkReader:
		return cells(r, rows, func(v float64) any { return v })
	case *file.ByteArrayColumnChunkReader:
		return cells(r, rows, func(v parquet.ByteArray) any { return string(v) })
	}
	return fmt.Errorf("a column of type %T", column)
}

// typed is a column of one type of value.
type typed[T any] interface {
	Descriptor() *schema.Column
	ReadBatch(batch int64, values []T, definition, repetition []int16) (total int64, read int, err error)
	HasNext() bool
}

func cells[T any](r typed[T], rows []map[string]any, shown func(T) any) error {
	most := r.Descriptor().MaxDefinitionLevel()
	values, levels := make([]T, len(rows)), make([]int16, len(rows))
	for row := 0; r.HasNext(); {
		total, _, err := r.ReadBatch(int64(len(rows)), values, levels, nil)
		if err != nil {
			return err
		}
		next := 0
		for i := range int(total) {
			if most == 0 || levels[i] == most {
				rows[row+i][r.Descriptor().Name()] = shown(values[next])
				next++
			}
		}
		row += int(total)
	}
	return nil
}
