package bench

import (
	"math"
	"math/cmplx"
)

// Dimensions of the cassette: tape speed in mm/s, track width and the distance
// of the two tracks' centres in mm (3.81 mm tape; tracks 0.6 mm, 0.3 mm apart).
const (
	tapeSpeed     = 47.6
	trackWidth    = 0.6
	trackDistance = 0.9
)

// sinc is sin(pi x)/(pi x).
func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// fixedLosses returns the response of head and tape that does not depend on tilt:
//
//	gap        sinc(1.11 g/lambda)              (Eargle 1994; null at lambda = 1.11 g)
//	spacing    exp(-2 pi d/lambda)              (54.6 dB d/lambda)
//	thickness  (1 - exp(-kd))/(kd), k = 2 pi/lambda
//	equaliser  (1 + jw replay)/(1 + jw recorded), the treble time constants of
//	           IEC 60094-1; the 3180 us of the bass are alike and cancel
func fixedLosses(t Tape, d Deck) func(hz float64) complex128 {
	return func(hz float64) complex128 {
		lambdaUM := tapeSpeed * 1000 / hz
		g := sinc(1.11*d.GapUM/lambdaUM) * math.Exp(-2*math.Pi*t.SpacingUM/lambdaUM)
		if kd := 2 * math.Pi * t.ThicknessUM / lambdaUM; kd > 0 {
			g *= -math.Expm1(-kd) / kd
		}
		w := 2 * math.Pi * hz * 1e-6
		return complex(g, 0) * complex(1, w*d.ReplayEqUS) / complex(1, w*t.RecordedEqUS)
	}
}

// equaliserGain returns the gain at 1 kHz of the wrong equaliser. The deck is assumed to
// be levelled there, so a wrong time constant changes the treble and not the volume.
func equaliserGain(t Tape, d Deck) float64 {
	w := 2 * math.Pi * 1000 * 1e-6
	return cmplx.Abs(complex(1, w*d.ReplayEqUS) / complex(1, w*t.RecordedEqUS))
}

// worn returns the response of a channel with its worn core.
func (d Deck) worn(channel int, loss func(hz float64) complex128) func(hz float64) complex128 {
	lost := [2]float64{d.WornLeftDB, d.WornRightDB}[channel]
	if lost == 0 {
		return loss
	}
	return func(hz float64) complex128 { return loss(hz) * complex(inProportion(-lost, hz), 0) }
}

// contactMostDB limits the effect of the contact at 10 kHz, either way: about 1 um of
// spacing. Beyond it the tape has left the head or cannot lie closer. Our own bound, no
// source.
const contactMostDB = 12

// contactDB returns the change of the level at 10 kHz due to the contact of tape and
// head, at a tilt turnedArcmin from as found.
func (d Deck) contactDB(turnedArcmin float64) float64 {
	return max(-contactMostDB, min(contactMostDB, d.ContactDBPerArcmin*turnedArcmin))
}

// inProportion returns the amplitude at a frequency of a loss or gain of at10kHzDB at 10
// kHz whose dB are proportional to frequency, as with spacing: 54.6 dB d/lambda (Wallace,
// Bell System Technical Journal 30, 1951, from memory).
func inProportion(at10kHzDB, hz float64) float64 { return amplitude(at10kHzDB * hz / 10000) }

// contact filters one channel by a gain in dB in proportion to frequency, of any amount,
// with linear phase, as spacing does. Its taps are the Fourier series of exp(-a|w|),
// (a/pi) (1 - (-1)^n exp(-a pi))/(a^2 + n^2), under a cosine window; from 500 Hz on it is
// within 0.03 dB.
type contact struct {
	atDB     float64
	from, to contactTaps
	share    ramp // of to
	past     [2 * contactReach]float64
}

const contactReach = 40

type contactTaps [contactReach + 1]float64

func newContactTaps(at10kHzDB float64) (h contactTaps) {
	a := -math.Log(10) / 20 * at10kHzDB / (2 * math.Pi * 10000 / Rate)
	if a == 0 {
		h[0] = 1
		return h
	}
	h[0] = -math.Expm1(-a*math.Pi) / (a * math.Pi)
	end := math.Exp(-a * math.Pi)
	for n := 1; n <= contactReach; n++ {
		end = -end
		window := math.Cos(math.Pi / 2 * float64(n) / (contactReach + 1))
		h[n] = window * a / math.Pi * (1 - end) / (a*a + float64(n*n))
	}
	return h
}

func newContact() *contact { return &contact{from: newContactTaps(0), to: newContactTaps(0)} }

// set moves the gain to a new value during the next control period.
func (c *contact) set(at10kHzDB float64) {
	c.from = c.to
	if at10kHzDB != c.atDB {
		c.atDB, c.to = at10kHzDB, newContactTaps(at10kHzDB)
	}
	c.share.hold(0)
	c.share.set(1)
}

// apply filters x in place; the sound comes out contactReach frames later. A nil contact
// changes nothing.
func (c *contact) apply(x []float64) {
	if c == nil {
		return
	}
	var line [controlFrames + 2*contactReach]float64
	n := copy(line[:], c.past[:])
	n += copy(line[n:], x)
	for i := range x {
		p := line[i : i+2*contactReach+1]
		from, to := c.from[0]*p[contactReach], c.to[0]*p[contactReach]
		for k := 1; k <= contactReach; k++ {
			pair := p[contactReach-k] + p[contactReach+k]
			from += c.from[k] * pair
			to += c.to[k] * pair
		}
		x[i] = from + c.share.next()*(to-from)
	}
	copy(c.past[:], line[n-2*contactReach:n])
}
