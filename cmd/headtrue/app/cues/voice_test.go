//go:build unix

package cues

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"headtrue/sweep/cue"
	"headtrue/sweep/stream"
)

// notes collects what the player notes.
type notes struct {
	mu   sync.Mutex
	said []string
}

func (n *notes) note(format string, args ...any) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.said = append(n.said, fmt.Sprintf(format, args...))
}

func (n *notes) all() string {
	n.mu.Lock()
	defer n.mu.Unlock()
	return strings.Join(n.said, "\n")
}

// noDevice takes no sound: the test asks for it by fill.
type noDevice struct{}

func (noDevice) Close() error { return nil }

// withVoice returns a player without a device, with a voice.
func withVoice(t *testing.T) (*Player, *notes) {
	t.Helper()
	n := &notes{}
	p := &Player{note: n.note, synth: cue.NewSynth(1), device: noDevice{}, loop: newLoopback(n.note)}
	p.life, p.end = context.WithCancel(context.Background())
	p.speak = newSpeaker(p)
	p.own(func() { p.speak.run(p.life) })
	t.Cleanup(p.Close)
	return p, n
}

const fakeHz = 1450 // of the words of the fake synthesiser

// fake puts a synthesiser on the path: a script that notes its sentence and process in the
// returned folder. It is silent for ever after "slow"; else it speaks a sine of 0.5 s.
func fake(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	const rate = 22050
	var wav bytes.Buffer
	wav.WriteString("RIFF\xff\xff\xff\x7fWAVEfmt ") // lengths of a stream are unknown
	for _, v := range []any{uint32(16), uint16(1), uint16(1), uint32(rate), uint32(2 * rate), uint16(2), uint16(16)} {
		_ = binary.Write(&wav, binary.LittleEndian, v)
	}
	wav.WriteString("data\xff\xff\xff\x7f")
	for i := range rate / 2 {
		_ = binary.Write(&wav, binary.LittleEndian, int16(12000*math.Sin(2*math.Pi*fakeHz*float64(i)/rate)))
	}
	script := `#!/bin/sh
cd "` + dir + `"
sentence=$(/bin/cat)
echo "$sentence" >>said
echo $$ >pid
case $sentence in
slow*) exec /bin/sleep 60 ;;
broken*) echo "no voice" >&2; exit 3 ;;
esac
exec /bin/cat words.wav
`
	for name, text := range map[string]string{"words.wav": wav.String(), synthesiser: script} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	t.Setenv("PATH", dir)
	return dir
}

func request(act stream.Act, say string) stream.Event {
	return stream.Event{Kind: stream.Guided, Say: say, Guidance: &stream.Guidance{Act: act, New: true}}
}

// until waits for something that another process or goroutine does.
func until(t *testing.T, what string, happened func() bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); !happened(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("in 20 s it has not happened that %s", what)
		}
	}
}

// said returns the sentences that the fake was given.
func said(dir string) string {
	text, _ := os.ReadFile(filepath.Join(dir, "said"))
	return strings.ReplaceAll(strings.TrimSpace(string(text)), "\n", "|")
}

func (p *Player) speaking() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return len(p.words.now) > 0 || len(p.words.next) > 0
}

// amplitude of a frequency in a sound.
func amplitude(sound []float32, hz float64) float64 {
	var re, im float64
	for i, v := range sound {
		s, c := math.Sincos(2 * math.Pi * hz * float64(i) / cue.Rate)
		re, im = re+float64(v)*c, im+float64(v)*s
	}
	return 2 * math.Hypot(re, im) / float64(len(sound))
}

func TestWordsSoundBesideTheTones(t *testing.T) {
	dir := fake(t)
	p, n := withVoice(t)
	p.Show(request(stream.Trouble, "The level is low; wait `touch never`."))
	until(t, "the words are made", p.speaking)
	sound := make([]float32, cue.Rate/4)
	p.fill(sound)
	// In the first 0.25 s the rough tone sounds: its half at 500 Hz has half of the level.
	if a := amplitude(sound, 500); a < 0.9*cue.Level/2 {
		t.Errorf("the tone has an amplitude of %.3f beside the words", a)
	}
	if a := amplitude(sound, fakeHz); math.Abs(a/wordLevel-1) > 0.1 {
		t.Errorf("the words have an amplitude of %.3f, want %.3f", a, wordLevel)
	}
	rest := make([]float32, cue.Rate/2)
	p.fill(rest)
	if p.speaking() || n.all() != "" || said(dir) != "The level is low; wait `touch never`." {
		t.Errorf("still speaking %v, notes %q, said %q", p.speaking(), n.all(), said(dir))
	}
}

