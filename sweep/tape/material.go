package tape

import "math"

// Material is what is on a tape, as far as the shape of its treble against the tilt
// depends on it: a tone, or programme with its treble about a frequency.
type Material struct {
	Format Format
	Hz     float64
	IsTone bool
}

// programmeHz is the middle of a programme's treble band.
const programmeHz = 9000

// Tone is a tone on a tape of the format.
func (f Format) Tone(hz float64) Material { return Material{Format: f, Hz: hz, IsTone: true} }

// Programme is programme material on a tape of the format.
func (f Format) Programme() Material { return Material{Format: f, Hz: programmeHz} }

// Power is the treble power that a tilt leaves, 1 at the top.
func (m Material) Power(tiltArcmin float64) float64 {
	if m.IsTone {
		return m.Format.AzimuthPower(tiltArcmin, m.Hz)
	}
	return m.bandPower(tiltArcmin)
}

// bandPower is the mean of AzimuthPower over a treble band of even power around Hz, half an
// octave to each side: the shape of a programme's curve.
func (m Material) bandPower(tiltArcmin float64) float64 {
	const n = 9
	var sum float64
	for i := range n {
		sum += m.Format.AzimuthPower(tiltArcmin, m.Hz*math.Exp2((float64(i)/(n-1)-0.5)*1.1))
	}
	return sum / n
}

// HalfWidthArcmin is the tilt at which the treble has fallen by so many decibels.
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

// NullArcmin is the tilt of the first null of the track at Hz.
func (m Material) NullArcmin() float64 { return m.Format.NullArcmin(m.Hz) }

// Decibels is a power ratio as a level.
func Decibels(power float64) float64 { return 10 * math.Log10(power) }

// PowerOf is a level as a power ratio.
func PowerOf(decibels float64) float64 { return math.Pow(10, decibels/10) }
