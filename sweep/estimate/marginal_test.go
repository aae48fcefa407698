package estimate

import (
	"math"
	"math/rand/v2"
	"testing"
)

// passing returns the points of a run: a jig that moves back and forth at one speed, a
// screw with backlash behind it, late sound, and a tape with the usual wander.
func passing(draw *rand.Rand, backlash, lag, perDeg float64, passes int) []Point {
	const (
		reach, speed, accel = 100, 300, 1800 // degrees, and per second
		cell, step          = 0.04, 0.002    // seconds
		side                = 1
		noise               = 0.03 // arcmin
	)
	var jig, heard []float64 // degrees, every step
	at, v, to := -float64(reach), 0.0, 1.0
	for turns := 0; turns < passes; {
		stop := v * v / (2 * accel)
		if to*at+stop >= reach && v*to > 0 {
			v -= to * accel * step
			if v*to <= 0 {
				v, to = 0, -to
				turns++
			}
		} else {
			v = to * math.Min(speed, math.Abs(v)+accel*step)
		}
		at += v * step
		jig = append(jig, at)
	}
	screw, late := jig[0], int(math.Round(lag/step))
	for i := range jig {
		from := jig[max(0, i-late)]
		screw = math.Max(from, math.Min(from+backlash, screw)) // home is up: there the screw does not lag
		heard = append(heard, screw)
	}
	// the wander: u is first-order, m its running mean, which removes the slow part
	d := usualWander
	a, b := 1/d.returns, 1/d.seconds
	uu := d.Rms * d.Rms * (a + b) / b
	um := uu * a / (a + b) // the covariance of both, and the variance of m
	u := math.Sqrt(uu) * draw.NormFloat64()
	m := u*um/uu + math.Sqrt(um-um*um/uu)*draw.NormFloat64()
	var ps []Point
	per := int(math.Round(cell / step))
	home := 0.0
	for i := 0; i+per <= len(jig); i += per {
		var mean float64
		for k := i; k < i+per; k++ {
			mean += (heard[k]*perDeg + u - m) / float64(per)
			m += a * (u - m) * step
			u = u*math.Exp(-b*step) + math.Sqrt(uu*(1-math.Exp(-2*b*step)))*draw.NormFloat64()
		}
		from, end := jig[max(0, i-1)], jig[i+per-1]
		if home += end - from; end < from {
			home = 0
		}
		ps = append(ps, Point{Deg: (from + end) / 2, from: from, At: (float64(i) + float64(per)/2) * step, Seconds: cell,
			X: mean + noise*draw.NormFloat64(), XSD: noise, ByX: true, turning: true, Home: home*side > SlackAllowanceDeg})
	}
	return ps
}

// The stated uncertainties of backlash, lag and line match their errors, even if the
// backlash is small and a lag looks like it.
func TestMountIsKnownAsWellAsItSays(t *testing.T) {
	t.Parallel()
	const runs, perDeg = 60, 0.3
	for _, backlash := range []float64{3, 14} {
		var ofBacklash, ofLag, ofLine float64 // normalised squares
		for seed := range uint64(runs) {
			draw := rand.New(rand.NewPCG(seed, uint64(backlash)))
			lag := 0.004 + 0.15*draw.Float64()
			m := FitMount(passing(draw, backlash, lag, perDeg, 6), 1)
			if !m.OK {
				t.Fatalf("backlash %g, seed %d: no mount", backlash, seed)
			}
			ofBacklash += square((m.backlashDeg - backlash) / m.backlashSDDeg)
			ofLag += square((m.lagSeconds - lag) / m.lagSDSeconds)
			ofLine += square(m.At0 / m.SD(0))
		}
		for name, sum := range map[string]float64{"backlash": ofBacklash, "lag": ofLag, "line": ofLine} {
			// the rms of 60 normal numbers lies within 0.72 and 1.3 (99.9 %)
			if z := math.Sqrt(sum / runs); z < 0.6 || z > 1.35 {
				t.Errorf("backlash %g: errors of the %s are %.2f of what is said", backlash, name, z)
			} else {
				t.Logf("backlash %g: errors of the %s are %.2f of what is said", backlash, name, z)
			}
		}
	}
}

// If the screw turns in one direction only, the line is as uncertain as the lag, which
// may then have any value: a standing screw is heard at another place than a turning one.
func TestOneWayLeavesTheLagOpen(t *testing.T) {
	t.Parallel()
	const runs, perDeg = 60, 0.3
	var ofLine, sd, known float64
	for seed := range uint64(runs) {
		draw := rand.New(rand.NewPCG(seed, 1))
		m := FitMount(passing(draw, 14, 0.3*draw.Float64(), perDeg, 1), 1)
		if !m.OK {
			continue
		}
		known++
		ofLine += square(m.At0 / m.SD(0))
		sd += m.SD(0)
	}
	if sd /= known; known < 0.9*runs {
		t.Fatalf("a mount in %g runs of %d", known, runs)
	}
	if z := math.Sqrt(ofLine / known); z < 0.4 || z > 1.35 || sd < 1 {
		t.Errorf("errors of the line are %.2f of what is said, %.1f'", z, sd)
	} else {
		t.Logf("errors of the line are %.2f of what is said, %.1f'", z, sd)
	}
}
