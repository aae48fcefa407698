package live

import (
	"math"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"headtrue/cmd/headtrue/app/listening"
	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep/monitor"
)

func number64(v float64) *float64 { return &v }

// sounding is an update with every figure.
func sounding() listening.Update {
	f := number64
	return listening.Update{Now: monitor.Now{
		Seconds: 61.04, LevelDBFS: [2]*float64{f(-20.13), f(-21.4)}, PeakDBFS: [2]*float64{f(-9.2), f(0)}, Clipped: [2]bool{false, true},
		TrebleDB: f(-13.27), TrebleLR: [2]*float64{f(-16.1), f(-16.5)}, DelayUS: f(-12.342), DelaySDUS: f(0.4), PeriodUS: f(99.7), CountedUS: f(-12.3),
		TiltArcmin: f(-2.244), TiltSD: f(0.073), TiltPeriod: f(18.13), StillS: 12.2, LiveDelayUS: f(-12), LiveTilt: f(-2.2), PhaseDeg: f(-44.6), PhaseHz: f(10031.2),
		ToneHz: f(10031.23), Speed: f(0.3123), Nominal: f(10000), SpeedMean: f(0.3001), SpeedMeanSD: f(0.01), FlutterPeak: f(0.0912), FlutterRMS: f(0.0812), FlutterS: f(20),
		HumDBFS: [2]*float64{f(-66.3), f(-70.1)}, HumHz: f(50), Coherence: f(0.987), Faults: []string{monitor.Clipped},
	}}
}

func textOf(lines []terminal.Line) string {
	var b strings.Builder
	for _, l := range lines {
		b.WriteString(strings.TrimRight(l.Text, " ") + "\n")
	}
	return b.String()
}

const wantLarge = `TILT '      ±0.1' (95 %), still for 12 s; the smallest of those 18.1' apart
                         █████         █████
                             █             █
                  █████  █████         █████
                         █       ██    █
                         █████   ██    █████

TREBLE dB   re full scale
                    █    █████         █████
                   ██        █             █
           █████    █     ████          ████
                    █        █   ██        █
                  █████  █████   ██    █████

SPEED %     tone   10031.2 Hz, flutter 0.091 % weighted peak, 0.081 % rms
                  █████         █████    █
             █    █   █             █   ██
           █████  █   █          ████    █
             █    █   █   ██        █    █
                  █████   ██    █████  █████
L ████████████████████████████████████████····················  -20.1
R ███████████████████████████████████████·····················  -21.4 CLIP
sound: clipped
`

const wantSmall = `left       ████████████████████··········  -20.1 dBFS, peak   -9.2
right      ███████████████████···········  -21.4 dBFS, peak    0.0 CLIP
treble       -13.3 dB re full scale (left  -16.1, right  -16.5)
delay        -12.34 us;    -45 degrees at 10031 Hz
tilt          -2.24'  ±0.1' (95 %), still for 12 s; the smallest of those 18.1' apart
tone         10031.2 Hz
speed         +0.31 %  mean  +0.300 %  flutter 0.091 % weighted peak, 0.081 % rms
hum        left    -66, right    -70 dBFS at 50 Hz
coherence      0.99
sound      clipped
`

// The exact pictures, large and small. The large one fits a terminal of 80x24, whose last line
// stays free for the cursor.
func TestPictures(t *testing.T) {
	for _, c := range []struct {
		large bool
		want  string
	}{{true, wantLarge}, {false, wantSmall}} {
		got := textOf((&View{Large: c.large}).Lines(sounding()))
		if got != c.want {
			t.Errorf("large %v:\n%s\nwant\n%s", c.large, got, c.want)
		}
		if c.large {
			fits(t, got)
		}
	}
}

func fits(t *testing.T, picture string) {
	t.Helper()
	lines := strings.Split(strings.TrimSuffix(picture, "\n"), "\n")
	if len(lines) > 23 {
		t.Errorf("%d lines", len(lines))
	}
	for _, line := range lines {
		if utf8.RuneCountInString(line) > 79 {
			t.Errorf("%d columns: %q", utf8.RuneCountInString(line), line)
		}
	}
}

// The point and the lines stand where they stand, whatever the figures are, unknown ones and
// those of the widest values included, and the picture never outgrows 80x24.
func TestDigitsDoNotJump(t *testing.T) {
	for _, large := range []bool{true, false} {
		rows := 0
		for i, v := range []float64{0, 0.04, -0.04, 9.96, -99.94, 123.4, -123.4, 5.5} {
			u := sounding()
			u.TiltArcmin, u.TrebleDB, u.Speed = number64(v), number64(v), number64(v/10)
			lines := (&View{Large: large}).Lines(u)
			if i == 0 {
				rows = len(lines)
			}
			if len(lines) != rows {
				t.Errorf("%v: %d lines, before %d", v, len(lines), rows)
			}
			if large {
				fits(t, textOf(lines))
				// the point of the tilt: rows 4 and 5 of the big digits, after four characters of 7 columns
				for _, row := range []int{4, 5} {
					if got := string([]rune(lines[row].Text + strings.Repeat(" ", 40))[33:35]); got != "██" {
						t.Errorf("%v: no point at column 33 of %q", v, lines[row].Text)
					}
				}
				continue
			}
			if at := strings.IndexRune(lines[4].Text, '.'); at != 16 {
				t.Errorf("%v: the point stands in column %d of %q", v, at, lines[4].Text)
			}
		}
		if lines := (&View{Large: large}).Lines(listening.Update{}); len(lines) != rows {
			t.Errorf("large %v: %d lines without figures, %d with them", large, len(lines), rows)
		}
	}
}

// A figure that trembles within its last digit stands still, and changes no more than four times
// a second in any case.
func TestFiguresStandStill(t *testing.T) {
	v := View{Large: true}
	changes := 0
	before := ""
	for i := range 250 { // 10 s
		u := sounding()
		u.Seconds = float64(i) / 25
		u.TiltArcmin = number64(3.249 + 0.004*math.Sin(float64(i)))
		u.TrebleDB = number64(math.Sin(float64(i)) * 9)
		lines := v.Lines(u)
		tilt, treble := textOf(lines[1:6]), textOf(lines[8:13])
		if i > 0 && tilt != textOf(v.Lines(u)[1:6]) {
			t.Fatal("the same update shows another picture")
		}
		if want := big("  +3.2"); tilt != strings.Join(want, "\n")+"\n" {
			t.Fatalf("%.2f s: the tilt trembles:\n%s", u.Seconds, tilt)
		}
		if treble != before {
			changes++
		}
		before = treble
	}
	if changes < 20 || changes > 41 {
		t.Errorf("the treble changed %d times in 10 s", changes)
	}
}

// A line for a pipe, and the sentence at the end.
func TestPlainLines(t *testing.T) {
	got := Plain(sounding())
	if want := "   61.0 s  level  -20.1  -21.4 dBFS  treble  -13.3 dB  delay   -12.34 us  tilt -2.24' ±0.1' (95 %)  tone 10031.2 Hz, speed  +0.31 %  clipped"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	sum := Summary(monitor.Summary{Seconds: 61, LevelDBFS: [2]*float64{number64(-20), nil}, PeakDBFS: [2]*float64{number64(-1), nil}, Last: sounding().Now})
	if want := regexp.MustCompile(`^heard 61\.0 s; level -20\.00 - dBFS, peaks -1\.00 -; at the end tilt -2\.24' ±0\.1' \(95 %\); speed \+0\.30 %; flutter 0\.091 % weighted peak$`); !want.MatchString(sum) {
		t.Errorf("%q", sum)
	}
}
