package exchange

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"

	"headtrue/sweep/record"
)

// column is one figure or one text of an entry.
type column struct {
	name string
	way  []int        // indices of struct fields and array elements, through pointers
	leaf reflect.Type // type of a cell, without pointer; slices and maps are JSON
	// onlyJig means that a run by hand does not have it; isNaN, that the figure is then NaN.
	onlyJig, isNaN bool
}

// columns returns the columns of all entries, in the order of the record's fields.
var columns = sync.OnceValue(func() []column { return columnsOf(reflect.TypeFor[record.Entry](), "", nil) })

// placeNames names the elements of an array; two are the channels.
func placeNames(n int) []string {
	if n == 2 {
		return []string{"_left", "_right"}
	}
	names := make([]string, n)
	for i := range names {
		names[i] = "_" + strconv.Itoa(i+1)
	}
	return names
}

func columnsOf(t reflect.Type, name string, way []int) []column {
	further := func(i int) []int { return append(way[:len(way):len(way)], i) }
	var list []column
	switch t.Kind() {
	case reflect.Pointer:
		return columnsOf(t.Elem(), name, way)
	case reflect.Struct:
		for i := range t.NumField() {
			f := t.Field(i)
			own, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			of := columnsOf(f.Type, strings.TrimPrefix(name+"."+own, "."), further(i))
			if only, isNaN := record.OnlyJig(f); only {
				of[0].onlyJig, of[0].isNaN = only, isNaN
			}
			list = append(list, of...)
		}
	case reflect.Array:
		for i, place := range placeNames(t.Len()) {
			list = append(list, columnsOf(t.Elem(), name+place, further(i))...)
		}
	default:
		list = append(list, column{name: name, way: way, leaf: t})
	}
	return list
}

// isJSON reports whether a cell of the column holds JSON.
func (c column) isJSON() bool {
	return c.leaf.Kind() == reflect.Slice || c.leaf.Kind() == reflect.Map
}

// in returns the column's value in an entry; ok is false if there is none.
func (c column) in(e *record.Entry) (v reflect.Value, ok bool) {
	v = reflect.ValueOf(e).Elem()
	for i := 0; ; i++ {
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				return v, false
			}
			v = v.Elem()
		}
		if i == len(c.way) {
			break
		}
		if v.Kind() == reflect.Array {
			v = v.Index(c.way[i])
		} else {
			v = v.Field(c.way[i])
		}
	}
	empty := v.Kind() == reflect.String && v.Len() == 0 || c.isJSON() && v.IsNil() ||
		c.isNaN && math.IsNaN(v.Float()) || c.onlyJig && !c.isNaN && e.ByHand()
	return v, !empty
}

// jigOnly returns the columns whose figures are NaN in a run by hand.
var jigOnly = sync.OnceValue(func() []column {
	return slices.DeleteFunc(slices.Clone(columns()), func(c column) bool { return !c.isNaN })
})

// lack sets the figures without a cell that only a jig has to NaN.
func lack(e *record.Entry, cells map[string]bool) {
	for _, c := range jigOnly() {
		if v, ok := c.in(e); ok && !cells[c.name] {
			v.SetFloat(math.NaN())
		}
	}
}

// place returns the place of the column's value in an entry, and allocates all pointers
// on the path.
func (c column) place(e *record.Entry) reflect.Value {
	v := reflect.ValueOf(e).Elem()
	for i := 0; ; i++ {
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				v.Set(reflect.New(v.Type().Elem()))
			}
			v = v.Elem()
		}
		if i == len(c.way) {
			return v
		}
		if v.Kind() == reflect.Array {
			v = v.Index(c.way[i])
		} else {
			v = v.Field(c.way[i])
		}
	}
}

// text returns a value as a cell.
func (c column) text(v reflect.Value) (string, error) {
	switch {
	case c.isJSON():
		text, err := json.Marshal(v.Interface())
		return string(text), err
	case v.Kind() == reflect.String:
		return v.String(), nil
	case v.Kind() == reflect.Float64:
		return strconv.FormatFloat(v.Float(), 'g', -1, 64), nil
	}
	return fmt.Sprint(v.Interface()), nil
}

// parse sets a value from a cell.
func (c column) parse(v reflect.Value, text string) (err error) {
	switch {
	case c.isJSON():
		return json.Unmarshal([]byte(text), v.Addr().Interface())
	case v.Kind() == reflect.String:
		v.SetString(text)
	case v.Kind() == reflect.Bool:
		var b bool
		b, err = strconv.ParseBool(text)
		v.SetBool(b)
	case v.CanInt():
		var n int64
		n, err = strconv.ParseInt(text, 10, v.Type().Bits())
		v.SetInt(n)
	case v.CanUint():
		var n uint64
		n, err = strconv.ParseUint(text, 10, v.Type().Bits())
		v.SetUint(n)
	default:
		var x float64
		x, err = strconv.ParseFloat(text, 64)
		v.SetFloat(x)
	}
	return err
}

// columnNamed finds a column.
func columnNamed(name string) (column, error) {
	for _, c := range columns() {
		if c.name == name {
			return c, nil
		}
	}
	return column{}, fmt.Errorf("the column %q is not known: a newer program may have written it", name)
}

// The first two columns of a table identify the run and the entry of a row.
const (
	runColumn    = "run"
	numberColumn = "n"
)
