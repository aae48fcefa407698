//go:build outside && linux

package cues

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/dsp/capture/soundservertest"
	"headtrue/sweep/bench"
	"headtrue/sweep/cue"
	"headtrue/sweep/stream"
)

// cueSink is the sink for the cues, beside that of the tape.
const cueSink = "cues"

// startServer starts a sound server with a sink for the cues.
func startServer(t *testing.T) *soundservertest.Server {
	t.Helper()
	server := soundservertest.Start(t)
	server.Setenv(t)
	loadModule(t, "module-null-sink", "sink_name="+cueSink, "rate=48000", "format=float32le", "channels=2")
	return server
}

func loadModule(t *testing.T, args ...string) {
	t.Helper()
	if out, err := exec.Command("pactl", append([]string{"load-module"}, args...)...).CombinedOutput(); err != nil {
		t.Fatalf("pactl load-module %v: %v\n%s", args, err, out)
	}
}

func openCues(t *testing.T, o Order) (*Player, *notes) {
	t.Helper()
	n := &notes{}
	p, err := Open(context.Background(), o, n.note)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.Close)
	return p, n
}

// monitor records what the sink of the cues plays.
type monitor struct {
	mu    sync.Mutex
	sound []float32 // by frame number; lost frames are 0
	began time.Time // of frame 0: the earliest that any block allows
	lost  int64
}

// listenTo records a source until the test ends.
func listenTo(t *testing.T, name string) *monitor {
	t.Helper()
	m := &monitor{}
	eachBlock(t, name, func(b audio.Block) {
		m.mu.Lock()
		defer m.mu.Unlock()
		m.lost += b.Lost
		m.sound = append(m.sound, make([]float32, b.End()-int64(len(m.sound)))...)
		for i, v := range b.Left {
			m.sound[b.Start+int64(i)] = float32(v)
		}
		began := b.Arrived.Add(-time.Duration(float64(b.End()) / soundservertest.Rate * float64(time.Second)))
		if m.began.IsZero() || began.Before(m.began) {
			m.began = began
		}
	})
	return m
}

// eachBlock handles the blocks of a live input, in another goroutine, until the test ends.
func eachBlock(t *testing.T, name string, handle func(audio.Block)) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	source, err := capture.Open(ctx, name, soundservertest.Rate)
	if err != nil {
		cancel()
		t.Fatal(err)
	}
	first, ended := make(chan bool), make(chan bool)
	go func() { // ends with ctx
		defer close(ended)
		for n := 0; ; n++ {
			b, err := source.Next(ctx)
			if err != nil {
				return
			}
			handle(b)
			if n == 0 {
				close(first)
			}
		}
	}()
	t.Cleanup(func() {
		cancel()
		<-ended
		_ = source.Close()
	})
	select {
	case <-first:
	case <-time.After(20 * time.Second):
		t.Fatalf("%s delivers no sound", name)
	}
}

// holdHz is a frequency of hold that the distance below the target lacks.
const holdHz = 1750

// onset returns the delay from an instant to the hold after it, ms: until its amplitude over 4
// ms is half of what it becomes.
func (m *monitor) onset(t *testing.T, shown time.Time) float64 {
	t.Helper()
	const window = soundservertest.Rate * 4 / 1000
	m.mu.Lock()
	defer m.mu.Unlock()
	from := int(shown.Sub(m.began).Seconds() * soundservertest.Rate)
	for at := from; at < from+soundservertest.Rate/2 && at+window < len(m.sound); at += 12 {
		if amplitude(m.sound[at:at+window], holdHz) > cue.Level/4 {
			return 1000 * (m.began.Add(time.Duration(float64(at+window) / soundservertest.Rate * float64(time.Second))).Sub(shown)).Seconds()
		}
	}
	t.Fatal("a hold is not heard within half a second")
	return 0
}

// quantile of sorted numbers.
func quantile(sorted []float64, q float64) float64 {
	return sorted[int(math.Ceil(q*float64(len(sorted))))-1]
}

