package bound

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// White noise alone: the best estimate is the mean, s^2/n.
func TestBestMeanOfWhiteNoise(t *testing.T) {
	within(t, "no wander", Wander{0, 0.2, 5, false}.BestMeanSDArcmin(3, 0.1), 0.1, 1e-12)
	column := make([]float64, 50)
	column[0] = 4
	within(t, "white", 1/informationOfMean(column), 4.0/50, 1e-12)
	if sd := (Wander{1, 0.2, 5, false}).BestMeanSDArcmin(3, 0); sd != 0 {
		t.Errorf("without noise %g, want 0", sd)
	}
}

// For a first-order autoregressive process of variance s^2, the best estimate of the mean
// has the variance s^2 (1+r)/(n-(n-2)r): the information is that of the first sample,
// 1/s^2, and of n-1 innovations, (1-r)^2/(s^2 (1-r^2)) each (by hand).
func TestBestMeanOfAnAutoregression(t *testing.T) {
	for _, r := range []float64{-0.7, 0, 0.5, 0.99} {
		for _, n := range []int{1, 2, 3, 40, 1000} {
			column := make([]float64, n)
			for k := range column {
				column[k] = 2 * math.Pow(r, float64(k))
			}
			want := 2 * (1 + r) / (float64(n) - float64(n-2)*r)
			within(t, "autoregression", 1/informationOfMean(column), want, 1e-9)
		}
	}
}

// More cells change the bound by less than 1 %, and only downwards: readings in the cells
// are sums of readings in their halves. The noise after 1 s is that of a tone at 40 dB,
// at 20 dB, and more than a programme's.
func TestBestMeanHasConverged(t *testing.T) {
	for _, w := range []Wander{{1, 0.2, 5, false}, {1, 0.2, 5, true}, {2, 0.05, 5, false}, {1, 0.5, 2, false}} {
		for _, seconds := range []float64{0.5, 2, 5, 20} {
			for _, noise := range []float64{3e-4, 3e-3, 0.05} {
				noise /= math.Sqrt(seconds)
				coarse, fine, finest := w.cells(seconds, cellsPerPeriod/2, fewestCells/2).bestMeanSD(noise), w.BestMeanSDArcmin(seconds, noise), w.cells(seconds, 4*cellsPerPeriod, 4*fewestCells).bestMeanSD(noise)
				t.Logf("%+v, %g s, noise %.5f': %.5f %.5f %.5f, mean %.4f", w, seconds, noise, coarse, fine, finest, math.Hypot(noise, w.MeanSDArcmin(seconds)))
				if !(fine <= coarse*(1+1e-6) && finest <= fine*(1+1e-6) && finest > 0.99*fine) {
					t.Errorf("%+v, %g s, noise %.5f': %.5f in few cells, %.5f, in many %.5f", w, seconds, noise, coarse, fine, finest)
				}
				if best := math.Hypot(noise, w.MeanSDArcmin(seconds)); fine < noise*(1-1e-9) || fine > best*1.001 {
					t.Errorf("%+v, %g s: %.5f outside %.5f (noise) to %.5f (even mean)", w, seconds, fine, noise, best)
				}
			}
		}
	}
}

// Stays on the flanks and the delays cell by cell, with the joint covariance of all
// levels and delays, wander and fluctuations, inverted as a whole. The limits lie below
// this result, by a quarter at most.
func TestLimitsAgainstTheWholeCovariance(t *testing.T) {
	for _, toneHz := range []float64{0, 10000} {
		for _, seconds := range []float64{1, 5} {
			for _, delaySDUS := range []float64{0.5, math.Inf(1)} {
				tape := aTape(toneHz)
				tape.ChannelDelaySDUS = delaySDUS
				whole := math.Inf(1)
				for flank := nearestFlank; flank <= farthestFlank; flank += 2 {
					whole = min(whole, wholeSDArcmin(tape, flank, seconds))
				}
				l := tape.Limits(seconds)
				whole = min(whole, l.Delay)
				t.Logf("tone %g Hz, %g s, delay to %g us: %.4f, the whole %.4f", toneHz, seconds, delaySDUS, l.Both, whole)
				if l.Both > whole*1.01 || l.Both < 0.75*whole {
					t.Errorf("tone %g Hz, %g s, delay to %g us: %.4f', with the whole covariance %.4f'", toneHz, seconds, delaySDUS, l.Both, whole)
				}
			}
		}
	}
}

// wholeSDArcmin uses one level for each stay and perStay delays in it.
func wholeSDArcmin(t Tape, flank, seconds float64) float64 {
	const perStay = 6
	stays := 2 * max(1, int(math.Round(seconds/2/t.DwellSeconds)))
	n, cell := stays*perStay, seconds/float64(stays*perStay)
	e := Experiment{Power: t.treblePower, FloorDB: t.floorDB(), Fluctuations: t.Fluctuations}
	for i := range stays {
		e.Stays = append(e.Stays, Stay{OffArcmin: flank * float64(1-2*(i%2)), AtS: (float64(i) + 0.5) * cell * perStay, Seconds: cell * perStay})
	}
	wander := make([]float64, n)
	for k := range wander { // directly, by the midpoint rule
		wander[k] = integral(t.Wander.LowHz, t.Wander.HighHz, 4000, func(hz float64) float64 {
			x := math.Pi * hz * cell
			return t.Wander.density(hz) * math.Pow(math.Sin(x)/x, 2) * math.Cos(2*x*float64(k))
		})
	}
	// levels first; each is the mean of its cells' tilts times its slope
	reads, sees := mat.NewDense(stays+n, n, nil), mat.NewDense(stays+n, 4, nil) // centre, top, floor, channel delay
	c, w := mat.NewDense(stays+n, stays+n, nil), mat.NewDense(n, n, nil)
	under, power := math.Pow(10, e.FloorDB/10), e.Power(flank)
	for i, s := range e.Stays {
		sees.SetRow(i, []float64{-e.slope(s.OffArcmin), 1, under / (power + under), 0})
		for j := range e.Stays {
			c.Set(i, j, e.shared(i, j))
		}
		c.Set(i, i, c.At(i, i)+square(t.levelSDDB(flank, s.Seconds)))
		for j := range perStay {
			reads.Set(i, i*perStay+j, e.slope(s.OffArcmin)/perStay)
		}
	}
	for i := range n {
		reads.Set(stays+i, i, 1)
		sees.SetRow(stays+i, []float64{-1, 0, 0, 1})
		c.Set(stays+i, stays+i, square(t.delaySDArcmin(flank, cell)))
		for j := range n {
			w.Set(i, j, wander[max(i-j, j-i)])
		}
	}
	var half, moved mat.Dense
	half.Mul(reads, w)
	moved.Mul(&half, reads.T())
	c.Add(c, &moved)
	var chol mat.Cholesky
	if !chol.Factorize(mat.NewSymDense(stays+n, c.RawMatrix().Data)) {
		return math.NaN()
	}
	var weighted, f, inverse mat.Dense
	if err := chol.SolveTo(&weighted, sees); err != nil {
		return math.NaN()
	}
	f.Mul(sees.T(), &weighted)
	f.Set(2, 2, f.At(2, 2)+1/square(floorSDDB))
	f.Set(3, 3, f.At(3, 3)+square(t.USPerArcmin/t.ChannelDelaySDUS))
	if err := inverse.Inverse(&f); err != nil {
		if _, near := err.(mat.Condition); !near {
			return math.NaN()
		}
	}
	return math.Sqrt(inverse.At(0, 0))
}
