package tape

import "math"

// Material is the kind of sound on a tape, which determines the shape of its treble
// against the tilt: a tone, or programme with its treble about a frequency.
type Material struct {
	Format Format
	Hz     float64
	IsTone bool
}

// programmeHz is the middle of a programme's treble band.
const programmeHz = 9000

// Tone returns a tone on a tape of the format.
func (f Format) Tone(hz float64) Material { return Material{Format: f, Hz: hz, IsTone: true} }

// Programme returns programme material on a tape of the format.
func (f Format) Programme() Material { return Material{Format: f, Hz: programmeHz} }

// Power returns the treble power at a tilt, 1 at the top.
func (m Material) Power(tiltArcmin float64) float64 {
	if m.IsTone {
		return m.Format.AzimuthPower(tiltArcmin, m.Hz)
	}
	return m.bandPower(tiltArcmin)
}

// bandPower returns the mean of AzimuthPower over a treble band with a flat spectrum,
// 0.55 octave to each side of Hz: the shape of a programme's curve.
func (m Material) bandPower(tiltArcmin float64) float64 {
	const n = 9
	var sum float64
	for i := range n {
		sum += m.Format.AzimuthPower(tiltArcmin, m.Hz*math.Exp2((float64(i)/(n-1)-0.5)*1.1))
	}
	return sum / n
}

// HalfWidthArcmin returns the tilt at which the treble has fallen by decibels.
func (m Material) HalfWidthArcmin(decibels float64) float64 {
	want := math.Pow(10, -decibels/10)
	lo, hi := 0.0, m.NullArcmin()
	for range 60 {
		mid := (lo + hi) / 2
		if m.Power(mid) > want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// NullArcmin returns the tilt of the first null of the track at Hz.
func (m Material) NullArcmin() float64 { return m.Format.NullArcmin(m.Hz) }

// Decibels converts a power ratio to a level.
func Decibels(power float64) float64 { return 10 * math.Log10(power) }

// PowerOf converts a level to a power ratio.
func PowerOf(decibels float64) float64 { return math.Pow(10, decibels/10) }
