//go:build unix

package logbook

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"headtrue/sweep/record"
)

// Opening the logbook removes the leftovers of killed runs, but nothing of a run being
// written, and no other files.
func TestLeftoversAreClearedUp(t *testing.T) {
	onEach(t, func(t *testing.T, p place) {
		book := p.openAt(t, begun)
		var dead, alive []string
		for i := range 4 {
			run := begin(t, book, record.Start{})
			part := filepath.Join(book.Dir(), "."+filepath.Base(run.ClipPath("as-found"))+".123456")
			if err := os.WriteFile(part, []byte("RIFF"), 0o600); err != nil {
				t.Fatal(err)
			}
			if i%2 == 0 {
				alive = append(alive, part)
				continue
			}
			dead = append(dead, part)
			if err := run.Close(); err != nil {
				t.Fatal(err)
			}
			if !IsServer(p.where) { // as a kill leaves it
				lock := filepath.Join(book.Dir(), runningFolder, run.ID())
				if err := os.WriteFile(lock, nil, 0o644); err != nil {
					t.Fatal(err)
				}
				dead = append(dead, lock)
			}
		}
		old, young := filepath.Join(book.Dir(), ".20010101T000000Z-as-left.wav.1"), filepath.Join(book.Dir(), ".20010101T000000Z-as-left.wav.2")
		other, link := filepath.Join(book.Dir(), ".hidden"), filepath.Join(book.Dir(), ".link.wav.1")
		for _, path := range []string{old, young, other} {
			if err := os.WriteFile(path, nil, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.Symlink(other, link); err != nil {
			t.Fatal(err)
		}
		long := time.Now().Add(-2 * partOfNoRun)
		if err := os.Chtimes(old, long, long); err != nil {
			t.Fatal(err)
		}
		dead, alive = append(dead, old), append(alive, young, other, link)
		p.open(t)
		for _, path := range append(slices.Clone(dead), alive...) {
			_, err := os.Lstat(path)
			if there, want := err == nil, slices.Contains(alive, path); there != want {
				t.Errorf("%s is there: %v, want %v", filepath.Base(path), there, want)
			}
		}
	})
}

// Runs begin while other processes clear up, and none loses its mark of being written.
func TestARunKeepsItsMarkWhileOthersClearUp(t *testing.T) {
	p := place{where: t.TempDir()}
	book := p.open(t)
	done := make(chan bool)
	go func() {
		defer close(done)
		for range 100 {
			book.clearUp(t.Context())
		}
	}()
	for range 20 {
		run := begin(t, book, record.Start{})
		if rec, err := book.Load(run.ID()); err != nil || !rec.Running {
			t.Errorf("running %v, %v", rec.Running, err)
		}
	}
	<-done
}
