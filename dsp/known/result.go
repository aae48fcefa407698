package known

import (
	"context"
	"fmt"
	"math"

	"headtrue/dsp"
)

const (
	fineLowHz   = 4000.0
	fineHighHz  = 14000.0
	fineWidthHz = 250.0
	fewBatches  = 4 // below this no standard error is computed
)

// Result is the result of a match. Pairs are left and right.
type Result struct {
	// Seconds is the tape that counted. Start is the position of the tape's beginning in
	// the reference, in seconds, negative if the tape begins earlier, extrapolated from
	// the first segment that counted. Speed is the tape's, 1.01 being one per cent fast.
	Seconds, Start, Speed float64
	// Delay is the delay of right against left, minus that in the reference. DelaySD is
	// its standard error, UnknownSD in a very short match.
	Delay, DelaySD dsp.Microseconds
	// Inverted reports that one channel is inverted against the other, relative to the
	// reference.
	Inverted bool
	// Coherence is the share of each channel's sound that is coherent with the reference:
	// the magnitude-squared coherence from 300 Hz to 14 kHz, without bias, each bin
	// weighted by frequency times power.
	Coherence [2]float64
	// Thirds are the third-octave bands of dsp.BandHz; Fine are bands of 250 Hz from 4 to
	// 14 kHz.
	Thirds, Fine []Band
	// BinHz is the spacing of the bins of Transfer; bin 0 is 0 Hz.
	BinHz float64
	// Transfer is each channel's transfer function from reference to tape. The time
	// common to both channels is followed, so the phase of one channel holds an arbitrary
	// common delay; that of right against left does not. A lag that varies faster than
	// about 15 times a second is not followed and lowers Transfer at high frequencies.
	Transfer [2][]complex128
}

// Band is the power that each channel passes in a band, tape over reference, with its
// standard error (UnknownSD if unknown). Hiss and everything else that the reference
// lacks is subtracted; the result may be below zero if nothing passes.
type Band struct {
	Hz, WidthHz float64
	Power       [2]float64
	PowerSD     [2]float64
}

// DB returns the response in decibels and its standard error.
func (b Band) DB(channel int) (response, sd dsp.Decibels) {
	p := b.Power[channel]
	if p < 1e-20 {
		return dsp.NoLevel, dsp.UnknownSD
	}
	return dsp.Decibels(10 * math.Log10(p)), dsp.Decibels(min(dsp.UnknownSD, 10/math.Ln10*b.PowerSD[channel]/p))
}

// Result processes the remaining tape and returns the figures. No more sound can be added
// after it. The error wraps one of the package's errors, or is one of reading the
// reference.
func (m *Match) Result(ctx context.Context) (Result, error) {
	for {
		worked, err := m.work(ctx, true)
		if err != nil {
			return Result{}, err
		}
		if !worked {
			break
		}
	}
	if err := m.wrong(); err != nil {
		return Result{}, err
	}
	g := m.follow
	r := Result{
		Seconds: m.seconds(), Start: g.start / float64(m.ref.rate),
		Speed: g.position / g.passed * float64(m.rate) / float64(m.ref.rate),
		BinHz: float64(m.rate) / float64(g.follower.n),
	}
	r.read(g.sums)
	return r, nil
}

// seconds returns the tape that counted.
func (m *Match) seconds() float64 {
	return float64(m.follow.counted) * float64(m.follow.follower.hop) / float64(m.rate)
}

// wrong returns why there is no result.
func (m *Match) wrong() error {
	heard := float64(m.heard) / float64(m.rate)
	switch {
	case m.follow == nil && heard < shortestSeconds:
		return fmt.Errorf("%w: %.1f s were heard, at least %g are needed", ErrTooShort, heard, shortestSeconds)
	case m.follow == nil && m.far != 0:
		return fmt.Errorf("%w: it runs at %.1f %%, within %g %% can be followed; set the deck's speed first",
			ErrSpeed, 100*m.far, 100*FurthestSpeed)
	case m.follow == nil:
		return fmt.Errorf("%w: its sound was looked for in %d places of the tape", ErrUnlike, m.tries)
	case m.seconds() < leastSeconds:
		return fmt.Errorf("%w: %.1f of %.1f s could be followed", ErrIncoherent, m.seconds(), heard)
	}
	return nil
}

func (r *Result) read(b *batches) {
	total := b.total()
	parts := b.list[:b.n]
	line := total.phaseLine(r.BinHz)
	coarse, polarity := line.look()
	delay := func(s *sums) float64 { return s.phaseLine(r.BinHz).refine(coarse, polarity) * 1e6 }
	value, sd := jackknife(total, parts, delay)
	r.Delay, r.DelaySD = dsp.Microseconds(value), dsp.Microseconds(sd)
	if len(line.unit) == 0 { // one channel has nothing in common with the reference
		r.Delay, r.DelaySD = 0, dsp.UnknownSD
	}
	r.Inverted = polarity < 0
	t := total.template()
	r.Transfer = t.response
	for c := range 2 {
		r.Coherence[c] = total.coherence(c, r.BinHz)
	}
	for i := range dsp.Bands {
		low, high := dsp.BandEdges(i)
		r.Thirds = append(r.Thirds, r.band(total, parts, dsp.BandHz(i), low, high))
	}
	for low := fineLowHz; low < fineHighHz; low += fineWidthHz {
		r.Fine = append(r.Fine, r.band(total, parts, low+fineWidthHz/2, low, low+fineWidthHz))
	}
}

func (r *Result) band(total *sums, parts []*sums, hz, low, high float64) Band {
	b := Band{Hz: hz, WidthHz: high - low}
	for c := range 2 {
		b.Power[c], b.PowerSD[c] = jackknife(total, parts, func(s *sums) float64 {
			return s.passed(c, low/r.BinHz, high/r.BinHz)
		})
	}
	return b
}

// passed returns the power coherent with the reference over the reference's own, between
// two limits in bins; a bin at a limit counts by its share.
func (s *sums) passed(c int, low, high float64) float64 {
	var tape, ref float64
	for k := int(math.Round(low)); float64(k)-0.5 < high && k < len(s.ref[c]); k++ {
		share := max(0, min(high, float64(k)+0.5)-max(low, float64(k)-0.5))
		shared, _ := s.shared(c, k)
		tape += share * shared
		ref += share * s.ref[c][k]
	}
	if ref == 0 {
		return 0
	}
	return tape / ref
}

func (s *sums) coherence(c int, hz float64) float64 {
	var shared, all float64
	for k := int(math.Ceil(followLowHz / hz)); float64(k)*hz <= followHighHz && k < len(s.ref[c]); k++ {
		v, _ := s.shared(c, k)
		shared += float64(k) * v
		all += float64(k) * s.tape[c][k]
	}
	if all == 0 {
		return 0
	}
	return max(0, shared/all)
}

// jackknife returns a figure computed from the sums and its standard error, from the
// figures with one part left out at a time (Quenouille, Tukey; formula from Efron and
// Stein, Annals of Statistics 9(3), 1981, from memory).
func jackknife(total *sums, parts []*sums, figure func(*sums) float64) (value, sd float64) {
	value = figure(total)
	n := float64(len(parts))
	if len(parts) < fewBatches {
		return value, dsp.UnknownSD
	}
	without := make([]float64, len(parts))
	var mean float64
	for i, p := range parts {
		total.add(p, -1)
		without[i] = figure(total)
		total.add(p, 1)
		mean += without[i] / n
	}
	var squares float64
	for _, v := range without {
		squares += (v - mean) * (v - mean)
	}
	return value, math.Sqrt((n - 1) / n * squares)
}
