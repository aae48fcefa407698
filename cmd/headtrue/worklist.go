package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// item is one head of one unit that is to be set.
type item struct {
	unit, head string
	over       map[string]string // what the list says of it, by keys of the settings
	virtual    string            // profile of its virtual bench, where it has one of its own
	from       string            // file:line; "" where its label was typed
}

// listColumns are the columns of a list, and the settings that they stand for.
var listColumns = map[string]string{"unit": "unit", "head": "head", "job": "job", "deck": "deck.profile", "tape": "tape", "virtual": ""}

// readList reads a list of units: CSV with a header.
func readList(path string) ([]item, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read the list: %w", err)
	}
	defer file.Close()
	r := csv.NewReader(file)
	r.TrimLeadingSpace = true
	header, err := r.Read()
	if errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s:1: the list is empty: it begins with a header, unit,head,job,deck,tape", path)
	}
	if err != nil {
		return nil, listError(path, err)
	}
	if len(header) > 0 {
		header[0] = strings.TrimPrefix(header[0], "\ufeff") // as spreadsheets write it
	}
	if err := checkHeader(header); err != nil {
		return nil, fmt.Errorf("%s:1: %w", path, err)
	}
	var items []item
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, listError(path, err)
		}
		line, _ := r.FieldPos(0)
		items = append(items, itemOf(header, row, fmt.Sprintf("%s:%d", path, line)))
	}
	if len(items) == 0 {
		return nil, fmt.Errorf("%s:1: the list names no unit", path)
	}
	return items, nil
}

func listError(path string, err error) error {
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		return fmt.Errorf("%s:%d: %w", path, parse.Line, parse.Err)
	}
	return fmt.Errorf("read the list: %w", err)
}

func checkHeader(header []string) error {
	seen := map[string]bool{}
	for _, name := range header {
		if _, known := listColumns[name]; !known {
			return fmt.Errorf("unknown column %q; there are unit, head, job, deck, tape and virtual", name)
		}
		if seen[name] {
			return fmt.Errorf("the column %q stands there twice", name)
		}
		seen[name] = true
	}
	if !seen["unit"] {
		return errors.New("the column unit is missing; the first line names the columns")
	}
	return nil
}

func itemOf(header, row []string, from string) item {
	it := item{over: map[string]string{}, from: from}
	for i, name := range header {
		text := strings.TrimSpace(row[i])
		switch {
		case name == "virtual":
			it.virtual = text
		case text != "" || name == "unit":
			it.over[listColumns[name]] = text
		}
	}
	it.unit = it.over["unit"]
	return it
}

// sameUnits names the first unit and head that stand in the list twice.
func sameUnits(items []item) error {
	for i, it := range items {
		same := func(other item) bool { return other.unit == it.unit && other.head == it.head }
		if first := slices.IndexFunc(items, same); first < i {
			return fmt.Errorf("%s: unit %s, head %s, stands in %s already", it.from, it.unit, it.head, items[first].from)
		}
	}
	return nil
}

// batchOf is the name of a batch after its list.
func batchOf(list string) string {
	base := filepath.Base(list)
	return strings.TrimSuffix(base, filepath.Ext(base))
}
