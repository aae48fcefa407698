package realtime

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"time"

	"headtrue/jig/fault"
	"headtrue/sweep/bench"
)

// truthEvery is the interval at which the truth is written.
const truthEvery = 500 * time.Millisecond

// KeepTruth writes the truth to a file at intervals until stop is called, which writes it a
// last time.
func KeepTruth(b *bench.Bench, path string, note func(format string, args ...any)) (stop func() error) {
	if path == "" {
		return func() error { return nil }
	}
	ended, done := make(chan struct{}), make(chan struct{})
	go func() { // ends with stop
		defer close(done)
		defer fault.Recovered(func(err error) { note("the truth is no longer written: %v", err) })
		tick := time.NewTicker(truthEvery)
		defer tick.Stop()
		for {
			if err := writeTruth(path, b.Truth()); err != nil {
				note("the truth could not be written: %v", err)
			}
			select {
			case <-ended:
				return
			case <-tick.C:
			}
		}
	}()
	return func() error {
		close(ended)
		<-done
		return writeTruth(path, b.Truth())
	}
}

// writeTruth replaces the file as a whole, so that a reader never finds an incomplete one.
func writeTruth(path string, t bench.Truth) error {
	text, err := json.Marshal(t)
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	_, err = f.Write(append(text, '\n'))
	if err := errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return os.Rename(f.Name(), path)
}
