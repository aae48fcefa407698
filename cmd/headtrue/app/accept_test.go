//go:build unix

package app

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"

	"headtrue/cmd/headtrue/settings"
	"headtrue/jig"
	"headtrue/jig/virtual"
	"headtrue/sweep"
	"headtrue/sweep/bench"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// overheard is a board whose requests and replies are written down in words.
type overheard struct {
	*virtual.Jig
	mu    sync.Mutex
	words bytes.Buffer
}

func (o *overheard) Serve(ctx context.Context, rw io.ReadWriteCloser) error {
	return o.Jig.Serve(ctx, jig.Traced(rw, o))
}

func (o *overheard) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.words.Write(p)
}

func (o *overheard) text() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.words.String()
}

// notOnlyRead matches a request that does more than read.
var notOnlyRead = regexp.MustCompile(`< (energise|move|window|declare)`)

// moved reports whether the jig was asked for more than to speak.
func (o *overheard) moved() bool { return notOnlyRead.MatchString(o.text()) }

// realDeck is an align at a port and on raw sound, with a deck behind them whose sound is
// scaled.
func realDeck(t *testing.T, volume float64) (*Job, *overheard) {
	t.Helper()
	p, err := settings.Bench("tone")
	if err != nil {
		t.Fatal(err)
	}
	v := &overheard{Jig: virtual.New(p.JigFor(1))}
	deck, err := bench.New(p, 1, v.Jig)
	if err != nil {
		t.Fatal(err)
	}
	line, err := virtual.OpenLine(t.Context(), v)
	if err != nil {
		t.Fatal(err)
	}
	sound, plays, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	go func() { // ends with the pipe
		for {
			b, err := deck.Next(context.Background())
			var raw []byte
			for i := range b.Left {
				raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(float32(volume*b.Left[i])))
				raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(float32(volume*b.Right[i])))
			}
			if _, failed := plays.Write(raw); err != nil || failed != nil {
				return
			}
		}
	}()
	stdin := os.Stdin
	os.Stdin = sound
	book, err := logbook.Open(t.TempDir(), "")
	if err != nil {
		t.Fatal(err)
	}
	j := &Job{Order: Order{Command: "align"}, Plan: sweep.Plan{ToneHz: 10000}, front: frontTo(io.Discard), book: book, sitting: &sitting{}}
	j.Settings.Settings = settings.Default()
	j.Settings.Port, j.Settings.Audio, j.Settings.AudioRateHz = line.Path, "raw:f32le", bench.Rate
	t.Cleanup(func() {
		j.dropRig()
		os.Stdin = stdin
		sound.Close()
		plays.Close()
		line.Close()
		book.Close()
	})
	return j, v
}

// Port, sound and tape are tried before the question, and nothing is energised or moved before
// it is answered.
func TestNothingTurnsBeforeTheAnswer(t *testing.T) {
	for _, answer := range []string{"yes", "no"} {
		j, deck := realDeck(t, 1)
		asked, heard := 0, false
		j.front.Note = func(format string, _ ...any) { heard = heard || strings.Contains(format, "a tape is heard") }
		j.front.Ask = func(_ context.Context, q Question) (string, error) {
			question := q.Text
			asked++
			if !strings.Contains(deck.text(), "hello") || j.rig == nil || !heard {
				t.Errorf("asked before port, sound and tape were tried: %s", deck.text())
			}
			if deck.moved() || !strings.Contains(question, "mains") {
				t.Errorf("asked %q after\n%s", question, deck.text())
			}
			return answer, nil
		}
		err := j.prepare(t.Context())
		if asked != 1 || deck.moved() || (err == nil) != (answer == "yes") || (j.rig == nil) != (answer == "no") {
			t.Errorf("%s: asked %d times, rig %v, %v\n%s", answer, asked, j.rig, err, deck.text())
		}
		if err == nil { // the watch for it works
			if err := j.rig.Jig.Energise(t.Context()); err != nil || !deck.moved() {
				t.Errorf("%v: an order to energise is not seen:\n%s", err, deck.text())
			}
		}
	}
}

// A sitting whose cautions were not accepted is asked again.
func TestARefusalIsAskedAgain(t *testing.T) {
	j, deck := realDeck(t, 1)
	asked := 0
	j.front.Ask = func(context.Context, Question) (string, error) { asked++; return "no", nil }
	for i := range 2 {
		if err := j.prepare(t.Context()); err == nil || j.rig != nil || asked != i+1 || deck.moved() {
			t.Fatalf("prepared with %v, rig %v, asked %d times", err, j.rig, asked)
		}
	}
}

// Without sound from a tape the person is asked to see to it, not to accept the cautions.
func TestASilentTapeIsToldBeforeTheCautions(t *testing.T) {
	j, deck := realDeck(t, 1e-3)
	var questions []string
	j.front.Ask = func(_ context.Context, q Question) (string, error) {
		question := q.Text
		questions = append(questions, question)
		return map[bool]string{true: "no", false: ""}[len(questions) == 2], nil
	}
	err := j.prepare(t.Context())
	var f *Failure
	if !errors.As(err, &f) || f.Outcome != record.Silent || j.rig != nil || deck.moved() || len(questions) != 2 {
		t.Fatalf("%v after %q", err, questions)
	}
	for _, q := range questions {
		if !strings.Contains(q, "start the tape") || strings.Contains(q, "mains") {
			t.Errorf("asked %q", q)
		}
	}
}

// A port that cannot be opened is told before any question.
func TestAMissingPortIsToldBeforeTheCautions(t *testing.T) {
	j, _ := realDeck(t, 1)
	j.Settings.Port = "/dev/nosuch"
	j.front.Ask = func(_ context.Context, q Question) (string, error) {
		question := q.Text
		t.Errorf("asked %q", question)
		return "yes", nil
	}
	var f *Failure
	if err := j.prepare(t.Context()); !errors.As(err, &f) || f.Outcome != record.NotReady {
		t.Errorf("ended with %v", err)
	}
}
