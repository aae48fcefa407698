package main

import (
	"bytes"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"

	"headtrue/sweep/record"
)

// hostile are texts that a damaged or crafted file may hold anywhere.
var hostile = []string{"../canary.wav", "/tmp/canary.wav", "..\\\\canary.wav", "1e308", "-1e308", "1e999", "NaN", "-1", "99999999999999999999",
	`"`, "'", "{", "}", "[[[[[[[[", "\x00", "\n", ",,,,", "\xef\xbb\xbf", "\xff\xfe", "null", "true", "\x28\xb5\x2f\xfd", "\xff\xff\xff\xff", "\x7f\xff\xff\xff"}

// mutated is a text with some changes: bits, bytes, lengths, or pieces that are removed,
// doubled, moved or replaced by hostile ones.
func mutated(text []byte, r *rand.Rand) []byte {
	text = bytes.Clone(text)
	for range 1 + r.IntN(4) {
		if len(text) == 0 {
			return text
		}
		at := r.IntN(len(text))
		end := min(len(text), at+1+r.IntN(64))
		switch r.IntN(8) {
		case 0:
			text[at] ^= 1 << r.IntN(8)
		case 1:
			text[at] = byte(r.IntN(256))
		case 2:
			text = text[:at]
		case 3:
			text = append(text[:at], text[end:]...)
		case 4:
			text = append(text[:end:end], text[at:]...)
		case 5:
			piece := bytes.Clone(text[at:end])
			to := r.IntN(len(text))
			text = append(text[:to:to], append(piece, text[to:]...)...)
		default:
			text = append(text[:at:at], append([]byte(hostile[r.IntN(len(hostile))]), text[end:]...)...)
		}
	}
	return text
}

// mutatedRun is a run with some figures, texts or entries changed, as a file holds it that is
// formally intact.
func mutatedRun(run []record.Entry, r *rand.Rand) []record.Entry {
	run = slices.Clone(run)
	for range 1 + r.IntN(3) {
		at := r.IntN(len(run))
		switch r.IntN(6) {
		case 0:
			run = append(run[:at:at], run[at+1:]...)
		case 1:
			run = slices.Insert(run, r.IntN(len(run)), run[at])
		default:
			v := reflect.New(reflect.TypeFor[record.Entry]()).Elem()
			v.Set(copied(reflect.ValueOf(run[at])))
			spoil(v, r)
			run[at] = v.Interface().(record.Entry)
		}
		if len(run) == 0 {
			return run
		}
	}
	return run
}

// copied is a deep copy of a value.
func copied(v reflect.Value) reflect.Value {
	c := reflect.New(v.Type()).Elem()
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			c.Set(copied(v.Elem()).Addr())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			c.Field(i).Set(copied(v.Field(i)))
		}
	case reflect.Slice:
		c.Set(reflect.AppendSlice(reflect.MakeSlice(v.Type(), 0, v.Len()), v))
	default:
		c.Set(v)
	}
	return c
}

// spoil sets one figure or text somewhere in a value to a hostile one.
func spoil(v reflect.Value, r *rand.Rand) {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			v.Set(reflect.New(v.Type().Elem()))
		}
		spoil(v.Elem(), r)
	case reflect.Struct:
		var set []int // fields that are set are preferred
		for i := range v.NumField() {
			if f := v.Field(i); f.Kind() != reflect.Pointer || !f.IsNil() || r.IntN(20) == 0 {
				set = append(set, i)
			}
		}
		spoil(v.Field(set[r.IntN(len(set))]), r)
	case reflect.Slice, reflect.Array:
		if v.Len() > 0 {
			spoil(v.Index(r.IntN(v.Len())), r)
		}
	case reflect.String:
		v.SetString([]string{hostile[r.IntN(len(hostile))], "canary.wav", "20240506T070809Z-as-found.wav", string(bytes.Repeat([]byte("x"), 1<<r.IntN(18)))}[r.IntN(4)])
	case reflect.Float64:
		v.SetFloat([]float64{1e308, -1e308, 1e9, 1e6, 5e-324, -1, 0, math.MaxFloat64}[r.IntN(8)])
	case reflect.Bool:
		v.SetBool(!v.Bool())
	default:
		if v.CanInt() {
			v.SetInt([]int64{-1, math.MaxInt32, math.MinInt64, math.MaxInt64}[r.IntN(4)])
		} else if v.CanUint() {
			v.SetUint([]uint64{math.MaxUint64, 1}[r.IntN(2)])
		}
	}
}
