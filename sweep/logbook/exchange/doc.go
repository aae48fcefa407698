// Package exchange writes and reads runs as files for other programs: JSON lines,
// CSV and Parquet. All three hold the same and come back exactly.
//
// JSON lines are the entries one after the other; a run begins with its start
// entry. The two others are tables with one row for each entry and one column for
// each figure, named by its way through the record with points between, units at
// the end: step.reading.delay_us. A cell is empty where the record has nothing.
// Lists of varying length are JSON in their cell.
//
// The package knows records, and neither store nor commands.
package exchange