// Words never wait for each other, nor a tone for words: the synthesiser of an older sentence is
// killed, and an edge or a halt is not spoken.
func TestANewerRequestEndsTheWords(t *testing.T) {
	dir := fake(t)
	p, _ := withVoice(t)
	p.Show(request(stream.TurnOn, "slow"))
	until(t, "the slow sentence is begun", func() bool { return said(dir) == "slow" })
	pid := func() string {
		text, _ := os.ReadFile(filepath.Join(dir, "pid"))
		return strings.TrimSpace(string(text))
	}
	until(t, "the process is noted", func() bool { return pid() != "" })
	slow := pid()
	began := time.Now()
	p.Show(request(stream.TurnOn, "turn"))
	until(t, "the newer words are made", p.speaking)
	if _, err := os.Stat("/proc/" + slow); err == nil {
		t.Errorf("the older synthesiser, process %s, still runs", slow)
	}
	if took := time.Since(began); took > 10*time.Second {
		t.Errorf("the newer words took %v", took)
	}
	sound := make([]float32, cue.Rate/10)
	p.fill(sound)
	p.Show(request(stream.Edge, "The edge."))
	p.fill(sound[:2*fadeFrames])
	if p.speaking() {
		t.Error("the words go on after an edge")
	}
	p.Show(request(stream.HoldOn, "Stop."))
	p.Show(request(stream.HandsOff, "Wait."))
	until(t, "the last words are made", p.speaking)
	// A repeated request is not new: it neither ends words nor says any.
	e := request(stream.HandsOff, "Wait.")
	e.Guidance.New = false
	p.Show(e)
	p.fill(sound[:2*fadeFrames])
	if !p.speaking() || said(dir) != "slow|turn|Wait." {
		t.Errorf("speaking %v, said %q", p.speaking(), said(dir))
	}
}

func TestEdgeAndHoldAreNotSpoken(t *testing.T) {
	for act, want := range map[stream.Act]string{
		stream.HandsOff: "words", stream.TurnOn: "words", stream.Slower: "words", stream.WrongWay: "words",
		stream.Trouble: "words", stream.Optimum: "words", stream.Edge: "", stream.HoldOn: "",
	} {
		if got := sentence(request(act, "words")); got != want {
			t.Errorf("%s: %q is spoken, want %q", act, got, want)
		}
	}
}

// Without the synthesiser, or if it fails, there is one note and the tones go on.
func TestWithoutASynthesiserTonesGoOn(t *testing.T) {
	for name, c := range map[string]struct {
		path func(t *testing.T)
		want string
	}{
		"missing": {func(t *testing.T) { t.Setenv("PATH", t.TempDir()) }, "espeak-ng is not found"},
		"broken":  {func(t *testing.T) { fake(t) }, "exit status 3: no voice"},
	} {
		t.Run(name, func(t *testing.T) {
			c.path(t)
			p, n := withVoice(t)
			for range 3 {
				p.Show(request(stream.HoldOn, ""))
				p.Show(request(stream.TurnOn, "broken"))
				until(t, "there is a note", func() bool { return n.all() != "" })
			}
			p.Show(request(stream.TurnOn, "broken again"))
			time.Sleep(300 * time.Millisecond) // in which a second note would come
			p.Show(request(stream.HoldOn, "broken"))
			sound := make([]float32, cue.Rate/4)
			p.fill(sound)
			if a := amplitude(sound, 1750); a < 0.9*cue.Level/2 {
				t.Errorf("the tone has an amplitude of %.3f", a)
			}
			if strings.Count(n.all(), "\n") != 0 || !strings.Contains(n.all(), c.want) {
				t.Errorf("notes %q", n.all())
			}
		})
	}
}

// The end of a player kills a synthesiser that hangs.
func TestCloseDoesNotWaitForWords(t *testing.T) {
	dir := fake(t)
	p, _ := withVoice(t)
	p.Show(request(stream.TurnOn, "slow"))
	until(t, "the slow sentence is begun", func() bool { return said(dir) == "slow" })
	began := time.Now()
	p.Close()
	if took := time.Since(began); took > 10*time.Second {
		t.Errorf("closing took %v", took)
	}
}
