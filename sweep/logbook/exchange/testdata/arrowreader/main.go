// Command arrowreader writes the cells of a Parquet file, as Apache Arrow's own
// reader sees them, as one JSON object a row. It is a module of its own, so that the
// program does not depend on Arrow.
package main

import (
	"context"
	"encoding/json"
	"os"

	"github.com/apache/arrow-go/v18/arrow/array"
	"github.com/apache/arrow-go/v18/arrow/memory"
	"github.com/apache/arrow-go/v18/parquet/file"
	"github.com/apache/arrow-go/v18/parquet/pqarrow"
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
	r, err := pqarrow.NewFileReader(f, pqarrow.ArrowReadProperties{BatchSize: 1024}, memory.DefaultAllocator)
	if err != nil {
		return err
	}
	table, err := r.ReadTable(context.Background())
	if err != nil {
		return err
	}
	defer table.Release()
	rows := array.NewTableReader(table, 1024)
	defer rows.Release()
	out := json.NewEncoder(os.Stdout)
	for rows.Next() {
		batch := rows.RecordBatch()
		for i := range int(batch.NumRows()) {
			row := map[string]any{}
			for c := range int(batch.NumCols()) {
				if column := batch.Column(c); !column.IsNull(i) {
					row[batch.ColumnName(c)] = column.GetOneForMarshal(i)
				}
			}
			if err := out.Encode(row); err != nil {
				return err
			}
		}
	}
	return rows.Err()
}
