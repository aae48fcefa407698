package sweep

import "headtrue/dsp"

// bands are how many a programme's treble is heard in.
const bands = 4

// bandThirds are the first and the last third-octave band of each (dsp.BandHz):
// 3.5 to 5.6, 8.9, 14.1 and 17.8 kHz.
var bandThirds = [bands][2]int{{9, 10}, {11, 12}, {13, 14}, {15, 15}}

func bandEdges(k int) (low, high float64) {
	low, _ = dsp.BandEdges(bandThirds[k][0])
	_, high = dsp.BandEdges(bandThirds[k][1])
	return low, high
}

// bandLevels are those of a meter's third octaves.
func bandLevels(thirds [2][dsp.Bands]dsp.Decibels) *[2][bands]float64 {
	var levels [2][bands]float64
	for c := range levels {
		for k, span := range bandThirds {
			var power float64
			for third := span[0]; third <= span[1]; third++ {
				power += powerOf(float64(thirds[c][third]))
			}
			levels[c][k] = max(decibels(power), floorDB)
		}
	}
	return &levels
}

// bandPieces is how many frequencies stand for a band.
const bandPieces = 5

// bandLoss is the power that a tilt leaves of a band of even power, with hiss
// floorDB under it, 0 at the top, dB.
func bandLoss(k int, tilt, floorDB float64) float64 {
	low, high := bandEdges(k)
	var sum float64
	for i := range bandPieces {
		sum += azimuthPower(tilt, low+(high-low)*(float64(i)+0.5)/bandPieces)
	}
	floor := powerOf(floorDB)
	return decibels((sum/bandPieces + floor) / (1 + floor))
}

// brightness is how loud the third band is against the first, dB; of a tone its
// level.
func (p point) brightness() float64 {
	if p.bands == nil {
		return p.db
	}
	band := func(k int) float64 { return powerOf(p.bands[0][k]) + powerOf(p.bands[1][k]) }
	return decibels(band(2) / band(0))
}

// sounds says that there are bands, and sound in all of both channels.
func sounds(levels *[2][bands]float64) bool {
	if levels == nil {
		return false
	}
	for _, channel := range levels {
		for _, db := range channel {
			if db <= floorDB {
				return false
			}
		}
	}
	return true
}
