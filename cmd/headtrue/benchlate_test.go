//go:build unix

package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"syscall"
	"testing"
	"time"

	"headtrue/jig"
	"headtrue/jig/serialport"
	"headtrue/sweep/bench"
)

// A late bench greets its host and answers with its set delay. It runs on although nobody reads
// its sound; Ctrl-C still ends it.
func TestALateBenchWaitsForNobody(t *testing.T) {
	t.Parallel()
	nobody, unread, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer nobody.Close()
	defer unread.Close()
	truth := filepath.Join(t.TempDir(), "truth.json")
	deck := newProcess("bench", "--late", "--profile", "tone", "--sink", "-", "--truth", truth)
	deck.cmd.Stdout = unread
	deck.start(t)
	deck.told(t, 1, "Ctrl-C ends")
	port := regexp.MustCompile(`jig on (\S+),`).FindStringSubmatch(deck.said.String())[1]
	line, err := serialport.Open(port)
	if err != nil {
		t.Fatal(err)
	}
	j, err := jig.Open(t.Context(), line, jig.Profile{Name: "tone", StepsPerTurn: 200, Microsteps: 16, Gear: 1, Direction: 1})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	quickest := patience
	for range 5 {
		begun := time.Now()
		if _, err := j.Status(t.Context()); err != nil {
			t.Error(err)
		}
		quickest = min(quickest, time.Since(begun))
	}
	if quickest < 28*time.Millisecond { // 30 ms, less a step of the jig's clock
		t.Errorf("a reply came after %v", quickest)
	}
	until(t, "the deck has played for longer than its sink is waited for", func() bool {
		text, err := os.ReadFile(truth)
		var now bench.Truth
		return deck.ended() || err == nil && json.Unmarshal(text, &now) == nil && now.Frames > 4*bench.Rate
	})
	if err := deck.cmd.Process.Signal(syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	if code := deck.wait(t); code != 0 {
		t.Errorf("code %d: %s", code, deck.said.String())
	}
}
