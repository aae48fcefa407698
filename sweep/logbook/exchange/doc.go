// Package exchange writes and reads runs as files for other programs: JSON lines, CSV and
// Parquet. All three hold the same data and are read back exactly.
//
// JSON lines are the entries one after the other; a run begins with its start entry. The
// two others are tables with one row per entry and one column per figure, named by its
// path in the record with points between and the unit at the end: step.reading.delay_us.
// A cell is empty, in Parquet null, if the record has no value; so are the degrees of screw and the
// jig's count in a run by hand. Lists of varying length are JSON in their
// cell.
//
// The package handles records. It depends on neither the store nor the commands.
package exchange
