package production

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// Item is one head of one unit to be set.
type Item struct {
	Unit, Head string
	Over       map[string]string // its values in the list, by keys of the settings
	Virtual    string            // profile of its own virtual bench, if any
	From       string            // file:line; "" if its label was typed
}

// listColumns are the columns of a list, and the settings that they set.
var listColumns = map[string]string{"unit": "unit", "head": "head", "job": "job", "deck": "deck.profile", "tape": "tape", "virtual": "",
	"maker": "about.maker", "model": "about.model", "serial": "about.serial", "customer": "about.customer"}

// ReadList reads a list of units: CSV with a header. Errors name the list by its path.
func ReadList(list io.Reader, path string) ([]Item, error) {
	r := csv.NewReader(list)
	r.TrimLeadingSpace = true
	header, err := r.Read()
	if errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s:1: the list is empty: it begins with a header, unit,head,job,deck,tape", path)
	}
	if err != nil {
		return nil, listError(path, err)
	}
	if len(header) > 0 {
		header[0] = strings.TrimPrefix(header[0], "\ufeff") // byte order mark of spreadsheets
	}
	if err := checkHeader(header); err != nil {
		return nil, fmt.Errorf("%s:1: %w", path, err)
	}
	var items []Item
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
			return fmt.Errorf("unknown column %q; there are unit, head, job, deck, tape, maker, model, serial, customer and virtual", name)
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

func itemOf(header, row []string, from string) Item {
	it := Item{Over: map[string]string{}, From: from}
	for i, name := range header {
		text := strings.TrimSpace(row[i])
		switch {
		case name == "virtual":
			it.Virtual = text
		case text != "" || name == "unit":
			it.Over[listColumns[name]] = text
		}
	}
	it.Unit = it.Over["unit"]
	return it
}

// SameUnits returns an error for the first unit and head that is in the list twice.
func SameUnits(items []Item) error {
	for i, it := range items {
		same := func(other Item) bool { return other.Unit == it.Unit && other.Head == it.Head }
		if first := slices.IndexFunc(items, same); first < i {
			return fmt.Errorf("%s: unit %s, head %s, stands in %s already", it.From, it.Unit, it.Head, items[first].From)
		}
	}
	return nil
}
