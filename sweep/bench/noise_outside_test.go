//go:build outside

package bench

import (
	"math"
	"os/exec"
	"path/filepath"
	"testing"
)

// Wow and flutter: a 3150 Hz tone demodulated and weighted by AES6-2008,
// Table 1, against the weighted rms that the profile states. What a minute of a
// random process can say is good to about 4 %.
func TestWowAndFlutter(t *testing.T) {
	for _, percent := range []float64{0.05, 0.3} {
		p := still(0, 3150)
		p.Deck.WowFlutterPercent, p.Deck.SpeedErrorPercent = percent, -0.7
		l, r := steady(t, p, 3, 60)
		var got [2]float64
		python(t, l, r, &got, "flutter", 3150)
		t.Logf("stated %.3f %%, measured %.4f %% weighted, speed %+.3f %%", percent, got[0], got[1])
		near(t, "weighted wow and flutter in percent", got[0], percent, 0.06*percent)
		near(t, "speed error in percent", got[1], -0.7, 0.01)
	}
}

// Wander: rms of the tilt from the phase between the channels, where its power
// lies, and how it is spread: evenly, or as 1/f (whose mean density in the
// lower half of 0.2-5 Hz is ln(2.6/0.2)/ln(5/2.6) = 3.92 times the upper's).
func TestWander(t *testing.T) {
	for shape, ratio := range map[string]float64{"flat": 1, "1/f": 3.92} {
		p := still(2, 3000)
		p.Tape.WanderRMSArcmin, p.Tape.WanderShape = 1.5, shape
		l, r := steady(t, p, 4, 150)
		var got [3]float64
		python(t, l, r, &got, "wander", 3000, 0.2, 5)
		t.Logf("%s: %.3f' rms, %.4f of the power in 0.2-5 Hz, lower half to upper %.2f", shape, got[0], got[1], got[2])
		near(t, "rms of the wander in arcmin", got[0], 1.5, 0.15)
		near(t, "share in the band", got[1], 1, 0.01)
		near(t, "lower to upper half", got[2]/ratio, 1, 0.3)
	}
}

// Treble signal-to-noise by its definition: power of the programme in 6-14 kHz
// against hiss, per channel, at the optimum.
func TestTrebleSignalToNoise(t *testing.T) {
	for _, kind := range []string{"music", "tones"} {
		for _, want := range []float64{10, 20} {
			p := still(0, 10000)
			p.Programme.Kind, p.Programme.MusicSeconds = kind, 16
			p.Deck.ImbalanceDB, p.Deck.GapUM, p.Tape.SpacingUM = 1.5, 1, 0.1
			p.Tape.TrebleSNdB = want
			power := func(noHiss bool) [2]float64 {
				p.Tape.NoHiss = noHiss
				l, r := listen(t, alone(t, p, 1), p.Programme.MusicSeconds)
				var got [2]float64
				python(t, l, r, &got, "band", 6000, 14000)
				return got
			}
			clean, noisy := power(true), power(false)
			for c := range clean {
				near(t, kind+": treble signal-to-noise in dB", 10*math.Log10(clean[c]/(noisy[c]-clean[c])), want, 0.5)
			}
		}
	}
}

// Spacing flutter: the stated rms at 10 kHz and, since spacing loss goes with
// 1/lambda, half of it at 5 kHz; the two channels mostly together (0.64).
func TestSpacingFlutter(t *testing.T) {
	p := still(0, 5000, 10000)
	p.Tape.SpacingFlutterDB = 0.4
	l, r := steady(t, p, 2, 100)
	var got [2][2]float64
	python(t, l, r, &got, "levels", 5000, 10000)
	near(t, "rms at 5 kHz in dB", got[0][0], 0.2, 0.04)
	near(t, "rms at 10 kHz in dB", got[1][0], 0.4, 0.06)
	near(t, "ratio of both", got[1][0]/got[0][0], 2, 0.1)
	near(t, "correlation of the channels", got[1][1], 0.64, 0.15)
}

// Crosstalk and imbalance, with a tone on the left track and another on the
// right, from a file that sox makes at another rate than the bench's.
func TestCrosstalkAndFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "two.wav")
	out, err := exec.Command("sox", "-n", "-r", "44100", "-b", "16", path, "synth", "4", "sine", "1000", "sine", "1700", "gain", "-6").CombinedOutput()
	if err != nil {
		t.Fatalf("sox: %v\n%s", err, out)
	}
	p := still(0, 1000)
	p.Programme.Kind, p.Programme.WAV, p.Programme.LevelDBFS = "wav", path, -20
	p.Deck.CrosstalkDB, p.Deck.ImbalanceDB = -40, 2
	left, right := measureTones(t, p, []float64{1000, 1700})
	near(t, "left level in dBFS", left[0][0], -21, 0.03)
	near(t, "right level in dBFS", right[1][0], -19, 0.03)
	near(t, "right into left in dB", left[1][0]-left[0][0], -40, 0.05)
	near(t, "left into right in dB", right[0][0]-right[1][0], -40, 0.05)
}

func TestHum(t *testing.T) {
	p := still(0, 1000)
	p.Programme.Kind = "silence"
	p.Deck.HumDBFS, p.Deck.HumHz, p.Sound.DC = -50, 60, 0.01
	left, right := measureTones(t, p, []float64{60, 180})
	for _, ch := range [][]toneLine{left, right} {
		near(t, "hum in dBFS", ch[0][0], -50, 0.05)
		near(t, "its third harmonic", ch[1][0], -60, 0.05)
	}
}
