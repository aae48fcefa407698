package bench

import (
	"fmt"
	"math"
	"os"
	"sync"
)

// programme is one loop of recorded sound, before any loss. Left and right are the same
// slice if both tracks are identical.
type programme struct {
	left, right []float64
	rate        int
}

// load makes the loop of a profile; nil is silence.
func (p Programme) load(seed uint64) (*programme, error) {
	switch p.Kind {
	case "silence":
		return nil, nil
	case "tones":
		return p.tones(), nil
	case "wav":
		return p.wav()
	}
	if p.MusicSeed != 0 {
		seed = p.MusicSeed
	}
	m := music(seed, loopFrames(int(p.MusicSeconds*Rate), Rate))
	return m, m.finish(p)
}

// tones makes sines of whole periods: a loop of one second if all frequencies are whole
// hertz, else of ten seconds, with frequencies rounded to 0.1 Hz.
func (p Programme) tones() *programme {
	seconds := 1
	for _, t := range p.Tones {
		if t.Hz != math.Round(t.Hz) {
			seconds = 10
		}
	}
	out := make([]float64, seconds*Rate)
	for _, t := range p.Tones {
		a := amplitude(t.LevelDBFS)
		w := 2 * math.Pi * math.Round(t.Hz*float64(seconds)) / float64(seconds*Rate)
		for i := range out {
			out[i] += a * math.Sin(w*float64(i))
		}
	}
	return &programme{left: out, right: out, rate: Rate}
}

func (p Programme) wav() (*programme, error) {
	left, right, rate, err := readWAV(p.WAV, p.WAVFromSeconds, p.WAVSeconds)
	if err != nil {
		return nil, err
	}
	if rate%10 != 0 {
		return nil, fmt.Errorf("bench: programme %q: its rate, %d Hz, is no multiple of 10", p.WAV, rate)
	}
	n := loopFrames(len(left), rate)
	if n < rate {
		return nil, fmt.Errorf("bench: programme %q: %.2f s of sound cannot be looped: at least 1 s is needed", p.WAV, float64(len(left))/float64(rate))
	}
	m := &programme{left: left[:n], right: right[:n], rate: rate}
	m.fadeEnds(rate / 100)
	return m, m.finish(p)
}

// finish adds the second source and scales the sum to its level.
func (m *programme) finish(p Programme) error {
	if err := m.addSecond(p.Second); err != nil {
		return err
	}
	m.level(p.LevelDBFS)
	return nil
}

// loopFrames returns the greatest loop length, in frames, of at most n that is a whole
// number of tenths of a second and a product of small primes, for the FFT.
func loopFrames(n, rate int) int {
	tenth := rate / 10
	for k := n / tenth; k > 0; k-- {
		rest := k
		for _, p := range []int{2, 3, 5} {
			for rest%p == 0 {
				rest /= p
			}
		}
		if rest == 1 {
			return k * tenth
		}
	}
	return 0
}

// fadeEnds fades the first and last n frames, so that the loop does not click.
func (m *programme) fadeEnds(n int) {
	for _, ch := range m.channels() {
		for i := range n {
			g := 0.5 - 0.5*math.Cos(math.Pi*(float64(i)+0.5)/float64(n))
			ch[i] *= g
			ch[len(ch)-1-i] *= g
		}
	}
}

// level scales the louder channel to a level in dBFS rms.
func (m *programme) level(dbfs float64) {
	loudest := max(power(m.left), power(m.right)) / float64(len(m.left))
	if loudest == 0 {
		return
	}
	g := noiseRMS(dbfs) / math.Sqrt(loudest)
	for _, ch := range m.channels() {
		for i := range ch {
			ch[i] *= g
		}
	}
}

// mono reports whether both tracks are the same slice.
func (m *programme) mono() bool { return &m.left[0] == &m.right[0] }

// channels returns the distinct channels.
func (m *programme) channels() [][]float64 {
	if m.mono() {
		return [][]float64{m.left}
	}
	return [][]float64{m.left, m.right}
}

// tape is a recorded programme. It is never changed.
type tape struct {
	track [2]*track
}

// record makes the tape of a programme; nil stays silence.
func (m *programme) record(t Tape, d Deck) (*tape, error) {
	if m == nil {
		return nil, nil
	}
	plan, err := newPlan(len(m.left), m.rate)
	if err != nil {
		return nil, err
	}
	loss, level := fixedLosses(t, d), complex(1/equaliserGain(t, d), 0)
	levelled := func(hz float64) complex128 { return loss(hz) * level }
	var out tape
	for c, signal := range [2][]float64{m.left, m.right} {
		if c == 1 && m.mono() && d.WornLeftDB == d.WornRightDB {
			out.track[1] = out.track[0]
			break
		}
		out.track[c] = plan.track(signal, d.worn(c, levelled))
	}
	return &out, nil
}

// shelf keeps the last recorded tape: many consecutive benches often play the same one,
// and recording takes longer than playing a minute of it.
var shelf struct {
	sync.Mutex
	label string
	tape  *tape
}

// tape records the profile's programme, or returns it from the shelf.
func (p Profile) tape(programme Programme, seed uint64) (*tape, error) {
	if programme.Kind != "music" || programme.MusicSeed != 0 {
		seed = 0
	}
	label, err := p.label(programme, seed)
	if err != nil {
		return nil, err
	}
	shelf.Lock()
	defer shelf.Unlock()
	if shelf.label == label {
		return shelf.tape, nil
	}
	m, err := programme.load(seed)
	if err != nil {
		return nil, err
	}
	t, err := m.record(p.Tape, p.Deck)
	if err == nil {
		shelf.label, shelf.tape = label, t
	}
	return t, err
}

// label returns a text of everything that a recorded tape depends on.
func (p Profile) label(programme Programme, seed uint64) (string, error) {
	programme.RandomStart = false
	var file string
	if programme.Kind == "wav" {
		info, err := os.Stat(programme.WAV)
		if err != nil {
			return "", fmt.Errorf("bench: programme: %w", err)
		}
		file = fmt.Sprint(info.Size(), info.ModTime().UnixNano())
	}
	return fmt.Sprintf("%+v %d %s %g %g %g %g %g %g %g", programme, seed, file,
		p.Tape.SpacingUM, p.Tape.ThicknessUM, p.Tape.RecordedEqUS, p.Deck.GapUM, p.Deck.ReplayEqUS, p.Deck.WornLeftDB, p.Deck.WornRightDB), nil
}
