package logbook

import (
	"fmt"
	"os"
	"testing"
)

// whole stands for the run of all tests: resources started for all of them are stopped
// after them.
var whole = &wholeRun{}

type wholeRun struct {
	testing.TB
	after []func()
}

func (w *wholeRun) Helper() {}

func (w *wholeRun) Cleanup(f func()) { w.after = append(w.after, f) }

func (w *wholeRun) Fatal(args ...any) { panic(fmt.Sprint(args...)) }

func (w *wholeRun) Fatalf(format string, args ...any) { panic(fmt.Sprintf(format, args...)) }

// roles are the other functions of the test binary, for tests that start it as a separate
// process.
var roles = map[string]func(p place){}

const roleVariable = "LOGBOOK_TEST_ROLE"

func TestMain(m *testing.M) {
	if role, ok := roles[os.Getenv(roleVariable)]; ok {
		role(place{os.Args[1], os.Args[2]})
		return
	}
	code := m.Run()
	for i := len(whole.after) - 1; i >= 0; i-- {
		whole.after[i]()
	}
	os.Exit(code)
}
