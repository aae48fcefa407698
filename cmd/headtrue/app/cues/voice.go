package cues

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os/exec"
	"strings"
	"sync"
	"time"

	"headtrue/cmd/headtrue/app/shell"
	"headtrue/sweep/cue"
	"headtrue/sweep/stream"
)

const (
	synthesiser = "espeak-ng"
	// wordLevel is the peak of the words. It lies below the tones, which must be heard.
	wordLevel = 0.5 * cue.Level
	// wordsHz is the highest frequency of the words: like the tones they must not be taken
	// for the tape.
	wordsHz = 3400
	// longestSeconds bounds the time that the synthesiser may take, and the words it makes.
	longestSeconds = 20
)

// sentence returns the words of a new request; "" if it has none. An edge and a halt are tones
// only: words would come too late.
func sentence(e stream.Event) string {
	switch e.Guidance.Act {
	case stream.Edge, stream.HoldOn:
		return ""
	}
	return e.Say
}

// speaker makes words of sentences, and lets the player mix them with the tones.
type speaker struct {
	player *Player
	mu     sync.Mutex
	newest chan string // holds the newest sentence until run takes it
}

func newSpeaker(p *Player) *speaker { return &speaker{player: p, newest: make(chan string, 1)} }

// say ends the present words and begins others, none for "".
func (s *speaker) say(sentence string) {
	s.player.speaks(nil)
	s.mu.Lock()
	defer s.mu.Unlock()
	select {
	case <-s.newest:
	default:
	}
	s.newest <- sentence
}

// speaks replaces the words.
func (p *Player) speaks(words []float32) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.words.set(words)
}

// run speaks until ctx ends. A newer sentence kills the synthesiser of an older one.
func (s *speaker) run(ctx context.Context) {
	path, err := exec.LookPath(synthesiser)
	if err != nil {
		s.player.note("Only tones are played, no words: the program %s is not found.", synthesiser)
		return
	}
	for sentence := ""; ctx.Err() == nil; {
		if sentence == "" {
			select {
			case sentence = <-s.newest:
			case <-ctx.Done():
			}
			continue
		}
		one, end := context.WithTimeout(ctx, longestSeconds*time.Second)
		made := make(chan result, 1)
		go func(sentence string) { // ends with one; it is waited for below
			words, err := synthesise(one, path, sentence)
			made <- result{words, err}
		}(sentence)
		select {
		case sentence = <-s.newest:
			end()
			<-made
		case r := <-made:
			end()
			if r.err != nil && ctx.Err() == nil {
				s.player.note("From now on only tones are played, no words: %v.", r.err)
				return
			}
			s.player.speaks(r.words)
			sentence = ""
		}
	}
}

type result struct {
	words []float32
	err   error
}

// synthesise makes the words of a sentence. The end of ctx kills the synthesiser.
func synthesise(ctx context.Context, path, sentence string) ([]float32, error) {
	c := exec.CommandContext(ctx, path, "--stdin", "--stdout", "-v", "en", "-s", "160")
	c.Env = shell.Environment()
	shell.OwnGroup(c)
	c.WaitDelay = time.Second
	c.Stdin = strings.NewReader(sentence)
	var said bytes.Buffer
	c.Stderr = &said
	wav, err := c.Output()
	if err != nil {
		return nil, fmt.Errorf("%s: %w: %s", synthesiser, err, strings.TrimSpace(said.String()))
	}
	samples, rate, err := decodeWAV(wav)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", synthesiser, err)
	}
	return words(samples, rate), nil
}

// decodeWAV decodes a WAV stream of 16-bit samples in one channel. In a stream the lengths in
// the header are unknown: the samples go on to the end.
func decodeWAV(wav []byte) (samples []float64, rate int, err error) {
	if len(wav) < 44 || string(wav[:4]) != "RIFF" || string(wav[8:16]) != "WAVEfmt " || string(wav[36:40]) != "data" ||
		binary.LittleEndian.Uint16(wav[22:]) != 1 || binary.LittleEndian.Uint16(wav[34:]) != 16 {
		return nil, 0, errors.New("its output is no WAV stream of 16 bits in one channel")
	}
	rate = int(binary.LittleEndian.Uint32(wav[24:]))
	if rate < 8000 || rate > cue.Rate {
		return nil, 0, fmt.Errorf("its output has %d frames per second: 8000 to %d can be played", rate, cue.Rate)
	}
	for b := wav[44:]; len(b) >= 2 && len(samples) < longestSeconds*rate; b = b[2:] {
		samples = append(samples, float64(int16(binary.LittleEndian.Uint16(b)))/(1<<15))
	}
	return samples, rate, nil
}

// words brings samples to the rate, the band and the level of the cues, by a windowed sinc.
func words(samples []float64, rate int) []float32 {
	half := int(sincPeriods * float64(rate) / wordsHz)
	kernels := map[int][]float64{} // by the place between two samples, which repeats
	out := make([]float64, len(samples)*cue.Rate/rate)
	peak := 0.0
	for i := range out {
		at, between := i*rate/cue.Rate, i*rate%cue.Rate
		kernel, made := kernels[between]
		if !made {
			kernel = lowPass(float64(between)/cue.Rate, half, wordsHz/float64(rate))
			kernels[between] = kernel
		}
		for j, weight := range kernel {
			if k := at - half + j; k >= 0 && k < len(samples) {
				out[i] += samples[k] * weight
			}
		}
		peak = max(peak, math.Abs(out[i]))
	}
	scaled := make([]float32, len(out))
	for i, v := range out {
		scaled[i] = float32(v * wordLevel / max(peak, math.SmallestNonzeroFloat32))
	}
	return scaled
}

// sincPeriods is half of the length of the filter, in periods of its limit.
const sincPeriods = 4

// lowPass returns the weights of the samples from half before to half after, for a place
// between two samples; limit is in periods per sample.
func lowPass(between float64, half int, limit float64) []float64 {
	weights := make([]float64, 2*half+1)
	for j := range weights {
		x := between - float64(j-half)
		if math.Abs(x) < float64(half) {
			weights[j] = sinc(2*x*limit) * (0.5 + 0.5*math.Cos(math.Pi*x/float64(half)))
		}
	}
	return weights
}

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}
