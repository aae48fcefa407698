package dsp

import "math"

// Band edges in hertz. The mid band measures the programme's own loudness, the treble
// band the loss by tilt.
const (
	MidLowHz     = 500.0
	MidHighHz    = 2000.0
	TrebleLowHz  = 6000.0
	TrebleHighHz = 14000.0
)

// Bands is the number of third-octave bands in a Reading.
const Bands = 16

// BandHz returns the exact centre of third-octave band i, 0 (500 Hz) to Bands-1 (16 kHz):
// 1000 G^(x/3) with G = 10^0.3 (IEC 61260-1:2014).
func BandHz(i int) float64 { return 1000 * math.Pow(10, 0.1*float64(i-3)) }

// BandEdges returns the edges of third-octave band i, hertz: the centre times G^(±1/6).
func BandEdges(i int) (low, high float64) {
	edge := math.Pow(10, 0.05)
	return BandHz(i) / edge, BandHz(i) * edge
}

// band is a range of bins. A bin k covers the frequencies from k-½ to k+½ bin widths; a
// bin cut by an edge counts by its share.
type band struct {
	first int
	share []float64
}

func newBand(lowHz, highHz, binHz float64, bins int) band {
	low, high := lowHz/binHz, math.Min(highHz/binHz, float64(bins)-1)
	b := band{first: int(math.Round(low))}
	for k := b.first; float64(k)-0.5 < high && k < bins; k++ {
		from, to := math.Max(low, float64(k)-0.5), math.Min(high, float64(k)+0.5)
		b.share = append(b.share, math.Max(0, to-from))
	}
	return b
}

// of returns the band's power in a power spectrum.
func (b band) of(spectrum []float64) float64 {
	var sum float64
	for i, share := range b.share {
		sum += share * spectrum[b.first+i]
	}
	return sum
}
