//go:build outside

package study

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"headtrue/dsp/pythontest"
)

// ask sends a question to testdata/outside.py, which uses scipy and statsmodels.
func ask(t *testing.T, question map[string]any, answer any) {
	t.Helper()
	pythontest.Ask(t, "testdata/outside.py", question, answer)
}

// relative: got within tolerance of want, relative to want or to 0.001.
func relative(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	near(t, what, got, want, tolerance*math.Max(1e-3, math.Abs(want)))
}

func sameTable(t *testing.T, what string, got []Row, want [][5]float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%s: %d rows, want %d", what, len(got), len(want))
	}
	for i, row := range got {
		name := fmt.Sprintf("%s, %s, ", what, row.Source)
		for j, figure := range [5]float64{float64(row.DF), row.SS, row.MS, row.F, row.P} {
			relative(t, name+[5]string{"df", "SS", "MS", "F", "P"}[j], figure, want[i][j], 1e-8)
		}
	}
}

// TestAnovaAsStatsmodels: tables of random studies of several sizes.
func TestAnovaAsStatsmodels(t *testing.T) {
	rng := rand.New(rand.NewPCG(40, 1))
	for _, size := range [][3]int{{10, 3, 3}, {5, 2, 2}, {4, 6, 2}} {
		all := gaugeStudy(rng, spreads{2, 1, 0.7, 0.8}, size[0], size[1], size[2])
		rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		var rows []map[string]any
		for _, m := range all {
			rows = append(rows, map[string]any{"u": m.Unit, "o": m.Operator, "y": m.Arcmin})
		}
		var want struct{ Kept, Pooled [][5]float64 }
		ask(t, map[string]any{"ask": "crossed", "rows": rows}, &want)
		for how, table := range map[Interaction][][5]float64{KeepInteraction: want.Kept, PoolInteraction: want.Pooled} {
			got, err := Crossed(all, how)
			if err != nil {
				t.Fatal(err)
			}
			sameTable(t, fmt.Sprint(size, how), got.Table, table)
		}

		all = seatingStudy(rng, 2, 1, 0.7, size[0], size[1], size[2])
		nestedAsStatsmodels(t, "nested", all)
		for i, m := range seatingStudy(rng, 2, 1, 0.7, size[0], size[1], size[2]) {
			all[i].Operator, m.Operator = "K", "M"
			all = append(all, m)
		}
		nestedAsStatsmodels(t, "operators", all)
	}
}

func nestedAsStatsmodels(t *testing.T, question string, all []Measurement) {
	t.Helper()
	var rows []map[string]any
	rand.New(rand.NewPCG(43, 1)).Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	for _, m := range all {
		rows = append(rows, map[string]any{"u": m.Unit, "o": m.Operator, "s": m.Reseating, "y": m.Arcmin})
	}
	var stages struct{ Rows [][5]float64 }
	ask(t, map[string]any{"ask": question, "rows": rows}, &stages)
	got, err := Nested(all)
	if err != nil {
		t.Fatal(err)
	}
	sameTable(t, question, got.Table, stages.Rows)
}

// TestDriftAsCurveFit: parameters within 1e-5 of their standard deviations, these within
// 1e-4 (curve_fit uses differences), chi-squared within 1e-9; scatter as stated and twice
// that, with and without temperature and cycles.
func TestDriftAsCurveFit(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 1))
	scatters := []float64{0.8, 2}
	if testing.Short() {
		scatters = scatters[:1] // each question starts scipy anew
	}
	for _, head := range []truth{{Constant, 2, 0, 0}, {Creep, 2, -0.02, 0}, {Settling, 2, 3, 15}, {PowerLaw, -1, 0.8, 0.4}} {
		for _, scatter := range scatters {
			for _, more := range []bool{false, true} {
				points := head.proofs(rng, 40, 90, scatter)
				question := map[string]any{"ask": "drift", "law": head.law.String()}
				start := []float64{head.a, head.b, head.theta}[:map[Law]int{Constant: 1, Creep: 2, Settling: 3, PowerLaw: 3}[head.law]]
				names := []string{"a", "b", curves[head.law].name}[:len(start)]
				columns := map[string][]float64{}
				for i := range points {
					p := &points[i]
					if more {
						c, n := 18+8*rng.Float64(), math.Floor(3*p.Days+20*rng.Float64())
						p.TemperatureC, p.Cycles = &c, &n
						p.Arcmin += 0.03*c + 0.004*n
						columns["temperature"] = append(columns["temperature"], c)
						columns["cycles"] = append(columns["cycles"], n)
					}
					columns["t"] = append(columns["t"], p.Days)
					columns["y"] = append(columns["y"], p.Arcmin)
					columns["sd"] = append(columns["sd"], p.SDArcmin)
				}
				if more {
					start, names = append(start, 0, 0), append(names, "temperature", "cycles")
				}
				for key, column := range columns {
					question[key] = column
				}
				question["start"] = start
				var want struct {
					Value, Stated, Scaled []float64
					Chi2                  float64
				}
				ask(t, question, &want)
				got, err := FitDrift(points, Model{Law: head.law, Temperature: more, Cycles: more})
				if err != nil {
					t.Fatal(err)
				}
				sds := want.Stated
				if want.Chi2 > float64(got.DOF) {
					sds = want.Scaled
				}
				if (got.Scale > 1) != (scatter == 2) {
					t.Errorf("%s, scatter %v: scale %.3f", head.law, scatter, got.Scale)
				}
				what := fmt.Sprintf("%s, scatter %v, more %v, ", head.law, scatter, more)
				relative(t, what+"chi-squared", got.ChiSquared, want.Chi2, 1e-9)
				for i, name := range names {
					p, ok := got.Value(name)
					if !ok {
						t.Fatalf("%sno %s", what, name)
					}
					near(t, what+name, p.Value, want.Value[i], 1e-5*sds[i])
					relative(t, what+"sd of "+name, p.SD, sds[i], 1e-4)
				}
			}
		}
	}
}

