package sweep

import "math"

// Dimensions of the stereo compact cassette: speed 1 7/8 in/s, tracks 0.6 mm
// wide with centres 0.9 mm apart. The speed is used as 47.6 mm/s, as in the
// tables the program is checked against (testdata/README.md).
const (
	tapeSpeedMMPerS = 47.6
	trackWidthMM    = 0.6
	trackSpacingMM  = 0.9
)

const radPerArcmin = math.Pi / 180 / 60

// USPerArcmin is the delay between the channels that one arcminute of tilt
// makes, s tan(theta)/v: 5.50 microseconds.
var USPerArcmin = trackSpacingMM * math.Tan(radPerArcmin) / tapeSpeedMMPerS * 1e6

// nullArcmin is the tilt of the first null of a track at the frequency: the
// width times the tangent equals one wavelength.
func nullArcmin(hz float64) float64 {
	return math.Atan(tapeSpeedMMPerS/hz/trackWidthMM) / radPerArcmin
}

// azimuthPower is the power that a tilt leaves of a frequency, (sin x / x)^2
// with x = pi w tan(tilt) f / v.
func azimuthPower(tiltArcmin, hz float64) float64 {
	x := math.Pi * trackWidthMM * math.Tan(tiltArcmin*radPerArcmin) * hz / tapeSpeedMMPerS
	if math.Abs(x) < 1e-6 {
		return 1
	}
	s := math.Sin(x) / x
	return s * s
}

// bandPower is the mean of azimuthPower over a treble band of even power
// around hz, half an octave to each side: the shape of a programme's curve.
func bandPower(tiltArcmin, hz float64) float64 {
	const n = 9
	var sum float64
	for i := range n {
		sum += azimuthPower(tiltArcmin, hz*math.Exp2((float64(i)/(n-1)-0.5)*1.1))
	}
	return sum / n
}

// material is what the curve's shape depends on.
type material struct {
	hz   float64
	tone bool
}

func (p Plan) material() material {
	if p.ToneHz > 0 {
		return material{hz: p.ToneHz, tone: true}
	}
	return material{hz: 9000}
}

// power is the treble power left by a tilt, 1 at the top.
func (m material) power(tiltArcmin float64) float64 {
	if m.tone {
		return azimuthPower(tiltArcmin, m.hz)
	}
	return bandPower(tiltArcmin, m.hz)
}

// halfWidth is the tilt in arcminutes at which the treble has fallen by dB.
func (m material) halfWidth(db float64) float64 {
	want := math.Pow(10, -db/10)
	lo, hi := 0.0, nullArcmin(m.hz)
	for range 60 {
		mid := (lo + hi) / 2
		if m.power(mid) > want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

func decibels(power float64) float64 { return 10 * math.Log10(power) }

func powerOf(db float64) float64 { return math.Pow(10, db/10) }
