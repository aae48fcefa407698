package estimate

import (
	"math"
	"sync"

	"headtrue/dsp"
	"headtrue/sweep/tape"
)

// bands is the number of a programme's treble bands: the third octaves of 4 to 16 kHz,
// from firstThird on (dsp.BandHz).
const (
	bands      = 7
	firstThird = dsp.Bands - bands
)

// bandEdges returns the edges of a band, hertz.
func bandEdges(k int) (low, high float64) { return dsp.BandEdges(firstThird + k) }

// BandLevels returns the treble bands of a meter's third octaves.
func BandLevels(thirds [2][dsp.Bands]dsp.Decibels) *[2][bands]float64 {
	var levels [2][bands]float64
	for c := range levels {
		for k := range levels[c] {
			levels[c][k] = max(float64(thirds[c][firstThird+k]), FloorDB)
		}
	}
	return &levels
}

// bandPieces is the number of frequencies that represent a band.
const bandPieces = 3

// pieceHz are the frequencies that represent each band. They are computed once: the fits ask
// for them thousands of times.
var pieceHz = sync.OnceValue(func() (hz [bands][bandPieces]float64) {
	for k := range hz {
		low, high := bandEdges(k)
		for i := range hz[k] {
			hz[k][i] = low + (high-low)*(float64(i)+0.5)/bandPieces
		}
	}
	return hz
})

// bandLoss returns the level at a tilt of a band with a flat spectrum and a floor of hiss
// floorDB, relative to the top, dB.
func bandLoss(f tape.Format, k int, tilt, floorDB float64) float64 {
	floor := tape.PowerOf(floorDB)
	return tape.Decibels((evenPower(f, k, tilt) + floor) / (1 + floor))
}

// evenPower returns the power at a tilt of a band with a flat spectrum, 1 at the top.
func evenPower(f tape.Format, k int, tilt float64) float64 {
	var sum float64
	for _, hz := range pieceHz()[k] {
		sum += f.AzimuthPower(tilt, hz)
	}
	return sum / bandPieces
}

// bandSlopes returns the derivatives of bandLoss by tilt, dB/arcmin, and by floor, dB/dB.
func bandSlopes(f tape.Format, k int, tilt, floorDB float64) (perArcmin, perFloor float64) {
	const step = 0.02
	power, floor := evenPower(f, k, tilt), tape.PowerOf(floorDB)
	slope := (evenPower(f, k, tilt+step) - evenPower(f, k, tilt-step)) / (2 * step)
	return 10 / math.Ln10 * slope / (power + floor), floor/(power+floor) - floor/(1+floor)
}

// sounds reports whether there are bands and every band of both channels has sound.
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