// The 99th percentile of 200 cues, 30 in short, of a run that is heard, measured, guided and spoken to lies at
// most 60 ms above the median of cues while nothing else happens.
func TestLiveCuesAreInTime(t *testing.T) {
	const mostAboveIdleMS = 60
	idleCues, events := 40, 200
	if testing.Short() {
		idleCues, events = 12, 20
	}
	startServer(t)
	p, n := openCues(t, Order{Output: "pulse:" + cueSink, Mode: Tone, Input: "pulse:" + soundservertest.Source})
	m := listenTo(t, "pulse:"+cueSink+".monitor")
	random := rand.New(rand.NewPCG(5, 7))
	pause := func(least, most float64) {
		time.Sleep(time.Duration((least + (most-least)*random.Float64()) * float64(time.Second)))
	}
	var idleAt, runAt []time.Time
	for range idleCues {
		pause(0.15, 0.25)
		idleAt = append(idleAt, time.Now())
		p.Show(request(stream.HoldOn, ""))
		pause(0.1, 0.1)
		p.Show(request("silence", ""))
	}

	// The run: the tape is captured, measured and listened to for the cues; 20 events a second.
	playTape(t)
	meter := dsp.NewMeter(soundservertest.Rate, 10000)
	eachBlock(t, "pulse:"+soundservertest.Source, func(b audio.Block) {
		p.Hears(b, soundservertest.Rate)
		meter.Reset()
		meter.Add(b)
		meter.Reading()
	})
	ring := stream.NewRing(256)
	p.Follow(ring.Reader())
	for range events {
		off := -20 * random.Float64()
		for range 4 + random.IntN(5) {
			ring.Publish(stream.Event{Kind: stream.Guided, Guidance: &stream.Guidance{Act: stream.TurnOn, OffArcmin: &off, ToleranceArcmin: 0.5}})
			pause(0.045, 0.055)
		}
		runAt = append(runAt, time.Now())
		ring.Publish(request(stream.HoldOn, ""))
		pause(0.12, 0.12)
	}
	pause(0.7, 0.7)
	var idle, run []float64
	for _, at := range idleAt {
		idle = append(idle, m.onset(t, at))
	}
	for _, at := range runAt {
		run = append(run, m.onset(t, at))
	}
	slices.Sort(idle)
	slices.Sort(run)
	m.mu.Lock()
	lost := m.lost
	m.mu.Unlock()
	t.Logf("event to cue: idle %d cues, median %.1f ms; run %d events, median %.1f, 90 %% %.1f, 99 %% %.1f, most %.1f ms; %d frames lost at the monitor",
		len(idle), quantile(idle, 0.5), len(run), quantile(run, 0.5), quantile(run, 0.9), quantile(run, 0.99), run[len(run)-1], lost)
	if above := quantile(run, 0.99) - quantile(idle, 0.5); above > mostAboveIdleMS || quantile(idle, 0.5) <= 0 {
		t.Errorf("the 99th percentile lies %.1f ms above an idle cue, at most %d is allowed", above, mostAboveIdleMS)
	}
	if n.all() != "" {
		t.Errorf("notes %q", n.all())
	}
}

// playTape plays a bench into the sink of the tape, in a loop of 10 s, and returns at once.
func playTape(t *testing.T) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "tape.wav")
	w, err := capture.CreateWAV(path, bench.Rate, true)
	if err != nil {
		t.Fatal(err)
	}
	b, err := bench.New(bench.Default(), 3, nil)
	if err != nil {
		t.Fatal(err)
	}
	for frames := 0; frames < 10*bench.Rate; {
		block, err := b.Next(context.Background())
		if err == nil {
			err = w.Write(block)
		}
		if err != nil {
			t.Fatal(err)
		}
		frames += block.Frames()
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan bool)
	go func() { // ends with ctx
		defer close(ended)
		for ctx.Err() == nil {
			_ = exec.CommandContext(ctx, "paplay", "--latency-msec=500", "-d", soundservertest.Sink, path).Run()
		}
	}()
	t.Cleanup(func() {
		cancel()
		<-ended
	})
}

// The input of a run that hears the cues at -30 dB is found out; one that does not is not.
func TestLiveLoopback(t *testing.T) {
	startServer(t)
	p, n := openCues(t, Order{Output: "pulse:" + cueSink, Mode: Tone, Input: "pulse:" + soundservertest.Source})
	playTape(t)
	var mu sync.Mutex
	var heard float64
	leaks := false
	eachBlock(t, "pulse:"+soundservertest.Source, func(b audio.Block) {
		mu.Lock()
		defer mu.Unlock()
		leaks = p.Hears(b, soundservertest.Rate)
		heard += float64(b.Frames()) / soundservertest.Rate
	})
	state := func() (bool, float64) {
		mu.Lock()
		defer mu.Unlock()
		return leaks, heard
	}
	guide := func(seconds float64) (found bool, after float64) {
		_, from := state()
		for {
			now, at := state()
			if now || at > from+seconds {
				return now, at - from
			}
			off := 10 * math.Cos(at/3)
			p.Show(stream.Event{Guidance: &stream.Guidance{Act: stream.TurnOn, OffArcmin: &off, ToleranceArcmin: 0.5}})
			time.Sleep(50 * time.Millisecond)
		}
	}
	if found, after := guide(unheardSeconds()); found {
		t.Errorf("after %.1f s the cues are found in an input that does not hear them", after)
	}
	loadModule(t, "module-loopback", "source="+cueSink+".monitor", "sink="+soundservertest.Sink, "latency_msec=60")
	out, err := exec.Command("pactl", "set-sink-input-volume", loopbackInput(t), "-30dB").CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	found, after := guide(40)
	t.Logf("found %v after %.1f s: %s", found, after, n.all())
	if !found || strings.Count(n.all(), "The sound input hears the cues") != 1 {
		t.Errorf("the cues are not found at -30 dB; notes %q", n.all())
	}
}

