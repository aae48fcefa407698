package bench

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"
)

// levelAt returns the level in dB of a tone in both channels.
func levelAt(l, r []float64, hz float64) [2]float64 {
	return [2]float64{20 * math.Log10(cabs(phasor(l, hz))), 20 * math.Log10(cabs(phasor(r, hz)))}
}

// The level at 10 kHz follows the screw by the stated dB per arcmin from as found, in
// proportion to the frequency, in both channels, compared with the same turn without
// contact. By Wallace's 54.575 d/lambda that is one change of spacing at all frequencies.
func TestContactFollowsTilt(t *testing.T) {
	hz := []float64{500, 1000, 5000, 10000, 15000}
	turned := func(perArcmin, deg float64) [][2]float64 {
		p := plain(0)
		p.Programme = Tones(-40, hz...)
		p.Deck.ContactDBPerArcmin = perArcmin
		b, h := withHand(t, p, 1)
		engage(t, b, h)
		turn(t, b, h, deg)
		l, r := listen(t, b, 1.2)
		var levels [][2]float64
		for _, f := range hz {
			levels = append(levels, levelAt(l[Rate/10:], r[Rate/10:], f))
		}
		return levels
	}
	// 160' a turn: 22.5 degrees are 10'. The head is at 20' as found.
	for _, c := range []struct{ perArcmin, deg, wantDB float64 }{
		{0.1, 22.5, 1}, {0.1, -22.5, -1}, {0.05, -90, -2}, {-0.1, -45, 2}, {0.3, -112.5, -12}, {0, -45, 0},
	} {
		without, with := turned(0, c.deg), turned(c.perArcmin, c.deg)
		for i, f := range hz {
			for ch := range 2 {
				got := with[i][ch] - without[i][ch]
				near(t, fmt.Sprintf("%g dB/', %g degrees, %g Hz: dB", c.perArcmin, c.deg, f), got, c.wantDB*f/10000, 0.035)
				if f == 10000 && c.wantDB != 0 {
					near(t, "um closer by Wallace's law", got*47.6e3/f/54.575, c.wantDB*4.76/54.575, 0.005)
				}
			}
		}
	}
}

// The tilt of greatest treble, from the power of the sound itself over the tilt, with the
// tone on the tape, 6.3 kHz. Near its top the azimuth loss is (pi w f/v)^2/6 times the
// tilt squared, so the top is at slope/(2 curvature).
func TestBrightestIsWhereTheSoundIs(t *testing.T) {
	p := plain(0)
	p.Programme, p.Deck.StartTiltArcmin, p.Deck.ContactDBPerArcmin = Tones(-20, 6300), 0, 0.05
	truth := alone(t, p, 1).Truth()
	x := math.Pi * 0.6 * 6300 / 47.6 * math.Pi / 10800 // per arcmin
	curvature := 20 / math.Ln10 * x * x / 6            // dB per arcmin squared
	near(t, "brightest by the parabola", truth.BrightestTiltArcmin, 0.05*0.63/(2*curvature), 0.03)
	near(t, "the gaps lie along", truth.OptimumTiltArcmin, 0, 0)
	best, at := 0.0, 0.0
	for deg := 0.0; deg <= 9; deg += 0.5 {
		b, h := withHand(t, p, 1)
		engage(t, b, h)
		turn(t, b, h, deg)
		l, r := listen(t, b, 0.2)
		if power := rms(l)*rms(l) + rms(r)*rms(r); power > best {
			best, at = power, b.Truth().TiltArcmin
		}
	}
	near(t, "brightest by ear", truth.BrightestTiltArcmin, at, 0.15)
}

// The treble signal-to-noise ratio is that at the optimum, whatever the effect of the
// contact on the treble at other tilts.
func TestContactLeavesSignalToNoise(t *testing.T) {
	p := still(30, 10000)
	plain := alone(t, p, 1)
	p.Deck.ContactDBPerArcmin = 0.1
	p.Tape.NoHiss = false
	changed := alone(t, p, 1)
	p.Deck.ContactDBPerArcmin = 0
	usual := alone(t, p, 1)
	near(t, "hiss in dB, 3 dB of treble lost at the optimum", 20*math.Log10(changed.out.hissRMS[0]/usual.out.hissRMS[0]), -3, 0.01) // its spectrum is kept in steps of 50 Hz
	if plain.out.hissRMS[0] != 0 || plain.head.contact[0] != nil {
		t.Error("a deck without hiss and contact has them")
	}
}

// A worn core loses the stated dB at 10 kHz, in proportion to frequency, in one channel
// only.
func TestWornCoreIsOneChannels(t *testing.T) {
	hz := []float64{1000, 5000, 10000, 15000}
	levels := func(left, right float64) (out [][2]float64) {
		p := still(0, hz...)
		p.Deck.WornLeftDB, p.Deck.WornRightDB = left, right
		l, r := listen(t, alone(t, p, 1), 1.2)
		for _, f := range hz {
			out = append(out, levelAt(l[Rate/10:], r[Rate/10:], f))
		}
		return out
	}
	whole := levels(0, 0)
	for _, worn := range [][2]float64{{6, 0}, {0, 3}, {2, 2}} {
		got := levels(worn[0], worn[1])
		for i, f := range hz {
			for ch := range 2 {
				near(t, fmt.Sprintf("worn %v, %g Hz: dB lost", worn, f), whole[i][ch]-got[i][ch], worn[ch]*f/10000, 1e-3)
			}
		}
	}
}

// Cores of another width and spacing: azimuth loss sinc(w tan(tilt)/lambda) and delay s
// tan(tilt)/v with their own w and s.
func TestCoresOfOtherWidthAndSpacing(t *testing.T) {
	for _, c := range [][2]float64{{0.5, 1}, {0.4, 0.8}, {0.6, 0.9}, {0, 0}} {
		width, centres := c[0], c[1]
		if width == 0 {
			width, centres = 0.6, 0.9
		}
		for _, tilt := range []float64{-8, 3, 12} {
			p, inLine := still(tilt, 1000, 10000), still(0, 1000, 10000)
			p.Deck.CoreWidthMM, p.Deck.CoreCentresMM = c[0], c[1]
			inLine.Deck = p.Deck
			inLine.Deck.StartTiltArcmin = 0
			l, r := listen(t, alone(t, p, 1), 1.2)
			l, r = l[Rate/10:], r[Rate/10:]
			across := math.Tan(tilt / 60 * math.Pi / 180)
			late := cmplx.Phase(phasor(l, 1000)/phasor(r, 1000)) / (2 * math.Pi * 1000) * 1e6
			near(t, fmt.Sprintf("cores %v at %g': right later in us", c, tilt), late, centres*across/47.6*1e6, 0.02)
			straightL, straightR := listen(t, alone(t, inLine, 1), 1.2)
			straight := levelAt(straightL[Rate/10:], straightR[Rate/10:], 10000)
			x := math.Pi * width * across * 10000 / 47.6
			for ch, level := range levelAt(l, r, 10000) {
				near(t, fmt.Sprintf("cores %v at %g': dB lost", c, tilt), straight[ch]-level, -20*math.Log10(math.Sin(x)/x), 0.01)
			}
		}
	}
}
