// Package fault turns a panic into an error for the owner of the goroutine: a program
// error must stop the motor and close the record, and is reported in one line.
//
// It does not log or decide what happens next.
package fault

import (
	"fmt"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
)

// Error is a panic, an error of the program, not of its input.
type Error struct {
	Value any    // the value of the panic
	At    string // file and line
	Stack []byte // of the goroutine
}

func (e *Error) Error() string {
	return fmt.Sprintf("the program itself broke at %s: %v", e.At, e.Value)
}

// Recovered passes a panic to the owner. Defer it at the head of a goroutine.
func Recovered(to func(error)) {
	if p := recover(); p != nil {
		to(&Error{Value: p, At: place(), Stack: debug.Stack()})
	}
}

// place returns the file and line that panicked. They follow the runtime's own frames on
// the stack.
func place() string {
	callers := make([]uintptr, 64)
	frames := runtime.CallersFrames(callers[:runtime.Callers(0, callers)])
	for panicked := false; ; {
		frame, more := frames.Next()
		if panicked && !strings.HasPrefix(frame.Function, "runtime.") {
			return fmt.Sprintf("%s:%d", filepath.Base(frame.File), frame.Line)
		}
		panicked = panicked || frame.Function == "runtime.gopanic"
		if !more {
			return "a place unknown"
		}
	}
}
