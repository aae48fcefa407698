package estimate

import (
	"math"

	"headtrue/dsp"
	"headtrue/sweep/tape"
)

// bands are how many a programme's treble is heard in: the third octaves of 4 to
// 16 kHz, from firstThird on (dsp.BandHz).
const (
	bands      = 7
	firstThird = dsp.Bands - bands
)

// bandEdges are a band's, hertz.
func bandEdges(k int) (low, high float64) { return dsp.BandEdges(firstThird + k) }

// BandLevels are those of a meter's third octaves.
func BandLevels(thirds [2][dsp.Bands]dsp.Decibels) *[2][bands]float64 {
	var levels [2][bands]float64
	for c := range levels {
		for k := range levels[c] {
			levels[c][k] = max(float64(thirds[c][firstThird+k]), FloorDB)
		}
	}
	return &levels
}

// bandPieces is how many frequencies stand for a band.
const bandPieces = 3

// bandLoss is the power that a tilt leaves of a band of even power, with hiss
// floorDB under it, 0 at the top, dB.
func bandLoss(f tape.Format, k int, tilt, floorDB float64) float64 {
	floor := tape.PowerOf(floorDB)
	return tape.Decibels((evenPower(f, k, tilt) + floor) / (1 + floor))
}

// evenPower is what a tilt leaves of a band of even power, 1 at the top.
func evenPower(f tape.Format, k int, tilt float64) float64 {
	low, high := bandEdges(k)
	var sum float64
	for i := range bandPieces {
		sum += f.AzimuthPower(tilt, low+(high-low)*(float64(i)+0.5)/bandPieces)
	}
	return sum / bandPieces
}

// bandSlopes are how bandLoss goes with the tilt, dB/arcmin, and with the floor.
func bandSlopes(f tape.Format, k int, tilt, floorDB float64) (perArcmin, perFloor float64) {
	const step = 0.02
	power, floor := evenPower(f, k, tilt), tape.PowerOf(floorDB)
	slope := (evenPower(f, k, tilt+step) - evenPower(f, k, tilt-step)) / (2 * step)
	return 10 / math.Ln10 * slope / (power + floor), floor/(power+floor) - floor/(1+floor)
}

// sounds says that there are bands, and sound in all of both channels.
func sounds(levels *[2][bands]float64) bool {
	if levels == nil {
		return false
	}
	for _, channel := range levels {
		for _, db := range channel {
			if db <= FloorDB {
				return false
			}
		}
	}
	return true
}
