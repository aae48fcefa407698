package exchange

import (
	"fmt"
	"io"
	"os"
	"strings"

	"headtrue/sweep/record"
)

// Format is one of the kinds of files.
type Format string

// The formats, by the ending of a file's name.
const (
	JSONLines Format = "jsonl"
	CSV       Format = "csv"
	Parquet   Format = "parquet"
)

// FormatOf is the format that a file's name ends in.
func FormatOf(name string) (Format, error) {
	for _, f := range []Format{JSONLines, CSV, Parquet} {
		if strings.HasSuffix(strings.ToLower(name), "."+string(f)) {
			return f, nil
		}
	}
	return "", fmt.Errorf("%q: its name must end in .jsonl, .csv or .parquet", name)
}

// Writer writes entries, those of a run one after the other. Close completes what
// was written and leaves the file open.
type Writer interface {
	Write(run string, n int, e record.Entry) error
	Close() error
}

// NewWriter writes to a file.
func NewWriter(to io.Writer, f Format) (Writer, error) {
	switch f {
	case JSONLines:
		return newLinesWriter(to), nil
	case CSV:
		return newCSVWriter(to)
	case Parquet:
		return newParquetWriter(to), nil
	}
	return nil, fmt.Errorf("%q is no format: jsonl, csv or parquet", f)
}

// Reader reads entries in the order in which they were written; io.EOF is the end.
// Errors name the line or row.
type Reader interface {
	Read() (run string, e record.Entry, err error)
}

// NewReader reads from a file.
func NewReader(from *os.File, f Format) (Reader, error) {
	switch f {
	case JSONLines:
		return newLinesReader(from), nil
	case CSV:
		return newCSVReader(from)
	case Parquet:
		return newParquetReader(from)
	}
	return nil, fmt.Errorf("%q is no format: jsonl, csv or parquet", f)
}
