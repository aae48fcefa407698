package tape

import "math"

// Format is the layout of a tape with two tracks that are heard at once.
type Format struct {
	SpeedMMPerS    float64
	TrackWidthMM   float64
	TrackSpacingMM float64 // from the middle of one track to that of the other
}

// StereoCassette is the stereo compact cassette: speed 1 7/8 in/s, tracks 0.6 mm wide
// with centres 0.9 mm apart. The speed is used as 47.6 mm/s, as in the tables the program
// is checked against (testdata/README.md).
var StereoCassette = Format{SpeedMMPerS: 47.6, TrackWidthMM: 0.6, TrackSpacingMM: 0.9}

const radPerArcmin = math.Pi / 180 / 60

// USPerArcmin is the delay between the channels that one arcminute of tilt makes,
// s tan(theta)/v: 5.50 microseconds on a stereo cassette.
func (f Format) USPerArcmin() float64 {
	return f.TrackSpacingMM * math.Tan(radPerArcmin) / f.SpeedMMPerS * 1e6
}

// Arcmin is the tilt that makes a delay between the channels.
func (f Format) Arcmin(us float64) float64 { return us / f.USPerArcmin() }

// Microseconds is the delay between the channels that a tilt makes.
func (f Format) Microseconds(arcmin float64) float64 { return arcmin * f.USPerArcmin() }

// PeriodArcmin is the tilt that a whole turn of a tone's phase is.
func (f Format) PeriodArcmin(toneHz float64) float64 { return f.Arcmin(1e6 / toneHz) }

// NullArcmin is the tilt of the first null of a track at the frequency: the width times
// the tangent equals one wavelength.
func (f Format) NullArcmin(hz float64) float64 {
	return math.Atan(f.SpeedMMPerS/hz/f.TrackWidthMM) / radPerArcmin
}

// AzimuthPower is the power that a tilt leaves of a frequency, (sin x / x)^2 with
// x = pi w tan(tilt) f / v; 1 at no tilt.
func (f Format) AzimuthPower(tiltArcmin, hz float64) float64 {
	x := f.across(tiltArcmin, hz)
	if math.Abs(x) < 1e-6 {
		return 1
	}
	s := math.Sin(x) / x
	return s * s
}

// across is the phase from the middle of the track to its edge along a tilted gap, radians.
func (f Format) across(tiltArcmin, hz float64) float64 {
	return math.Pi * f.TrackWidthMM * math.Tan(tiltArcmin*radPerArcmin) * hz / f.SpeedMMPerS
}
