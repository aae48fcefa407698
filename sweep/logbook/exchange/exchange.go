package exchange

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"strings"

	"headtrue/sweep/record"
)

// Format is a file format.
type Format string

// The formats, by the ending of a file's name.
const (
	JSONLines Format = "jsonl"
	CSV       Format = "csv"
	Parquet   Format = "parquet"
)

// FormatOf returns the format for the ending of a file's name.
func FormatOf(name string) (Format, error) {
	for _, f := range []Format{JSONLines, CSV, Parquet} {
		if strings.HasSuffix(strings.ToLower(name), "."+string(f)) {
			return f, nil
		}
	}
	return "", fmt.Errorf("%q: its name must end in .jsonl, .csv or .parquet", name)
}

// Writer writes entries; those of one run must be consecutive. Close completes the output
// and leaves the file open.
type Writer interface {
	Write(run string, n int, e record.Entry) error
	Close() error
}

// NewWriter returns a writer to a file.
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

// Reader reads entries in the order of writing; io.EOF is the end. Errors name the line
// or row. After a *RowError the next row can be read.
type Reader interface {
	Read() (Row, error)
}

// Row is an entry as it was read.
type Row struct {
	Run   string
	Entry record.Entry
	Bytes int // approximate size in the file
}

// RowError reports that one row cannot be read. Run is empty if the row cannot be
// assigned to a run.
type RowError struct {
	Run string
	Err error
}

func (e *RowError) Error() string { return e.Err.Error() }

func (e *RowError) Unwrap() error { return e.Err }

// order checks that the entries of a table are numbered from 0 without gaps.
type order struct {
	run  string
	next int
}

func (o *order) check(run string, n int) error {
	if run != o.run {
		o.run, o.next = run, 0
	}
	want := o.next
	o.next = n + 1
	if n != want {
		return fmt.Errorf("entry %d of run %.80q stands where entry %d belongs", n, run, want)
	}
	return nil
}

// NewReader returns a reader from a file.
func NewReader(from *os.File, f Format) (Reader, error) {
	switch f {
	case JSONLines:
		return newLinesReader(withoutBOM(from)), nil
	case CSV:
		return newCSVReader(withoutBOM(from))
	case Parquet:
		info, err := from.Stat()
		if err != nil {
			return nil, err
		}
		return newParquetReader(from, info.Size())
	}
	return nil, fmt.Errorf("%q is no format: jsonl, csv or parquet", f)
}

// withoutBOM drops the byte order mark that some editors and spreadsheets write before
// UTF-8.
func withoutBOM(from io.Reader) *bufio.Reader {
	r := bufio.NewReaderSize(from, 1<<16)
	const bom = "\xef\xbb\xbf"
	if begin, _ := r.Peek(len(bom)); string(begin) == bom {
		r.Discard(len(bom))
	}
	return r
}
