package dsp

import "math"

const (
	humSeconds   = 0.2 // whole cycles of 50 and 60 Hz; each is in a null of the other
	humDecimate  = 8
	humHarmonics = 3
)

// humMeter measures 50 and 60 Hz and their next two harmonics, through Hann windows of a
// fifth of a second. Music has notes there too, so its result is hum only without music.
type humMeter struct {
	tables [2][humHarmonics][]complex128 // window times carrier, per mains frequency
	sums   [2][humHarmonics][2]complex128
	powers [2][2]float64 // mains frequency, channel
	parts  int
	at     int          // place in the window
	slow   [2][]float64 // the newest sound, decimated
}

// newHumMeter makes a meter for pieces of piece frames, a multiple of humDecimate.
func newHumMeter(rate, piece int) *humMeter {
	h := &humMeter{slow: [2][]float64{make([]float64, piece/humDecimate), make([]float64, piece/humDecimate)}}
	n := max(4, int(math.Round(humSeconds*float64(rate)/humDecimate)))
	for m, mains := range [2]float64{50, 60} {
		for j := range humHarmonics {
			table := make([]complex128, n)
			for i := range table {
				angle := 2 * math.Pi * mains * float64(j+1) * float64(i*humDecimate) / float64(rate)
				// Mean of Hann is one half: a sine of amplitude 1 sums to magnitude 1.
				w := (1 - math.Cos(2*math.Pi*float64(i)/float64(n))) * 2 / float64(n) / humDecimate
				table[i] = complex(w*math.Cos(angle), -w*math.Sin(angle))
			}
			h.tables[m][j] = table
		}
	}
	return h
}

func (h *humMeter) reset() { *h = humMeter{tables: h.tables, slow: h.slow} }

func (h *humMeter) add(left, right []float64) {
	decimate(h.slow[0], left)
	decimate(h.slow[1], right)
	window := len(h.tables[0][0])
	for from := 0; from < len(h.slow[0]); {
		n := min(len(h.slow[0])-from, window-h.at)
		h.listen(h.slow[0][from:from+n], h.slow[1][from:from+n])
		from += n
		if h.at += n; h.at == window {
			h.finish()
		}
	}
}

// decimate sums the samples of x in groups.
func decimate(slow, x []float64) {
	for i := range slow {
		g := (*[humDecimate]float64)(x[i*humDecimate:])
		slow[i] = (g[0] + g[1]) + (g[2] + g[3]) + ((g[4] + g[5]) + (g[6] + g[7]))
	}
}

// listen adds a piece that lies within the window.
func (h *humMeter) listen(left, right []float64) {
	for m := range h.tables {
		for j, table := range h.tables[m] {
			table = table[h.at:][:len(left)]
			var x, y complex128
			for i, w := range table {
				x += complex(left[i]*real(w), left[i]*imag(w))
				y += complex(right[i]*real(w), right[i]*imag(w))
			}
			h.sums[m][j][0] += x
			h.sums[m][j][1] += y
		}
	}
}

// finish adds the powers of a whole window.
func (h *humMeter) finish() {
	for m := range h.sums {
		for _, both := range h.sums[m] {
			h.powers[m][0] += power(both[0])
			h.powers[m][1] += power(both[1])
		}
	}
	h.at, h.sums = 0, [2][humHarmonics][2]complex128{}
	h.parts++
}

// levels returns the levels of the stronger family, and its frequency; no level before
// the first window is full.
func (h *humMeter) levels() (level [2]Decibels, mainsHz float64) {
	m, mainsHz := 0, 50.0
	if h.powers[1][0]+h.powers[1][1] > h.powers[0][0]+h.powers[0][1] {
		m, mainsHz = 1, 60
	}
	for c := range 2 {
		level[c] = decibels(h.powers[m][c] / float64(max(1, h.parts)))
	}
	return level, mainsHz
}
