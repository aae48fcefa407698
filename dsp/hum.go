package dsp

import "math"

const (
	humSeconds   = 0.2 // whole cycles of 50 and 60 Hz; each lies in a null of the other
	humDecimate  = 8
	humHarmonics = 3
)

// humMeter listens at 50 and 60 Hz and their next two harmonics, through Hann
// windows of a fifth of a second. Music has notes there too: it tells hum only
// where there is no music.
type humMeter struct {
	tables [2][humHarmonics][]complex128 // window times carrier, per mains frequency
	sums   [2][2][humHarmonics]complex128
	powers [2][2]float64 // mains frequency, channel
	parts  int
	at     int // place in the window
	piled  int // samples in the decimation
	pile   [2]float64
}

func newHumMeter(rate int) *humMeter {
	h := &humMeter{}
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

func (h *humMeter) reset() { *h = humMeter{tables: h.tables} }

func (h *humMeter) add(left, right []float64) {
	for i := range left {
		h.pile[0] += left[i]
		h.pile[1] += right[i]
		if h.piled++; h.piled == humDecimate {
			h.step()
			h.piled, h.pile = 0, [2]float64{}
		}
	}
}

func (h *humMeter) step() {
	for m := range h.tables {
		for j, table := range h.tables[m] {
			w := table[h.at]
			for c, x := range h.pile {
				h.sums[m][c][j] += complex(x*real(w), x*imag(w))
			}
		}
	}
	if h.at++; h.at < len(h.tables[0][0]) {
		return
	}
	for m := range h.sums {
		for c := range h.sums[m] {
			for _, z := range h.sums[m][c] {
				h.powers[m][c] += power(z)
			}
		}
	}
	h.at, h.sums = 0, [2][2][humHarmonics]complex128{}
	h.parts++
}

// levels are those of the stronger family, and its frequency; no level before
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
