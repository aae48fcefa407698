//go:build unix

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"headtrue/sweep/bench"
)

// A deck in its own process is turned by requests as they are said: it turns until it is asked
// to stop, keeps the blade in the slot, and takes it away at the optimum.
func TestADeckTurnedByHandObeys(t *testing.T) {
	t.Parallel()
	requests, says, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer requests.Close()
	defer says.Close()
	file := filepath.Join(t.TempDir(), "truth.json")
	deck := newProcess("bench", "--by-hand", "--profile", "tone", "--seed", "3", "--truth", file)
	deck.cmd.Stdin = requests
	deck.start(t)
	until(t, "the deck says what turns it", func() bool {
		return deck.ended() || strings.Contains(deck.out.String(), "turned by hand, by requests on standard input")
	})
	var now bench.Truth
	read := func() bool {
		text, err := os.ReadFile(file)
		return err == nil && json.Unmarshal(text, &now) == nil
	}
	say := func(request string) { fmt.Fprintln(says, request) }
	later := func(seconds float64) {
		until(t, "the deck writes its truth", read)
		then := now.Seconds + seconds
		until(t, "time passes", func() bool { return read() && now.Seconds > then })
	}
	say(`{"act":"turn","way":"counter-clockwise"}`)
	until(t, "the screw turns", func() bool { return read() && now.ScrewDeg < -20 })
	if !now.BladeSeated {
		t.Errorf("the screw turns without a blade: %+v", now)
	}
	say(`{"act":"hold"}`)
	later(2)
	stands := now.ScrewDeg
	later(2)
	if now.ScrewDeg != stands || !now.BladeSeated {
		t.Errorf("after a request to hold: at %g, then %+v", stands, now)
	}
	say(`{"act":"edge","way":"clockwise"}`)
	until(t, "the screw turns back", func() bool { return read() && now.ScrewDeg > stands+10 })
	say(`{"act":"optimum"}`)
	until(t, "the blade is away", func() bool { return read() && !now.BladeSeated })
	if err := deck.cmd.Process.Signal(syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	if code := deck.wait(t); code != exitGood {
		t.Errorf("code %d: %s", code, deck.said.String())
	}
}
