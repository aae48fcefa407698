//go:build linux

package app

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"headtrue/cmd/headtrue/app/shell"
)

// One or two numbers and nothing else; a comma is a decimal point.
func TestAmbientIsOneOrTwoNumbers(t *testing.T) {
	const none = -1000.0
	for text, want := range map[string][2]float64{
		"21.5": {21.5, none}, "21,5": {21.5, none}, "-3": {-3, none}, " +21 \n": {21, none},
		"21.5 45": {21.5, 45}, "21,5 45": {21.5, 45}, "21,5;45,5\r\n": {21.5, 45.5}, "21.5 ; 45": {21.5, 45}, "21.5\n45\n": {21.5, 45},
	} {
		a, err := ambientIn(text, "given")
		if err != nil || *a.TemperatureC != want[0] || (a.HumidityPercent == nil) != (want[1] == none) || a.HumidityPercent != nil && *a.HumidityPercent != want[1] {
			t.Errorf("%q: %+v, %v; want %v", text, a, err, want)
		}
	}
	for _, text := range []string{"", "warm", "21,5,45", "21.5, 45", "21 5 45", "21.5C", "t=19.5C", "21.5;", ";45", "1e1", "nan", "0x10", "86", "-41", "21 101", "21 -1", "2.1.5", "--3"} {
		if a, err := ambientIn(text, "given"); err == nil {
			t.Errorf("%q was taken as %+v", text, a)
		}
	}
}

// A pipe without a writer times out, and Ctrl-C ends the waiting.
func TestAmbientOfAPipeThatHangs(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := readBounded(t.Context(), 50*time.Millisecond, pipe); err == nil || !strings.Contains(err.Error(), "nothing comes within 50ms") {
		t.Errorf("a pipe: %v", err)
	}
	for _, from := range []string{"file:" + pipe, "command:cat " + pipe, "command:sleep 60"} {
		ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
		defer cancel()
		begun := time.Now()
		if a, err := ambientOf(ctx, from); err == nil || time.Since(begun) > ambientPatience/2 {
			t.Errorf("%s: %+v, %v after %v", from, a, err, time.Since(begun))
		}
	}
}

func TestAmbientIsBoundedInLength(t *testing.T) {
	long := filepath.Join(t.TempDir(), "long")
	if err := os.WriteFile(long, []byte("21"+strings.Repeat(" ", shell.MostSaid)), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, from := range []string{"file:" + long, "command:yes 21"} {
		begun := time.Now()
		if _, err := ambientOf(t.Context(), from); !errors.Is(err, shell.ErrSaysTooMuch) || time.Since(begun) > ambientPatience/2 {
			t.Errorf("%s: %v after %v", from, err, time.Since(begun))
		}
	}
}
