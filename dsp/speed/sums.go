package speed

import (
	"math"

	"headtrue/dsp"
)

const (
	exceededShare = 0.05 // of the time, by weighted peak flutter; from memory
	batchSeconds  = 1
	batchLimit    = 16
	leastBatches  = 4
)

// sums is all that a meter keeps of the sound.
type sums struct {
	stretches, dropouts int

	// Of weighted and unweighted flutter, as shares of the frequency.
	weighted                           spread
	weightedSquares, unweightedSquares float64

	batches    []batch // the newest not yet full
	batchUnits int     // seconds in a batch are this times batchSeconds
}

// batch is a second of the tone, or a power of two of them: sums over its points.
type batch struct {
	n, hz, seconds float64
	power          [2]float64
}

func (b *batch) add(o batch) {
	b.n += o.n
	b.hz += o.hz
	b.seconds += o.seconds
	b.power[0] += o.power[0]
	b.power[1] += o.power[1]
}

// tone counts a point: a frequency, the powers, and the time in seconds. If there are more
// than batchLimit batches they are joined in pairs.
func (s *sums) tone(hz float64, power [2]float64, now float64) {
	s.batchUnits = max(1, s.batchUnits)
	full := float64(s.batchUnits * batchSeconds * pointsPerSecond)
	if len(s.batches) == 0 || s.batches[len(s.batches)-1].n >= full {
		if len(s.batches) == batchLimit {
			for i := range batchLimit / 2 {
				s.batches[2*i].add(s.batches[2*i+1])
				s.batches[i] = s.batches[2*i]
			}
			s.batches = s.batches[:batchLimit/2]
			s.batchUnits *= 2
		}
		s.batches = append(s.batches, batch{})
	}
	s.batches[len(s.batches)-1].add(batch{1, hz, now, power})
}

func (s *sums) flutter(weighted, unweighted float64) {
	s.weighted.add(weighted)
	s.weightedSquares += weighted * weighted
	s.unweightedSquares += unweighted * unweighted
}

// total returns the sum of all batches.
func (s *sums) total() (all batch) {
	for _, b := range s.batches {
		all.add(b)
	}
	return all
}

// speed returns the speed error in per cent. Its standard uncertainty comes from the
// scatter of the batches about their mean, as if they were independent. That is too much
// for flutter faster than a batch, which averages out better, and holds for wow of some
// seconds. Wander slower than the sound is long does not show in it.
func (s *sums) speed(nominalHz, rateFactor float64) *Estimate {
	all := s.total()
	mean := all.hz / all.n
	e := &Estimate{Value: 100 * (mean*rateFactor/nominalHz - 1), SD: dsp.UnknownSD}
	if n := float64(len(s.batches)); n >= leastBatches {
		var squares float64
		for _, b := range s.batches {
			pull := b.n / all.n * (b.hz/b.n - mean)
			squares += pull * pull
		}
		e.SD = 100 * rateFactor / nominalHz * math.Sqrt(squares*n/(n-1))
	}
	return e
}

// result returns all but what depends on the nominal frequency.
func (s *sums) result(pointsPerSecond, rateFactor float64) Result {
	all := s.total()
	r := Result{
		Stretches: s.stretches, Dropouts: s.dropouts,
		Seconds: all.n / pointsPerSecond, FlutterSeconds: float64(s.weighted.n) / pointsPerSecond,
		Level: [2]dsp.Decibels{dsp.NoLevel, dsp.NoLevel},
	}
	if all.n == 0 {
		return r
	}
	hz := all.hz / all.n
	r.CarrierHz = hz * rateFactor
	for c, power := range all.power {
		r.Level[c] = max(dsp.NoLevel, dsp.Decibels(10*math.Log10(power/all.n)))
	}
	if min(r.Level[0], r.Level[1]) > dsp.NoLevel {
		balance := float64(r.Level[0] - r.Level[1])
		r.BalanceDB = &balance
	}
	r.SpeedDriftPercentPerMin = s.slope(func(b batch) float64 { return 100 * 60 * b.hz / b.n / hz })
	r.LevelDriftDBPerMin = s.slope(func(b batch) float64 { return 60 * 10 * math.Log10((b.power[0]+b.power[1])/b.n) })
	if n := float64(s.weighted.n); r.FlutterSeconds >= LeastFlutterSeconds {
		r.Flutter = &Flutter{
			WeightedPeak: 100 * s.weighted.exceeded(exceededShare),
			WeightedRMS:  100 * math.Sqrt(s.weightedSquares/n),
			RMS:          100 * math.Sqrt(s.unweightedSquares/n),
		}
	}
	return r
}

// slope fits a straight line to a value of the batches against time, by least squares, and
// returns its slope per second; nil below four batches.
func (s *sums) slope(of func(batch) float64) *Estimate {
	n := float64(len(s.batches))
	if n < leastBatches {
		return nil
	}
	var w, wt, wy, wtt, wty, wyy float64
	for _, b := range s.batches {
		t, y := b.seconds/b.n, of(b)
		w += b.n
		wt += b.n * t
		wy += b.n * y
		wtt += b.n * t * t
		wty += b.n * t * y
		wyy += b.n * y * y
	}
	tt, ty, yy := wtt-wt*wt/w, wty-wt*wy/w, wyy-wy*wy/w
	if !(tt > 0) {
		return nil
	}
	slope := ty / tt
	rest := max(0, yy-slope*ty)
	return &Estimate{Value: slope, SD: math.Sqrt(rest / (n - 2) / tt)}
}
