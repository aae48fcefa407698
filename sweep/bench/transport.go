package bench

import (
	"math"
	"math/rand/v2"
	"sync"
)

// transport models the running tape: its speed, skew and contact with the head.
type transport struct {
	speed    float64 // share of the nominal speed
	flutter  *drift  // relative speed
	wander   *drift  // arcmin
	cyclic   cyclic
	spacing  [3]*drift
	dropouts dropouts
}

func newTransport(p Profile, seed uint64) *transport {
	t, d := p.Tape, p.Deck
	tr := &transport{
		speed:   1 + d.SpeedErrorPercent/100,
		flutter: newDrift(stream(seed, streamFlutter), d.WowFlutterPercent/100, flutterSpectrum()),
		wander: newDrift(stream(seed, streamWander), t.WanderRMSArcmin,
			newSpectrum(600, 0.2, band(t.WanderShape, t.WanderLowHz, t.WanderHighHz), nil)),
		cyclic: cyclic{
			amplitude: math.Sqrt2 * t.SkewCyclicArcmin, hz: t.SkewCyclicHz,
			turns: stream(seed, streamCyclic).Float64(),
		},
		dropouts: dropouts{
			r: stream(seed, streamDropouts), perSecond: t.DropoutsPerSecond, depth: amplitude(-t.DropoutDepthDB),
		},
	}
	// The spacing of two tracks under one head varies together: correlation 0.64.
	r := stream(seed, streamSpacing)
	for i, share := range [3]float64{0.8, 0.6, 0.6} {
		tr.spacing[i] = newDrift(r, share*t.SpacingFlutterDB, spacingSpectrum())
	}
	tr.dropouts.plan()
	return tr
}

// rate returns table values per frame.
func (t *transport) rate(control int64) float64 {
	return oversampling * (t.speed + t.flutter.at(control))
}

// skew returns the skew of the running tape, in arcmin.
func (t *transport) skew(control int64) float64 {
	return t.wander.at(control) + t.cyclic.at(control)
}

// cyclic is a sine skew; turns is its phase at the start.
type cyclic struct{ amplitude, hz, turns float64 }

func (c cyclic) at(control int64) float64 {
	return c.amplitude * math.Sin(2*math.Pi*(c.hz*float64(control)/controlRate+c.turns))
}

// spacingDB returns the level change of a channel at 10 kHz by the varying spacing.
func (t *transport) spacingDB(channel int, control int64) float64 {
	return t.spacing[0].at(control) + t.spacing[1+channel].at(control)
}

// The spectra common to all benches, made once.
var (
	flutterSpectrum = sync.OnceValue(func() *spectrum { return newSpectrum(250, 1, flutterDensity, flutterWeight) })
	spacingSpectrum = sync.OnceValue(func() *spectrum { return newSpectrum(600, 0.1, band("1/f", 0.2, 10), nil) })
)

// flutterDensity returns the power of wow and flutter per hertz: 1/f from 0.5 to 100 Hz,
// with peaks for a reel at 0.8 Hz and a capstan at 7.6 Hz (a 2 mm shaft at 47.6 mm/s).
// The shape is plausible, without a source.
func flutterDensity(hz float64) float64 {
	if hz < 0.5 || hz > 100 {
		return 0
	}
	hump := func(at, width float64) float64 { x := (hz - at) / width; return math.Exp(-x * x) }
	return 1/hz + 2*hump(0.8, 0.05) + 1.5*hump(7.6, 0.1)
}

// flutterTable is the weighting of AES6-2008 (IEC 60386), Table 1: Hz, dB.
var flutterTable = [][2]float64{
	{0.1, -48}, {0.2, -30.6}, {0.315, -19.7}, {0.4, -15}, {0.63, -8.4}, {0.8, -6}, {1, -4.2},
	{1.6, -1.8}, {2, -0.9}, {4, 0}, {6.3, -0.9}, {10, -2.1}, {20, -5.9}, {40, -10.4}, {63, -14.2},
	{100, -17.3}, {200, -23},
}

// flutterWeight returns the weighting as an amplitude. Between the table's points its dB
// are linear in the logarithm of the frequency.
func flutterWeight(hz float64) float64 {
	for i := 1; i < len(flutterTable); i++ {
		a, b := flutterTable[i-1], flutterTable[i]
		if hz <= b[0] {
			x := math.Log(max(hz, a[0])/a[0]) / math.Log(b[0]/a[0])
			return amplitude(a[1] + x*(b[1]-a[1]))
		}
	}
	return 0
}

// dropouts are short losses of contact, in one channel or both.
type dropouts struct {
	r                 *rand.Rand
	perSecond, depth  float64
	start, end        float64 // seconds
	hitLeft, hitRight bool
}

// plan draws the next drop-out.
func (d *dropouts) plan() {
	if d.perSecond == 0 {
		d.start, d.end = math.Inf(1), math.Inf(1)
		return
	}
	d.start = d.end + d.r.ExpFloat64()/d.perSecond
	d.end = d.start + 0.005 + 0.045*d.r.Float64()
	which := d.r.IntN(3)
	d.hitLeft, d.hitRight = which != 1, which != 0
}

// gains returns the gain of a drop-out for each channel at t seconds: a dip with the
// shape of a raised cosine.
func (d *dropouts) gains(t float64) [2]float64 {
	for t >= d.end {
		d.plan()
	}
	out := [2]float64{1, 1}
	if t < d.start {
		return out
	}
	g := 1 - (1-d.depth)*(0.5-0.5*math.Cos(2*math.Pi*(t-d.start)/(d.end-d.start)))
	if d.hitLeft {
		out[0] = g
	}
	if d.hitRight {
		out[1] = g
	}
	return out
}
