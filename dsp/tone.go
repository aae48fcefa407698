package dsp

import "math"

const (
	toneSearch  = 0.04 // the search reaches this share of the frequency to either side
	toneWidth   = 0.02 // the power is summed over this share to either side
	toneMemory  = 0.2  // share of the newest frame in the spectrum searched
	toneLeast   = 3    // least bins to either side: Hann's main lobe is 2
	toneBesides = 6    // bins to either side that estimate the noise under the tone
)

// tone follows one tone through the frames. Each frame refines its position on both
// channels together; its level is the sum of the power around there, which flutter does
// not change. Its frequency over all frames comes from the advance of its phase.
type tone struct {
	nominal   float64   // bins
	low, high int       // bins searched
	half      int       // bins to either side that are summed
	newest    []float64 // power of both channels from bin low-1 to high+1
	recent    []float64 // the same, exponentially averaged
	heard     int

	// The newest frame.
	at       float64 // bins
	power    [2]float64
	beside   [2]float64
	crossing complex128

	// Sums over the frames that counted.
	powers     [2]float64
	besides    [2]float64
	cross      complex128
	weightedAt float64
	advance    advance
}

func newTone(hz, binHz float64, bins int) *tone {
	t := &tone{nominal: hz / binHz, half: max(toneLeast, int(math.Round(toneWidth*hz/binHz)))}
	top := bins - 3 - t.half - toneBesides
	t.low = max(1, min(int(t.nominal*(1-toneSearch)), top))
	t.high = max(t.low, min(int(math.Ceil(t.nominal*(1+toneSearch))), top))
	t.newest, t.recent = make([]float64, t.high-t.low+3), make([]float64, t.high-t.low+3)
	t.reset()
	return t
}

func (t *tone) reset() {
	*t = tone{nominal: t.nominal, low: t.low, high: t.high, half: t.half, newest: t.newest, recent: t.recent, at: t.nominal, advance: advance{nominal: t.nominal}}
	clear(t.recent)
}

// hear finds the tone in a frame and measures it.
func (t *tone) hear(s *spectra) {
	powers := &s.powers
	t.heard++
	share := max(toneMemory, 1/float64(t.heard))
	for i := range t.recent {
		k := t.low - 1 + i
		t.newest[i] = powers[0][k] + powers[1][k]
		t.recent[i] += share * (t.newest[i] - t.recent[i])
	}
	t.at = t.peak(t.recent)
	now := max(t.at-1, min(t.at+1, t.peak(t.newest)))
	t.advance.hear(now, s)
	middle := int(math.Round(t.at))
	t.power, t.beside, t.crossing = [2]float64{}, [2]float64{}, 0
	for k := max(1, middle-t.half); k <= middle+t.half; k++ {
		t.power[0] += powers[0][k]
		t.power[1] += powers[1][k]
		t.crossing += crossed(s.left[k], s.right[k])
	}
	for i := range toneBesides {
		below, above := max(1, middle-t.half-2-i), middle+t.half+2+i
		for c := range 2 {
			t.beside[c] += powers[c][below] + powers[c][above]
		}
	}
}

// keep counts the newest frame.
func (t *tone) keep() {
	t.weightedAt += (t.power[0] + t.power[1]) * t.at
	for c := range 2 {
		t.powers[c] += t.power[c]
		t.besides[c] += t.beside[c]
	}
	t.cross += t.crossing
	t.advance.keep()
}

// peak returns the position of the tone in the spectrum around it, in bins. Between the
// highest bin and its higher neighbour Hann's main lobe gives (2a-1)/(a+1) bins for an
// amplitude ratio a (exact for a steady tone; Grandke, IEEE Trans. IM 32, 1983, from
// memory).
func (t *tone) peak(around []float64) float64 {
	best := 1
	for i := 2; i < len(around)-1; i++ {
		if around[i] > around[best] {
			best = i
		}
	}
	if around[best] == 0 {
		return t.nominal
	}
	side, direction := around[best-1], -1.0
	if around[best+1] > side {
		side, direction = around[best+1], 1
	}
	a := math.Sqrt(side / around[best])
	return float64(t.low-1+best) + direction*max(0, min(1, (2*a-1)/(a+1)))
}

// clean returns the tone's power in one channel over all frames, without the noise under
// it.
func (t *tone) clean(c int) float64 {
	under := float64(2*t.half+1) / float64(2*toneBesides)
	return max(0, t.powers[c]-under*t.besides[c])
}

// bins returns the frequency over all frames, in bins.
func (t *tone) bins() float64 {
	if bins, known := t.advance.bins(t.powers); known {
		return bins
	}
	if total := t.powers[0] + t.powers[1]; total > 0 {
		return t.weightedAt / total
	}
	return t.nominal
}
