//go:build outside

package bench

import (
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"testing"
)

// Wow and flutter: a 3150 Hz tone demodulated and weighted by AES6-2008, Table 1,
// compared with the weighted rms of the profile. 40 s of a random process determine it to
// about 4 %.
func TestWowAndFlutter(t *testing.T) {
	percents := []float64{0.05, 0.3}
	var profiles []Profile
	for _, percent := range percents {
		p := still(0, 3150)
		p.Deck.WowFlutterPercent, p.Deck.SpeedErrorPercent = percent, -0.7
		profiles = append(profiles, p)
	}
	for i, got := range measure[[2]float64](t, 40, 3, profiles, "flutter", 3150) {
		t.Logf("stated %.3f %%, measured %.4f %% weighted, speed %+.3f %%", percents[i], got[0], got[1])
		near(t, "weighted wow and flutter in percent", got[0], percents[i], 0.08*percents[i])
		near(t, "speed error in percent", got[1], -0.7, 0.01)
	}
}

// Wander: rms of the tilt from the phase between the channels, the band of its power, and
// its shape: flat, or 1/f (whose mean density in the lower half of 0.2-5 Hz is
// ln(2.6/0.2)/ln(5/2.6) = 3.92 times the upper's).
func TestWander(t *testing.T) {
	shapes, ratios := []string{"flat", "1/f"}, []float64{1, 3.92}
	var profiles []Profile
	for _, shape := range shapes {
		p := still(2, 3000)
		p.Tape.WanderRMSArcmin, p.Tape.WanderShape = 1.5, shape
		profiles = append(profiles, p)
	}
	for i, got := range measure[[3]float64](t, 90, 4, profiles, "wander", 3000, 0.2, 5) {
		t.Logf("%s: %.3f' rms, %.4f of the power in 0.2-5 Hz, lower half to upper %.2f", shapes[i], got[0], got[1], got[2])
		near(t, "rms of the wander in arcmin", got[0], 1.5, 0.2)
		near(t, "share in the band", got[1], 1, 0.01)
		near(t, "lower to upper half", got[2]/ratios[i], 1, 0.35)
	}
}

// Treble signal-to-noise ratio by its definition: power of the programme in 6-14 kHz over
// the hiss, per channel, at the optimum.
func TestTrebleSignalToNoise(t *testing.T) {
	const seconds = 8
	for _, kind := range []string{"music", "tones"} {
		for _, want := range []float64{10, 20} {
			p := still(0, 10000)
			p.Programme.Kind, p.Programme.MusicSeconds = kind, seconds
			p.Deck.ImbalanceDB, p.Deck.GapUM, p.Tape.SpacingUM = 1.5, 1, 0.1
			p.Tape.TrebleSNdB = want
			hissing := p
			hissing.Tape.NoHiss = false
			power := measure[[2]float64](t, seconds, 1, []Profile{p, hissing}, "band", 6000, 14000)
			for c := range 2 {
				ratio := power[0][c] / (power[1][c] - power[0][c])
				near(t, kind+": treble signal-to-noise in dB", 10*math.Log10(ratio), want, 0.5)
			}
		}
	}
}

// Spacing flutter: the stated rms at 10 kHz and, since spacing loss is proportional to
// 1/lambda, half of it at 5 kHz; the two channels are correlated (0.64).
func TestSpacingFlutter(t *testing.T) {
	stated := []float64{0.2, 0.5}
	var profiles []Profile
	for _, db := range stated {
		p := still(0, 5000, 10000)
		p.Tape.SpacingFlutterDB = db
		profiles = append(profiles, p)
	}
	for i, got := range measure[[2][2]float64](t, 60, 2, profiles, "levels", 5000, 10000) {
		want := stated[i]
		t.Logf("%.3f dB at 5 kHz, %.3f dB at 10 kHz, correlation %.2f", got[0][0], got[1][0], got[1][1])
		near(t, "rms at 5 kHz in dB", got[0][0], want/2, want/10)
		near(t, "rms at 10 kHz in dB", got[1][0], want, want/5)
		near(t, "ratio of both", got[1][0]/got[0][0], 2, 0.1)
		near(t, "correlation of the channels", got[1][1], 0.64, 0.2)
	}
}

// Crosstalk and imbalance, with a tone on the left track and another on the right, from
// files that sox makes at another rate than the bench's, in each supported encoding (sox
// writes 24 and 32 bits as extensible).
func TestCrosstalkAndFiles(t *testing.T) {
	dir := t.TempDir()
	var profiles []Profile
	for i, encoding := range [][]string{{"-b", "16"}, {"-b", "24"}, {"-b", "32"}, {"-e", "float", "-b", "32"}} {
		path := filepath.Join(dir, fmt.Sprintf("two%d.wav", i))
		args := append(append([]string{"-D", "-n", "-r", "44100"}, encoding...), path, "synth", "4", "sine", "1000", "sine", "1700", "gain", "-6")
		if out, err := exec.Command("sox", args...).CombinedOutput(); err != nil {
			t.Fatalf("sox: %v\n%s", err, out)
		}
		p := still(0, 1000)
		p.Programme.Kind, p.Programme.WAV, p.Programme.LevelDBFS = "wav", path, -20
		p.Programme.RandomStart, p.Programme.WAVFromSeconds = false, 0.5
		p.Deck.CrosstalkDB, p.Deck.ImbalanceDB = -40, 2
		profiles = append(profiles, p)
	}
	for _, got := range measureTones(t, []float64{1000, 1700}, profiles...) {
		left, right := got[0], got[1]
		near(t, "left level in dBFS", left[0][0], -21, 0.05)
		near(t, "right level in dBFS", right[1][0], -19, 0.05)
		near(t, "right into left in dB", left[1][0]-left[0][0], -40, 0.05)
		near(t, "left into right in dB", right[0][0]-right[1][0], -40, 0.05)
	}
}

func TestHum(t *testing.T) {
	p := still(0, 1000)
	p.Programme.Kind = "silence"
	p.Deck.HumDBFS, p.Deck.HumHz, p.Sound.DC = -50, 60, 0.01
	for _, ch := range measureTones(t, []float64{60, 180}, p)[0] {
		near(t, "hum in dBFS", ch[0][0], -50, 0.05)
		near(t, "its third harmonic", ch[1][0], -60, 0.05)
	}
}
