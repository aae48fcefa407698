package progress

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep/record"
	"headtrue/sweep/stream"
)

var plan = []string{"ready", "as found", "engage", "bracket", "refine", "drive back", "verify", "as left"}

// turn sends the events of a turn of four seconds, 25 steps per second, from a null of the tone
// on.
func turn(p *Progress) {
	for i := range 100 {
		step := record.Step{ScrewDeg: -500 + float64(i), Turning: true}
		step.Reading.TrebleDB = -20
		if i == 0 {
			step.Reading.TrebleDB = -197
		}
		p.Tell(stream.Event{Kind: stream.Stepped, Phase: "bracket", Step: &step, TapeSeconds: float64(i) * 0.04})
	}
}

func standingStep(p *Progress, db float64) {
	p.Tell(stream.Event{Kind: stream.Stepped, Phase: "refine", Step: &record.Step{Reading: record.Reading{TrebleDB: db, LevelDBFS: [2]float64{-20.5, -200}}}, TapeSeconds: 4})
}

func TestATurnIsShownTwiceASecond(t *testing.T) {
	var out strings.Builder
	p := New(&terminal.Screen{To: &out}, plan)
	turn(p)
	if n := strings.Count(out.String(), "bracket"); n < 7 || n > 9 {
		t.Errorf("%d lines for 4 s:\n%s", n, out.String())
	}
	for range 3 {
		standingStep(p, -20)
	}
	if n := strings.Count(out.String(), "refine"); n != 3 {
		t.Errorf("%d lines for 3 standing steps:\n%s", n, out.String())
	}
}

// On a terminal a turn takes one line, and the next output begins another.
func TestATurnIsOneLineOnATerminal(t *testing.T) {
	var out strings.Builder
	s := &terminal.Screen{To: &out, Display: terminal.Display{Rewrites: true}}
	turn(New(s, plan))
	_, text, _ := strings.Cut(out.String(), "dBFS\n") // the heads
	if strings.Contains(text, "\n") || strings.Count(text, "\r") < 7 {
		t.Errorf("%q: want one line, written over", text)
	}
	for _, state := range strings.Split(text, "\r\x1b[K") {
		if n := utf8.RuneCountInString(state); n >= 80 {
			t.Errorf("%d columns: a terminal of 80 begins a new line: %q", n, state)
		}
	}
	fmt.Fprintln(s, "next")
	fmt.Fprintln(s, "last")
	if !strings.HasSuffix(out.String(), "\nnext\nlast\n") {
		t.Errorf("%q: want what comes next in lines of its own", out.String())
	}
}

// What is heard in a turn does not take the place of its steps, the last of which stays.
func TestTheStepsOfATurnStay(t *testing.T) {
	var out strings.Builder
	p := New(&terminal.Screen{To: &out, Display: terminal.Display{Rewrites: true}}, plan)
	for i := range 100 {
		seconds := float64(i) * 0.04
		p.Tell(heard(seconds))
		p.Tell(stream.Event{Kind: stream.Stepped, Phase: "bracket", Step: &record.Step{ScrewDeg: -500 + float64(i), Turning: true}, TapeSeconds: seconds})
	}
	p.Tell(stream.Event{Kind: stream.Said, Phase: "refine", Say: "done", TapeSeconds: 4.2})
	if n := strings.Count(out.String(), "bracket"); n < 7 || !regexp.MustCompile(`bracket +-4\d\d.0 [^\r\n]*\n  4.2 `).MatchString(out.String()) {
		t.Errorf("%d steps: %q", n, out.String())
	}
}

// One null of a tone does not make all bars equally long.
func TestBarsTellTrebleApartAfterANull(t *testing.T) {
	var out strings.Builder
	p := New(&terminal.Screen{To: &out}, plan)
	for _, db := range []float64{-10, -197, -10, -30} {
		standingStep(p, db)
	}
	lines := strings.Split(out.String(), "\n")[2:]
	bright, dull := strings.Count(lines[2], "█"), strings.Count(lines[3], "█")
	if bright-dull < 6 || strings.Count(lines[1], "█") != 0 {
		t.Errorf("bars of %d and %d for 20 dB:\n%s", bright, dull, out.String())
	}
}

// heard is a live reading.
func heard(seconds float64) stream.Event {
	return stream.Event{Kind: stream.Heard, Phase: "as found", TapeSeconds: seconds, Reading: &stream.Live{TrebleDB: -17, LevelDBFS: [2]float64{-31, -21.2}}}
}

// What is heard while the run listens is shown with the input's level, on a terminal only, and
// leaves nothing behind.
func TestListeningIsShownWhileItLasts(t *testing.T) {
	show := func(d terminal.Display) string {
		var out strings.Builder
		p := New(&terminal.Screen{To: &out, Display: d}, plan)
		for i := range 100 {
			p.Tell(heard(float64(i) * 0.04))
		}
		p.Tell(stream.Event{Kind: stream.Said, Phase: "engage", Say: "on it goes", TapeSeconds: 4})
		return out.String()
	}
	text := show(terminal.Display{Rewrites: true})
	if n := strings.Count(text, " -21.2"); n < 7 || n > 9 {
		t.Errorf("the level is shown %d times in 4 s: %q", n, text)
	}
	if !strings.Contains(text, "\r\x1b[K  4.0 2 of ~7  engage     on it goes\n") {
		t.Errorf("%q: want the sentence in place of what was heard", text)
	}
	if text := show(terminal.Display{}); strings.Contains(text, "-21.2") {
		t.Errorf("a pipe has the live readings:\n%s", text)
	}
}

