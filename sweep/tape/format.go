package tape

import "math"

// Format is the layout of a tape with two tracks that are played together.
type Format struct {
	SpeedMMPerS    float64
	TrackWidthMM   float64
	TrackSpacingMM float64 // centre to centre
}

// StereoCassette is the stereo compact cassette: speed 1 7/8 in/s, tracks 0.6 mm wide
// with centres 0.9 mm apart. The speed is rounded to 47.6 mm/s, as in the tables that
// check the program (testdata/README.md).
var StereoCassette = Format{SpeedMMPerS: 47.6, TrackWidthMM: 0.6, TrackSpacingMM: 0.9}

const radPerArcmin = math.Pi / 180 / 60

// USPerArcmin returns the delay between the channels for one arcminute of tilt, s
// tan(theta)/v: 5.50 microseconds on a stereo cassette.
func (f Format) USPerArcmin() float64 {
	return f.TrackSpacingMM * math.Tan(radPerArcmin) / f.SpeedMMPerS * 1e6
}

// Arcmin returns the tilt that causes a delay between the channels.
func (f Format) Arcmin(us float64) float64 { return us / f.USPerArcmin() }

// Microseconds returns the delay between the channels at a tilt.
func (f Format) Microseconds(arcmin float64) float64 { return arcmin * f.USPerArcmin() }

// PeriodArcmin returns the tilt that changes a tone's phase difference by one whole turn.
func (f Format) PeriodArcmin(toneHz float64) float64 { return f.Arcmin(1e6 / toneHz) }

// NullArcmin returns the tilt of a track's first null at a frequency: the width times the
// tangent equals one wavelength.
func (f Format) NullArcmin(hz float64) float64 {
	return math.Atan(f.SpeedMMPerS/hz/f.TrackWidthMM) / radPerArcmin
}

// AzimuthPower returns the relative power of a frequency at a tilt, (sin x / x)^2 with x
// = pi w tan(tilt) f / v; 1 at no tilt.
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
