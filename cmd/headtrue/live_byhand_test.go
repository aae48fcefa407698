//go:build outside && portaudio && unix

package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"

	"headtrue/dsp/capture/soundservertest"
	"headtrue/sweep/hand"
)

// A person at a terminal, who only reads what it says, turns the screw of a deck in another
// process: the head is set, and one is put back. The truth of the deck decides.
func TestLiveByHand(t *testing.T) {
	t.Parallel()
	material := materialFolder(t)
	program := build(t)
	for _, c := range []handCase{
		{name: "tone", bench: []string{"--seed", "31", "--profile", "tone"}, align: []string{"--tone", "10k"}, offArcmin: 3, restores: true},
		{name: "tone with cues", bench: []string{"--seed", "32", "--profile", "tone"}, align: []string{"--tone", "10k"}, offArcmin: 3, cues: true},
		{name: "recording", bench: []string{"--seed", "33", "--programme", filepath.Join(material, "recording.wav")}, offArcmin: 4},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.run(t, program)
		})
	}
}

// handCase is a deck whose screw is turned by hand. offArcmin is the allowed final error of the
// head: twice what many runs are allowed rms.
type handCase struct {
	name           string
	bench, align   []string
	offArcmin      float64
	restores, cues bool
}

func (c handCase) run(t *testing.T, program string) {
	d := newDeck(t, program)
	requests, says, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer requests.Close()
	defer says.Close()
	d.bench.cmd.Stdin = requests
	d.startBench(t, &d.bench.out, append([]string{"--by-hand", "--sink", "pulse:" + soundservertest.Sink}, c.bench...)...)

	args := append([]string{"--by-hand", "--audio", byPulse}, c.align...)
	if c.cues {
		load := exec.Command("pactl", "load-module", "module-null-sink", "sink_name=cues", "rate=48000", "format=float32le", "channels=2")
		load.Env = d.env
		if out, err := load.CombinedOutput(); err != nil {
			t.Fatalf("pactl: %v\n%s", err, out)
		}
		args = append(args, "--cue-output", "pulse:cues")
	} else {
		args = append(args, "--cue", "off")
	}
	result, screen := d.byHand(t, says, append([]string{"align"}, args...)...)
	t.Logf("%s", screen)
	left := d.settled(t)
	t.Logf("truth: found %+.2f', left %+.2f' off; %v", left.FoundTiltArcmin, left.ErrorArcmin, result)
	// A hand whose corrections do not get within the tolerance ends less certain, and says so.
	set := result["outcome"] == "aligned" || result["outcome"] == "aligned-less-certain"
	if !set || !(math.Abs(left.ErrorArcmin) <= c.offArcmin) || left.BladeSeated {
		t.Errorf("outcome %v, by the truth %+.2f' off: %+v", result["outcome"], left.ErrorArcmin, left)
	}
	if stated, ok := result["left_off_sd_arcmin"].(float64); !ok || math.Abs(left.ErrorArcmin-result["left_off_arcmin"].(float64)) > 4*stated {
		t.Errorf("says %v' off, ±%v' (one deviation), and is %+.2f' off", result["left_off_arcmin"], result["left_off_sd_arcmin"], left.ErrorArcmin)
	}
	if strings.Contains(screen, "No cues are played") || strings.Contains(screen, "were lost") {
		t.Error("no cues were played, or sound was lost")
	}
	if !c.restores {
		return
	}
	result, screen = d.byHand(t, says, "restore", "--by-hand", "--audio", byPulse, "--cue", "off")
	back := d.settled(t)
	off := back.TiltArcmin - back.FoundTiltArcmin
	t.Logf("restored to %+.2f' from as found:\n%s", off, screen)
	if result["outcome"] != "restored" || !(math.Abs(off) <= 3) {
		t.Errorf("outcome %v, by the truth %+.2f' from as found", result["outcome"], off)
	}
}

// eraseLine is what a terminal is sent before a line is written over another.
const eraseLine = "\r\x1b[K"

// heard is a line of the progress of a run by hand: time, stage, and what is said.
var heard = regexp.MustCompile(`^ *[0-9.]+ +[0-9]+ of ~?[0-9]+ +(?:as found|bracket|refine|set|as left) +(.+)$`)

// byHand runs a command on a terminal. A person accepts the cautions there, and says each
// request that appears on the screen to the hand.
func (d *deck) byHand(t *testing.T, says io.Writer, args ...string) (result map[string]any, screen string) {
	t.Helper()
	p := d.process(append(args, "--json")...)
	p.cmd.Stderr = nil
	p.cmd.Env = append(p.cmd.Env, "TERM=xterm", "NO_COLOR=1", "COLUMNS=")
	keys, err := pty.StartWithAttrs(p.cmd, &pty.Winsize{Rows: 40, Cols: 150}, &syscall.SysProcAttr{Setsid: true, Setctty: true, Ctty: 0})
	if err != nil {
		t.Fatal(err)
	}
	p.await(t)
	person := newTypist(t, keys)
	person.sees("Type yes: ")
	person.types("yes\n")
	obeyed := 0
	for end := time.Now().Add(3 * patience); !p.ended(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("after %v the run has not ended:\n%s", 3*patience, person.screen.String())
		}
		lines := strings.Split(person.screen.String(), "\n")
		for ; obeyed < len(lines)-1; obeyed++ {
			line := strings.TrimRight(lines[obeyed], "\r")
			if at := strings.LastIndex(line, eraseLine); at >= 0 {
				line = line[at+len(eraseLine):]
			}
			if found := heard.FindStringSubmatch(line); found != nil {
				if request, ok := hand.Read(found[1]); ok {
					text, err := json.Marshal(map[string]any{"act": request.Act, "way": request.Way, "turns": request.Turns})
					if err != nil {
						t.Fatal(err)
					}
					fmt.Fprintf(says, "%s\n", text)
				}
			}
		}
	}
	return p.result(t), person.screen.String()
}
