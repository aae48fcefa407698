package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"headtrue/sweep/bound"
	"headtrue/sweep/tape"
)

// The error of the level fit is at most 1.2 times its bound (Fisher information of the
// levels for a known covariance of the music's own treble: bound.Experiment), although
// the fit estimates that covariance: a run across the top and a chop between the flanks,
// on a tape that wanders by 1', with the tilt measured at each stay to 0.2'. The stated
// uncertainty is 0.8 to 1.35 times the error.
func TestLevelFitReachesItsBound(t *testing.T) {
	t.Parallel()
	const (
		runs            = 80
		own, tiltSD     = 0.5, 0.2 // dB of each channel, arcmin
		wander          = 1.0
		floorDB         = -20.0
		stay, from, top = 0.4, 1.2, -15.0 // s, s from stay to stay, dB
		heard, strides  = 20, 60          // steps of time in a stay, and from stay to stay
	)
	m := tape.StereoCassette.Programme()
	half := m.HalfWidthArcmin(6)
	var offs []float64
	for k := range 17 {
		offs = append(offs, 1.25*half*(float64(k)/8-1))
	}
	for k := range 48 {
		offs = append(offs, 0.95*half*float64(2*(k%2)-1))
	}
	for _, music := range []bound.Fluctuation{{RMSDB: 2, Seconds: 2}, {RMSDB: 3, Seconds: 0.5}, {RMSDB: 4, Seconds: 0.2}} {
		e := bound.Experiment{Power: m.Power, Fluctuations: []bound.Fluctuation{music}, ScaleSD: 0.25, FloorDB: floorDB, FloorSDDB: 8, ChannelDelaySDArcmin: math.Inf(1)}
		for i, off := range offs {
			e.Stays = append(e.Stays, bound.Stay{OffArcmin: off, AtS: float64(i) * from, Seconds: stay,
				LevelSDDB: own / math.Sqrt2, DelaySDArcmin: tiltSD, WanderSDArcmin: tiltSD})
		}
		best := e.LevelSDArcmin()
		keep := math.Exp(-from / strides / music.Seconds)
		var squares, stated float64
		for seed := range uint64(runs) {
			draw := rand.New(rand.NewPCG(seed, uint64(100*music.Seconds)))
			centre := 4*draw.Float64() - 2
			in := curveInput{scale: 1, scaleSD: 0.25, startSD: 10, weight: [2]float64{0.5, 0.5}, m: m}
			now := music.RMSDB * draw.NormFloat64()
			for i, off := range offs {
				var by float64 // the mean of the music's own change
				for stride := range strides {
					if stride < heard {
						by += now / heard
					}
					now = keep*now + music.RMSDB*math.Sqrt(1-keep*keep)*draw.NormFloat64()
				}
				tilt := off + wander*draw.NormFloat64()
				p := curvePoint{z: tilt + tiltSD*draw.NormFloat64(), zSD: tiltSD, at: float64(i) * from, seconds: stay, sd: own / math.Sqrt2}
				for c := range 2 {
					p.y[c] = top + by + own*draw.NormFloat64() + tape.Decibels(m.Power(tilt-centre)+tape.PowerOf(floorDB))
				}
				p.sum = (p.y[0] + p.y[1]) / 2
				in.points = append(in.points, p)
			}
			c := fitCurve(in)
			if !c.OK {
				t.Fatalf("seed %d: %s", seed, c.why)
			}
			squares += square(c.Centre-centre) / runs
			stated += square(c.CentreSD) / runs
		}
		off, said := math.Sqrt(squares), math.Sqrt(stated)
		t.Logf("music of %.0f dB that forgets in %.1f s: %.3f' rms, %.2f of the bound of %.3f', stated %.3f'", music.RMSDB, music.Seconds, off, off/best, best, said)
		if off > 1.2*best || said < 0.8*off || said > 1.35*off {
			t.Errorf("music of %.0f dB that forgets in %.1f s: %.3f' rms, %.2f of the bound, stated %.3f'", music.RMSDB, music.Seconds, off, off/best, said)
		}
	}
}
