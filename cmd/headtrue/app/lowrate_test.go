//go:build unix

package app

import (
	"context"
	"errors"
	"io"
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

// Sound with too low a rate for the tone is refused before anything moves.
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
	j := &Job{Order: Order{Command: "align", Accepted: true, BladeSeatsItself: true}, Plan: sweep.Plan{ToneHz: 10000},
		front: frontTo(io.Discard), book: book, sitting: &sitting{}}
	j.Settings.Settings = settings.Default()
	j.Settings.Port, j.Settings.Audio, j.Settings.AudioRateHz = line.Path, "raw:s16le", 20000
	err = j.prepare(context.Background())
	var f *Failure
	if !errors.As(err, &f) || f.Outcome != record.NotReady || !strings.Contains(err.Error(), "20000 frames a second") {
		t.Errorf("got %v, want one that names the rate: not ready", err)
	}
}
