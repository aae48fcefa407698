//go:build unix

package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"headtrue/cmd/headtrue/settings"
	"headtrue/jig/virtual"
	"headtrue/sweep"
	"headtrue/sweep/bench"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// Sound of too low a rate for the tone is refused before anything is moved.
func TestToneAboveHalfTheRateIsRefused(t *testing.T) {
	line, err := virtual.OpenLine(context.Background(), virtual.New(bench.Default().Jig()))
	if err != nil {
		t.Fatal(err)
	}
	defer line.Close()
	silence, err := os.Open(os.DevNull)
	if err != nil {
		t.Fatal(err)
	}
	defer silence.Close()
	stdin := os.Stdin
	os.Stdin = silence
	defer func() { os.Stdin = stdin }()
	book, err := logbook.Open(filepath.Join(t.TempDir(), "logbook"), "")
	if err != nil {
		t.Fatal(err)
	}
	j := &job{cli: &cli{err: &screen{to: &strings.Builder{}}}, command: "align", book: book, plan: sweep.Plan{ToneHz: 10000}}
	j.settings.Settings = settings.Default()
	j.settings.Port, j.settings.Audio, j.settings.AudioRateHz = line.Path, "raw:s16le", 20000
	j.flags.yes, j.flags.itself = true, true
	err = j.prepare(context.Background())
	var f *failure
	if !errors.As(err, &f) || f.code != exitOf(record.NotReady) || !strings.Contains(err.Error(), "20000 frames a second") {
		t.Errorf("got %v, want one that names the rate, with code %d", err, exitOf(record.NotReady))
	}
}
