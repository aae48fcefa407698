// Package jsonhelp lists the fields of a JSON result for the help of a command. The names and
// texts are the json and help tags of the types; it holds none itself.
package jsonhelp

import (
	"iter"
	"reflect"
	"slices"
	"strings"

	"headtrue/sweep/sheet/chars"
)

const (
	indent = 2  // spaces of a list within another
	texts  = 24 // column of the texts, but no further than two fifths of the width
)

// Fields lists the fields of a type, a line or more each. Fields without a help tag share the
// text of the next one that has it. Fields of a structure are indented below the field that
// holds it; if several fields hold structures of one type, these are listed once, at the end.
// The lines are no longer than width.
func Fields(t reflect.Type, width int) string {
	l := list{width: width, holders: map[reflect.Type][]string{}}
	l.count(t)
	l.fields(t, indent)
	for i := 0; i < len(l.shared); i++ { // a shared structure may hold others
		names := slices.Compact(slices.Sorted(slices.Values(l.holders[l.shared[i]])))
		l.line("Fields of " + strings.Join(names, ", ") + ":")
		l.fields(l.shared[i], indent)
	}
	return strings.Join(l.lines, "\n")
}

type list struct {
	width   int
	lines   []string
	holders map[reflect.Type][]string // names of the fields that hold a structure
	shared  []reflect.Type            // structures of several fields, in order of their first use
}

// count notes the fields that hold structures.
func (l *list) count(t reflect.Type) {
	for f := range jsonFields(t) {
		held, ok := structure(f.Type)
		if !ok {
			continue
		}
		l.holders[held] = append(l.holders[held], nameOf(f))
		if len(l.holders[held]) == 1 {
			l.count(held)
		}
	}
}

func (l *list) fields(t reflect.Type, column int) {
	var names []string
	for f := range jsonFields(t) {
		names = append(names, nameOf(f))
		text := f.Tag.Get("help")
		held, nested := structure(f.Type)
		if text == "" && !nested {
			continue
		}
		if len(names) == 1 && f.Type.Kind() == reflect.Slice {
			text = strings.TrimSuffix("list: "+text, ": ")
		}
		l.row(names, text, column)
		names = nil
		switch {
		case !nested:
		case len(l.holders[held]) == 1:
			l.fields(held, column+indent)
		case !slices.Contains(l.shared, held):
			l.shared = append(l.shared, held)
		}
	}
	l.row(names, "", column)
}

// row adds names and their text. Names that reach into the column of the texts have lines of
// their own.
func (l *list) row(names []string, text string, column int) {
	if len(names) == 0 {
		return
	}
	at := min(texts, l.width*2/5)
	lead := l.wrap(strings.Join(names, ", "), column)
	body := l.wrap(text, at)
	if len(lead) == 1 && len(lead[0]) < at && text != "" {
		l.line(lead[0] + body[0][len(lead[0]):])
		body = body[1:]
	} else {
		l.lines = append(l.lines, lead...)
	}
	if text != "" {
		l.lines = append(l.lines, body...)
	}
}

func (l *list) line(s string) { l.lines = append(l.lines, s) }

// wrap breaks a text into lines that begin at a column.
func (l *list) wrap(text string, column int) []string {
	return strings.Split(strings.Repeat(" ", column)+chars.WrapTo(text, column, l.width), "\n")
}

// jsonFields yields the fields that encoding/json writes, those of embedded structures
// included.
func jsonFields(t reflect.Type) iter.Seq[reflect.StructField] {
	return func(yield func(reflect.StructField) bool) { visit(t, yield) }
}

func visit(t reflect.Type, yield func(reflect.StructField) bool) bool {
	for f := range t.Fields() {
		embedded, ok := f.Type, f.Anonymous
		if ok && embedded.Kind() == reflect.Pointer {
			embedded = embedded.Elem()
		}
		switch {
		case nameOf(f) != "":
			if !yield(f) {
				return false
			}
		case ok && embedded.Kind() == reflect.Struct:
			if !visit(embedded, yield) {
				return false
			}
		}
	}
	return true
}

func nameOf(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	return name
}

// structure returns the structure with JSON fields that a field holds, by itself, by pointer
// or in a list.
func structure(t reflect.Type) (reflect.Type, bool) {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice || t.Kind() == reflect.Array {
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct {
		return nil, false
	}
	for range jsonFields(t) {
		return t, true
	}
	return nil, false
}
