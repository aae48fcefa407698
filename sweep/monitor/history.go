package monitor

import (
	"math"

	"headtrue/dsp"
)

// entry is what one update leaves.
type entry struct {
	power   [2]power
	reading dsp.Reading
	delay   float64 // of a tone, periods counted; NaN if it cannot be counted on
}

// history holds the newest updates.
type history struct {
	entries [int(holdSeconds/updateSeconds) + 1]entry
	n       int
	clipped [2]int // updates with clipping, since the beginning
}

func (h *history) add(e entry) {
	h.entries[h.n%len(h.entries)] = e
	h.n++
	for c, p := range e.power {
		if p.clipped {
			h.clipped[c]++
		}
	}
}

// last calls use with each of the entries of the last seconds, the newest first.
func (h *history) last(seconds float64, use func(*entry)) {
	most := min(h.n, len(h.entries), int(math.Round(seconds/updateSeconds)))
	for i := range most {
		use(&h.entries[(h.n-1-i)%len(h.entries)])
	}
}

// sound returns the sums over the last seconds.
func (h *history) sound(seconds float64) (sum [2]power) {
	h.last(seconds, func(e *entry) {
		for c := range sum {
			sum[c].add(e.power[c])
		}
	})
	return sum
}

// mean returns the mean of the powers whose levels of picks, over the last seconds; each
// update counts by its sound after gating. ok is false without sound.
func (h *history) mean(seconds float64, of func(*dsp.Reading) [2]dsp.Decibels) (power [2]float64, ok bool) {
	var weight float64
	h.last(seconds, func(e *entry) {
		levels := of(&e.reading)
		weight += e.reading.Seconds
		for c := range power {
			power[c] += e.reading.Seconds * math.Pow(10, float64(levels[c])/10)
		}
	})
	for c := range power {
		power[c] /= max(weight, 1e-9)
	}
	return power, weight > 0
}

// meanDelay returns the mean of a tone's counted delays; otherwise is what stands for none.
func (h *history) meanDelay(seconds, otherwise float64) float64 {
	var sum, n float64
	h.last(seconds, func(e *entry) {
		if !math.IsNaN(e.delay) {
			sum += e.delay
			n++
		}
	})
	if n == 0 {
		return otherwise
	}
	return sum / n
}

// forgetDelays drops the counted delays.
func (h *history) forgetDelays() {
	for i := range h.entries {
		h.entries[i].delay = math.NaN()
	}
}
