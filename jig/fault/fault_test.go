package fault_test

import (
	"errors"
	"strings"
	"testing"

	"headtrue/jig/fault"
)

func TestRecoveredSaysWhatAndWhere(t *testing.T) {
	for name, broken := range map[string]func(){
		"a panic of one's own":    func() { panic("own") },
		"one of the runtime":      func() { _ = []int{}[len(name())] },
		"one through nil":         func() { var p *int; *p = 1 },
		"an error":                func() { panic(errors.New("own")) },
		"one that was handed on ": func() { defer func() { panic(recover()) }(); panic("own") },
	} {
		var got error
		func() {
			defer fault.Recovered(func(err error) { got = err })
			broken()
		}()
		var e *fault.Error
		if !errors.As(got, &e) || !strings.HasPrefix(e.At, "fault_test.go:") || len(e.Stack) == 0 {
			t.Errorf("%s: %v", name, got)
		}
	}
	defer fault.Recovered(func(err error) { t.Errorf("without a panic: %v", err) })
}

func name() string { return "x" }