// The table follows the width: columns are left out where it is narrow, and the bar is longer
// where it is wide. A resize brings new heads.
func TestTheTableFollowsTheWidth(t *testing.T) {
	var out strings.Builder
	p := New(&terminal.Screen{To: &out, Display: terminal.Display{Rewrites: true}}, plan)
	for _, c := range []struct {
		columns int
		heads   string
		bar     int
	}{
		{40, " time step     what        screw treble", 0},
		{46, " time step     what        screw treble  tilt", 0},
		{64, " time step     what        screw treble  tilt  delay level", 0},
		{80, " time step     what        screw treble  tilt  delay level treble", 20},
		{120, "", 60}, {200, "", 80}, {300, "", 80},
	} {
		out.Reset()
		t.Setenv("COLUMNS", strconv.Itoa(c.columns))
		standingStep(p, -17)
		p.Tell(stream.Event{Kind: stream.Said, Phase: "refine", Say: strings.Repeat("so many words and ", 10), TapeSeconds: 4})
		lines := strings.Split(strings.TrimRight(out.String(), "\n"), "\n")
		for _, line := range lines {
			if n := utf8.RuneCountInString(line); n >= min(c.columns, 200) {
				t.Errorf("%d columns in a terminal of %d: %q", n, c.columns, line)
			}
		}
		if got := lines[0]; (got != c.heads) != (c.heads == "") {
			t.Errorf("%d columns: heads %q, want %q", c.columns, got, c.heads)
		}
		standingStep(p, -17)
		standingStep(p, -30)
		standingStep(p, -17)
		text := out.String()
		last := text[strings.LastIndex(strings.TrimRight(text, "\n"), "\n"):]
		if n := strings.Count(last, "█"); c.bar == 0 && n > 0 || c.bar > 0 && (n < c.bar/3 || n > c.bar) {
			t.Errorf("%d columns: a bar of %d, want one in %d: %q", c.columns, n, c.bar, last)
		}
	}
}

// The tape's seconds begin anew after the ready step; the clock goes on.
func TestTheClockOnlyGoesForward(t *testing.T) {
	var c clock
	var at []float64
	for _, tape := range []float64{0, 4, 4, 0, 0, 2, 6, 5, 7} {
		at = append(at, c.at(tape))
	}
	if want := []float64{0, 4, 4, 4, 4, 6, 10, 10, 12}; !slices.Equal(at, want) {
		t.Errorf("the clock shows %v, want %v", at, want)
	}
}

// No stage is numbered beyond the number of stages, whatever comes between, and an undisturbed
// run ends with the last.
func TestStagesAreCounted(t *testing.T) {
	for _, c := range []struct{ entered, counts string }{
		{"ready,as found,engage,bracket,refine,drive back,verify,as left,end", "1/8 2/8 3/8 4/8 5/8 6/8 7/8 8/8 8/8"},
		{"ready,as found,engage,approach,refine,drive back,verify,drive back,as left", "1/8 2/8 3/8 4/9 5/8 6/8 7/8 7/8 8/8"},
		{"ready,wait,ready,as found,put back,end", "1/8 2/9 2/9 3/9 4/10 4/10"},
		{"proof", "1/9"},
	} {
		s := stream.Stages{Plan: plan}
		var counts []string
		for _, phase := range strings.Split(c.entered, ",") {
			s.Enter(phase)
			n, about := s.Count()
			counts = append(counts, fmt.Sprintf("%d/%d", n, about))
			if n > about {
				t.Errorf("%s: stage %d of %d", c.entered, n, about)
			}
		}
		if got := strings.Join(counts, " "); got != c.counts {
			t.Errorf("%s: %s, want %s", c.entered, got, c.counts)
		}
	}
}

// A warning and the end have their colour only where the terminal has it, and words in any case.
func TestColoursAreNeverTheOnlySign(t *testing.T) {
	show := func(d terminal.Display) string {
		var out strings.Builder
		p := New(&terminal.Screen{To: &out, Display: d}, plan)
		p.Tell(stream.Event{Kind: stream.Warned, Phase: "ready", Say: "hum"})
		for _, o := range []record.Outcome{record.Aligned, record.LessCertain, record.Silent} {
			p.Tell(stream.Event{Kind: stream.Ended, Phase: "end", Say: "so", End: &record.End{Outcome: o}})
		}
		return out.String()
	}
	plain, coloured := show(terminal.Display{}), show(terminal.Display{Colour: true})
	for colour, words := range map[string]string{"33": "doubt: hum", "32": "aligned: so", "31": string(record.Silent) + ": so"} {
		if !strings.Contains(plain, words) || !regexp.MustCompile(`\x1b\[`+colour+`m[^\x1b]*`+words+`\x1b\[0m\n`).MatchString(coloured) {
			t.Errorf("%q in plain text and in colour %s:\n%s%q", words, colour, plain, coloured)
		}
	}
	if strings.Contains(plain, "\x1b") {
		t.Errorf("colours without a terminal: %q", plain)
	}
}
