package loss

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"headtrue/sweep/tape"
)

// The loss in dB at a few frequencies gives the tilt, for any gain. The figures are from
// the table in TestAzimuthLossTable, rounded to 0.01 dB.
func TestTiltFromTheLossTable(t *testing.T) {
	hz := []float64{3150, 6300, 8000, 10000, 12500, 15000}
	for _, row := range []struct {
		tilt float64
		loss []float64
	}{
		{6, []float64{0.07, 0.28, 0.45, 0.70, 1.11, 1.62}},
		{10, []float64{0.19, 0.78, 1.27, 2.01, 3.24, 4.86}},
		{15, []float64{0.43, 1.79, 2.97, 4.86, 8.29, 13.91}},
		{20, []float64{0.78, 3.30, 5.64, 9.83, 20.93, 20.97}},
		{30, []float64{1.79, 8.46, 17.51, 20.97, 13.40, 15.30}},
	} {
		var bands []Passed
		for i, loss := range row.loss {
			p := math.Pow(10, (3-loss)/10)
			bands = append(bands, Passed{Hz: hz[i], Power: p, PowerSD: 0.002 * p})
		}
		got, err := TiltOf(tape.StereoCassette, bands)
		if err != nil || math.Abs(got.Arcmin-row.tilt) > 0.1 {
			t.Errorf("tilt %v': %+v, %v", row.tilt, got, err)
		}
	}
}

// lossy returns the power of a tilted track with a straight slope and noise.
func lossy(r *rand.Rand, tilt, slope, sd float64) []Passed {
	var bands []Passed
	for hz := 4125.0; hz < 14000; hz += 250 {
		p := 0.0
		for at := hz - 120; at < hz+125; at += 10 {
			x := math.Pi * 0.6 * math.Tan(tilt/60*math.Pi/180) * at / 47.6
			loss := 1.0
			if x != 0 {
				loss = math.Sin(x) / x
			}
			p += loss * loss / 25
		}
		p *= math.Pow(10, -slope*hz/1e4)
		bands = append(bands, Passed{Hz: hz, WidthHz: 250, Power: p + sd*r.NormFloat64(), PowerSD: sd})
	}
	return bands
}

// Errors are as large as stated, with and without a slope; the fit does not mistake slope
// for tilt or tilt for slope.
func TestTiltStatesItsError(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	var squares, n float64
	for _, tilt := range []float64{8, 12, 20, 33, 50} {
		for _, slope := range []float64{0, 0.3} {
			const times = 12
			var slopes float64
			for range times {
				got, err := TiltOf(tape.StereoCassette, lossy(r, tilt, slope, 0.01))
				if err != nil {
					t.Fatal(err)
				}
				off := (got.Arcmin - tilt) / got.SDArcmin
				squares, n = squares+off*off, n+1
				slopes += got.SlopeDBPerKHz / times
				if math.Abs(got.Arcmin-tilt) > 4 {
					t.Errorf("tilt %v', slope %v dB/kHz: %+v", tilt, slope, got)
				}
			}
			if math.Abs(slopes-slope) > 0.2 {
				t.Errorf("tilt %v', slope %v dB/kHz: %.2f dB/kHz found on average", tilt, slope, slopes)
			}
		}
	}
	ratio := math.Sqrt(squares / n)
	t.Logf("errors over standard errors, rms %.2f of %.0f", ratio, n)
	// rippleShare widens the stated error if the noise is as small as here.
	if ratio < 0.6 || ratio > 1.15 {
		t.Errorf("errors are %.2f standard errors, rms", ratio)
	}
	var within float64
	for range 40 {
		got, err := TiltOf(tape.StereoCassette, lossy(r, 0, 0.3, 0.01))
		if err != nil {
			t.Fatal(err)
		}
		if got.Arcmin <= got.SDArcmin {
			within++
		}
	}
	// The square of the tilt lies below one standard error in 84 of 100.
	if within < 28 {
		t.Errorf("without tilt, only %.0f of 40 within a standard error of none", within)
	}
}

func TestTiltFromNothing(t *testing.T) {
	for _, bands := range [][]Passed{nil, lossy(rand.New(rand.NewPCG(1, 1)), 5, 0, 0.01)[:4], make([]Passed, 40)} {
		if got, err := TiltOf(tape.StereoCassette, bands); !errors.Is(err, ErrNoLoss) {
			t.Errorf("%d bands: %+v, %v", len(bands), got, err)
		}
	}
}
