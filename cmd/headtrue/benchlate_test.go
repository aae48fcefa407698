//go:build unix

package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"syscall"
	"testing"

	"headtrue/sweep/bench"
)

// A bench that is late greets its host, and goes on although nobody reads its sound;
// Ctrl-C ends it all the same.
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
	host := newProcess("jig", "info", "--port", port, "--json")
	host.start(t)
	var info jigInfo
	if code := host.wait(t); code != 0 || json.Unmarshal([]byte(host.out.String()), &info) != nil || info.Firmware == "" {
		t.Errorf("code %d: %s%s", code, host.out.String(), host.said.String())
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