// TestStepsAsStatsmodels: each explanation of uneven points of several standard deviations is
// generalised least squares, and their evidence is the restricted likelihood, apart from a constant.
func TestStepsAsStatsmodels(t *testing.T) {
	rng := rand.New(rand.NewPCG(42, 1))
	points := truth{Settling, 2, 1.5, 5}.proofs(rng, 30, 21, 1)
	for i := range points {
		c := 20 + rng.NormFloat64()
		points[i].TemperatureC = &c
	}
	s, err := inOrder(points)
	if err != nil {
		t.Fatal(err)
	}
	step := s.stepAt(12)
	all, err := s.explanations(Allowed{Laws: []Law{Constant, Settling}, Temperature: true}, step)
	if err != nil {
		t.Fatal(err)
	}
	usual := s.usualGap()
	var first float64
	for i := 0; i < len(all); i += len(all) / 7 {
		e := all[i]
		rho := correlations[i*len(correlations)/len(all)]
		covariance := make([][]float64, len(points))
		for j := range covariance {
			covariance[j] = make([]float64, len(points))
			for k := range covariance[j] {
				alike := 1.0
				for m := min(j, k) + 1; m <= max(j, k); m++ {
					alike *= math.Pow(rho, max(closest, (s.days[m]-s.days[m-1])/usual))
				}
				covariance[j][k] = alike * s.sd[j] * s.sd[k]
			}
		}
		warm, err := s.known("temperature", temperature)
		if err != nil {
			t.Fatal(err)
		}
		columns := [][]float64{ones(len(points)), warm}
		if e.law == Settling {
			shape := make([]float64, len(points))
			for j, days := range s.days {
				shape[j] = -math.Expm1(-days/e.theta) / e.spread
			}
			columns = append(columns, shape)
		}
		columns = append(columns, step)
		var want struct {
			Value, SD  []float64
			Restricted float64
		}
		ask(t, map[string]any{"ask": "alike", "y": s.arcmin, "x": columns, "v": covariance}, &want)
		size, sd := e.last()
		what := fmt.Sprintf("%v, theta %.2g, correlation %.2g, ", e.law, e.theta, rho)
		relative(t, what+"step", size, want.Value[len(want.Value)-1], 1e-8)
		relative(t, what+"its sd", sd*math.Sqrt(e.rss/e.dof()), want.SD[len(want.SD)-1], 1e-8)
		for j := range columns { // combination gives each coefficient
			of := make([]float64, len(columns))
			of[j] = 1
			value, sd := e.basis.combination(of, e.y)
			relative(t, fmt.Sprint(what, "coefficient ", j), value, want.Value[j], 1e-7)
			relative(t, fmt.Sprint(what, "sd of coefficient ", j), sd*math.Sqrt(e.rss/e.dof()), want.SD[j], 1e-7)
		}
		constant := e.evidence() - e.prior - want.Restricted
		if i == 0 {
			first = constant
		}
		near(t, what+"evidence", constant, first, 1e-7)
	}
}

// TestConstantsAsSciPy: by integrals other than ours.
func TestConstantsAsSciPy(t *testing.T) {
	for _, n := range []int{2, 3, 5, 8, 17, 60} {
		var want struct{ D2, D3, C4 float64 }
		ask(t, map[string]any{"ask": "constants", "n": n}, &want)
		got, err := Constants(n)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprint("d2 of ", n), got.D2, want.D2, 1e-9)
		near(t, fmt.Sprint("d3 of ", n), got.D3, want.D3, 1e-7)
		near(t, fmt.Sprint("c4 of ", n), got.C4, want.C4, 1e-9)
	}
}

// TestQuantilesAsSciPy: coverage factors, and the interval of the repeatability.
func TestQuantilesAsSciPy(t *testing.T) {
	dof := []int{1, 2, 5, 16, 60, 300}
	var want struct{ T, Low, High []float64 }
	ask(t, map[string]any{"ask": "quantiles", "dof": dof}, &want)
	for i, d := range dof {
		near(t, fmt.Sprint("t of ", d), coverage95(float64(d)), want.T[i], 1e-7*want.T[i])
		low, high := sumInterval(part{1, Row{DF: d, MS: 1}})
		near(t, fmt.Sprint("lower limit for ", d), math.Sqrt(low), want.Low[i], 1e-7)
		near(t, fmt.Sprint("upper limit for ", d), math.Sqrt(high), want.High[i], 1e-7*want.High[i])
	}
}