// unheardSeconds is how long the cues must stay unheard.
func unheardSeconds() float64 {
	if testing.Short() {
		return 8
	}
	return 25
}

// loopbackInput returns the number of the stream that plays the loopback.
func loopbackInput(t *testing.T) string {
	t.Helper()
	out, err := exec.Command("pactl", "list", "short", "sink-inputs").CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	for line := range strings.Lines(string(out)) {
		if f := strings.Fields(line); len(f) > 3 && f[2] == "-" && strings.Contains(line, "module-loopback") {
			return f[0]
		}
	}
	t.Fatalf("no loopback in\n%s", out)
	return ""
}

func TestLiveRefusals(t *testing.T) {
	startServer(t)
	input := "pulse:" + soundservertest.Source
	if out, err := exec.Command("pactl", "set-default-sink", soundservertest.Sink).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	for output, want := range map[string]string{
		"pulse:" + soundservertest.Sink: "choose another output",
		"pulse:":                        "choose another output", // the default is the tape's
		"":                              "choose another output",
		"pulse:nowhere":                 `sink "nowhere"`,
		"portaudio:x":                   "must be pulse:NAME",
	} {
		p, err := Open(context.Background(), Order{Output: output, Mode: Tone, Input: input}, t.Logf)
		if err == nil {
			p.Close()
		}
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(want, "another") != errors.Is(err, ErrSameDevice) {
			t.Errorf("output %q: error %v, want %q", output, err, want)
		}
	}
	openCues(t, Order{Output: "pulse:" + cueSink, Mode: Tone, Input: input})
}

// If the sound server dies there is one note, and the run is not held up.
func TestLiveServerKilledLeavesANote(t *testing.T) {
	server := startServer(t)
	p, n := openCues(t, Order{Output: "pulse:" + cueSink, Mode: Tone})
	p.Show(request(stream.HoldOn, ""))
	server.Kill()
	until(t, "there is a note", func() bool { return n.all() != "" })
	began := time.Now()
	for range 1000 {
		p.Show(request(stream.HoldOn, ""))
	}
	if took := time.Since(began); took > time.Second {
		t.Errorf("1000 requests after the failure took %v", took)
	}
	p.Close()
	if strings.Count(n.all(), "\n") != 0 || !strings.Contains(n.all(), "The run goes on without cues: ") {
		t.Errorf("notes %q", n.all())
	}
}

// A stopped server holds nobody up either.
func TestLiveStalledServerLeavesANote(t *testing.T) {
	startServer(t)
	_, n := openCues(t, Order{Output: "pulse:" + cueSink, Mode: Tone})
	if out, err := exec.Command("pactl", "suspend-sink", cueSink, "1").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	until(t, "there is a note", func() bool { return n.all() != "" })
	if !strings.Contains(n.all(), "has taken no sound for 2 s") {
		t.Errorf("notes %q", n.all())
	}
}

// The real synthesiser makes words, with at most 0.5 % of their power above 4.5 kHz.
func TestOutsideVoice(t *testing.T) {
	path, err := exec.LookPath(synthesiser)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	began := time.Now()
	words, err := synthesise(ctx, path, "Turn the screw slowly, clockwise, about half a turn.")
	if err != nil {
		t.Fatal(err)
	}
	took, seconds := time.Since(began), float64(len(words))/cue.Rate
	peak := float32(0)
	for _, v := range words {
		peak = max(peak, v, -v)
	}
	all, high := 0.0, 0.0 // power, from pieces of 10 ms
	const piece = cue.Rate / 100
	for ; len(words) >= piece; words = words[piece:] {
		for hz := 100.0; hz < 12000; hz += 100 {
			a := amplitude(words[:piece], hz)
			all += a * a
			if hz >= 4500 {
				high += a * a
			}
		}
	}
	if high > 0.005*all {
		t.Errorf("%.1f %% of the power of the words lies above 4.5 kHz", 100*high/all)
	}
	t.Logf("%.1f s of words, peak %.3f, %.2f %% of the power above 4.5 kHz, made in %v by %s", seconds, peak, 100*high/all, took, version(t, path))
	if seconds < 1 || seconds > 10 || math.Abs(float64(peak)/wordLevel-1) > 0.001 {
		t.Errorf("%.1f s of words, peak %.3f, want 1 to 10 s and %.3f", seconds, peak, wordLevel)
	}
}

func version(t *testing.T, path string) string {
	t.Helper()
	c := exec.Command(path, "--version")
	c.Env = os.Environ()
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(out))
}
