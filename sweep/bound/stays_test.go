package bound

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"headtrue/sweep/fit"
)

// sinc2 is the azimuth loss with the given first null, (sin x/x)^2.
func sinc2(nullArcmin float64) func(float64) float64 {
	return func(off float64) float64 {
		x := math.Pi * off / nullArcmin
		if math.Abs(x) < 1e-9 {
			return 1
		}
		return math.Pow(math.Sin(x)/x, 2)
	}
}

// twoFlanks is the smallest experiment that can be computed by hand: n stays, alternating
// between one tilt on either side.
func twoFlanks(off float64, n int, levelSD, delaySD, wander float64) Experiment {
	e := Experiment{Power: sinc2(27.3), FloorDB: -300, ChannelDelaySDArcmin: math.Inf(1)}
	for i := range n {
		side := float64(1 - 2*(i%2))
		e.Stays = append(e.Stays, Stay{OffArcmin: side * off, AtS: float64(i), Seconds: 0.5,
			LevelSDDB: levelSD, DelaySDArcmin: delaySD, WanderSDArcmin: wander})
	}
	return e
}

// By hand, if only centre, top and channel delay are unknown and no floor bends the
// curve: slope d/da 20 log10(sin x/x) = 8.686 (cot x - 1/x) pi/null.
func TestTwoFlanksByHand(t *testing.T) {
	const off, n, levelSD, delaySD, wander = 14.0, 20, 0.5, 0.01, 0.7
	x := math.Pi * off / 27.3
	slope := 20 / math.Ln10 * (1/math.Tan(x) - 1/x) * math.Pi / 27.3
	e := twoFlanks(off, n, levelSD, delaySD, wander)
	// level alone: n readings of the centre, each with its noise and its wander
	within(t, "level", e.LevelSDArcmin(), math.Hypot(levelSD/slope, wander)/math.Sqrt(n), 1e-6)
	if sd := e.DelaySDArcmin(); !math.IsInf(sd, 1) {
		t.Errorf("delay alone with nothing known of the channels' delay: %g, want +Inf", sd)
	}
	// both: the mean of the delays at the flanks is the centre plus the channel delay,
	// which the level measures without wander; wander is added once
	within(t, "both", e.BothSDArcmin(), math.Hypot(levelSD/slope, wander)/math.Sqrt(n), 1e-3)
	e.ChannelDelaySDArcmin = 0
	within(t, "delay, channels known", e.DelaySDArcmin(), math.Hypot(delaySD, wander)/math.Sqrt(n), 1e-6)
	e.ChannelDelaySDArcmin = 0.3
	within(t, "delay, channels known to 0.3'", e.DelaySDArcmin(), math.Hypot(math.Hypot(delaySD, wander)/math.Sqrt(n), 0.3), 1e-6)
	// level and prior are combined, the wander common to both remains
	a, b, rest := levelSD/slope/math.Sqrt(n), math.Hypot(0.3, delaySD/math.Sqrt(n)), wander/math.Sqrt(n)
	within(t, "both, channels known to 0.3'", e.BothSDArcmin(), math.Hypot(a*b/math.Hypot(a, b), rest), 1e-3)
}

// Fluctuations common to all stays cancel; those with a short correlation time add noise
// to each.
func TestFluctuationLimits(t *testing.T) {
	plain := twoFlanks(14, 20, 0.5, 0.01, 0)
	slow := plain
	slow.Fluctuations = []Fluctuation{{3, 1e7}}
	within(t, "a fluctuation that never changes", slow.LevelSDArcmin(), plain.LevelSDArcmin(), 1e-3)
	fast := plain
	fast.Fluctuations = []Fluctuation{{3, 1e-3}}
	// white noise of 3 dB with a correlation time of 1 ms has density 2 9 1e-3 dB^2 s
	within(t, "a fluctuation that forgets at once", fast.LevelSDArcmin(),
		plain.LevelSDArcmin()*math.Sqrt(0.25+2*9*1e-3/0.5)/0.5, 5e-3)
}

// The covariance of two means is the mean of the covariance over both stays, summed here
// piece by piece.
func TestFluctuationCovarianceAgainstItsIntegral(t *testing.T) {
	f := Fluctuation{RMSDB: 2, Seconds: 0.4}
	a, b := Stay{AtS: 0.5, Seconds: 1}, Stay{AtS: 1.6, Seconds: 0.7}
	mean := func(a, b Stay) float64 {
		const n = 1500
		var sum float64
		for i := range n {
			for j := range n {
				u := a.AtS + a.Seconds*((float64(i)+0.5)/n-0.5)
				v := b.AtS + b.Seconds*((float64(j)+0.5)/n-0.5)
				sum += 4 * math.Exp(-math.Abs(u-v)/0.4) / (n * n)
			}
		}
		return sum
	}
	within(t, "two stays", f.covariance(a, b, false), mean(a, b), 1e-5)
	within(t, "one stay", f.covariance(a, a, true), mean(a, a), 1e-5)
}

// scenarios returns experiments for the simulation: white and autoregressive noise, with
// wander, an uneven grid, and priors of the nuisance parameters. The priors are narrow: a
// bound applies to one curve, and the unknowns are drawn anew each time.
func scenarios() map[string]Experiment {
	grid := Experiment{Power: sinc2(27.3), ScaleSD: 0.02, FloorDB: -20, FloorSDDB: 1, ChannelDelaySDArcmin: math.Inf(1)}
	for i := range 21 {
		grid.Stays = append(grid.Stays, Stay{OffArcmin: -15 + 1.6*float64(i), AtS: float64(i), Seconds: 1, LevelSDDB: 0.2, DelaySDArcmin: 0.05})
	}
	wandering := grid
	wandering.Stays = append([]Stay(nil), grid.Stays...)
	for i := range wandering.Stays {
		wandering.Stays[i].WanderSDArcmin = 0.15
	}
	wandering.ChannelDelaySDArcmin = 0.4
	music := twoFlanks(14, 20, 0.2, 0.02, 0.1)
	music.FloorDB, music.FloorSDDB, music.ScaleSD = -20, 1, 0.02
	music.Fluctuations = []Fluctuation{{1, 5}, {0.8, 0.4}}
	music.ChannelDelaySDArcmin = 2
	return map[string]Experiment{"white": grid, "wandering": wandering, "music to and fro": music}
}

// The generalised least-squares fit, with priors as residuals, reaches the bound. The
// simulation adds wander to the tilt and fluctuations step by step in time, and uses none
// of the bound's covariances.
func TestLevelAndJointBoundsAreReached(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 6))
	for name, e := range scenarios() {
		var ofLevel, ofBoth float64
		for range trials {
			truth, y := e.simulate(rng)
			ofLevel += square(e.estimate(t, y, true, false)-truth) / trials
			ofBoth += square(e.estimate(t, y, true, true)-truth) / trials
		}
		t.Logf("%-17s level %.3f' (bound %.3f'), both %.3f' (bound %.3f')", name, math.Sqrt(ofLevel), e.LevelSDArcmin(), math.Sqrt(ofBoth), e.BothSDArcmin())
		within(t, name+", level over its bound", math.Sqrt(ofLevel), e.LevelSDArcmin(), mostBeside)
		within(t, name+", both over their bound", math.Sqrt(ofBoth), e.BothSDArcmin(), mostBeside)
	}
}

func square(v float64) float64 { return v * v }

// simulate draws the unknowns and the data; levels first, then delays.
func (e Experiment) simulate(rng *rand.Rand) (truth float64, y []float64) {
	draw := func(sd float64) float64 {
		if math.IsInf(sd, 1) {
			sd = 1
		}
		return sd * rng.NormFloat64()
	}
	p := [unknowns]float64{draw(0.1), 1 + draw(e.ScaleSD), draw(2), e.FloorDB + draw(e.FloorSDDB), draw(e.ChannelDelaySDArcmin)}
	fluctuation := e.fluctuate(rng)
	y = make([]float64, 2*len(e.Stays))
	for i, s := range e.Stays {
		tilt := p[scale]*(s.OffArcmin-p[centre]) + s.WanderSDArcmin*rng.NormFloat64()
		y[i] = p[top] + e.levelDB(tilt, p[floor]) + s.LevelSDDB*rng.NormFloat64() + fluctuation[i]
		y[len(e.Stays)+i] = tilt + p[channelDelay] + s.DelaySDArcmin*rng.NormFloat64()
	}
	return p[centre], y
}

// fluctuate steps each process through time and averages it over each stay.
func (e Experiment) fluctuate(rng *rand.Rand) []float64 {
	const step = 0.02
	out := make([]float64, len(e.Stays))
	for _, f := range e.Fluctuations {
		keep := math.Exp(-step / f.Seconds)
		v, at := f.RMSDB*rng.NormFloat64(), e.Stays[0].AtS-e.Stays[0].Seconds/2
		for i, s := range e.Stays {
			sum, n := 0.0, 0
			for ; at < s.AtS+s.Seconds/2-step/2; at += step {
				if at >= s.AtS-s.Seconds/2-step/2 {
					sum, n = sum+v, n+1
				}
				v = keep*v + f.RMSDB*math.Sqrt(1-keep*keep)*rng.NormFloat64()
			}
			out[i] += sum / float64(n)
		}
	}
	return out
}

// estimate fits the unknowns that are not exactly known.
func (e Experiment) estimate(t *testing.T, y []float64, level, delay bool) float64 {
	t.Helper()
	var chol mat.Cholesky
	var root mat.TriDense
	chol.Factorize(e.covariance(level, delay))
	chol.LTo(&root)
	n := e.rows(level, delay)
	raw := mat.NewVecDense(n, nil)
	residuals := func(dst, q []float64) {
		p := [unknowns]float64{q[0], 1 + e.ScaleSD*q[2], q[1], e.FloorDB + e.FloorSDDB*q[3], q[4]}
		for i, s := range e.Stays {
			tilt := p[scale] * (s.OffArcmin - p[centre])
			raw.SetVec(i, y[i]-p[top]-e.levelDB(tilt, p[floor]))
			if delay {
				raw.SetVec(len(e.Stays)+i, y[len(e.Stays)+i]-tilt-p[channelDelay])
			}
		}
		var white mat.VecDense
		if err := white.SolveVec(&root, raw); err != nil {
			t.Fatal(err)
		}
		copy(dst, white.RawVector().Data)
		dst[n], dst[n+1], dst[n+2] = q[2], q[3], q[4]/e.ChannelDelaySDArcmin
		if !delay {
			dst[n+2] = q[4]
		}
	}
	found, err := fit.Solve(fit.Problem{N: n + 3, Residuals: residuals}, []float64{0.1, 0.1, 0.1, 0.1, 0.1})
	if err != nil {
		t.Fatal(err)
	}
	return found.Params[0]
}
