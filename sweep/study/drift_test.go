package study

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// strdSet is a certified set: two parameters with standard deviations, residual sum of
// squares, data.
type strdSet struct {
	value, sd [2]float64
	rss       float64
	points    []Point
}

func readStRD(t *testing.T, name string) strdSet {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "nist-strd", name+".dat"))
	if err != nil {
		t.Fatal(err)
	}
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	var set strdSet
	lines := strings.Split(strings.ReplaceAll(string(text), "\r", ""), "\n")
	for _, line := range lines[40:42] {
		fields := strings.Fields(line) // b1 = start start value sd
		i := int(fields[0][1] - '1')
		set.value[i], set.sd[i] = number(fields[4]), number(fields[5])
	}
	set.rss = number(regexp.MustCompile(`Residual Sum of Squares:\s+(\S+)`).FindStringSubmatch(string(text))[1])
	for _, line := range lines[60:] {
		if fields := strings.Fields(line); len(fields) == 2 {
			set.points = append(set.points, Point{Arcmin: number(fields[0]), Days: number(fields[1])})
		}
	}
	return set
}

// TestCertifiedSets: NIST StRD. Misra1a is b1 (1 - exp(-b2 x)), settling with tau =
// 1/b2; DanWood is b1 x^b2, creep by a power. Both without offset.
func TestCertifiedSets(t *testing.T) {
	digits := func(what string, got, want float64) {
		t.Helper()
		near(t, what, got, want, 1e-8*math.Abs(want))
	}
	for _, test := range []struct {
		name string
		law  Law
	}{{"Misra1a", Settling}, {"DanWood", PowerLaw}} {
		set := readStRD(t, test.name)
		got, err := FitDrift(set.points, Model{Law: test.law, OffsetArcmin: new(float64)})
		if err != nil {
			t.Fatal(err)
		}
		second, sd := got.Params[1].Value, got.Params[1].SD
		if test.law == Settling {
			second, sd = 1/second, sd/(second*second)
		}
		digits(test.name+" b1", got.Params[0].Value, set.value[0])
		digits(test.name+" b2", second, set.value[1])
		digits(test.name+" sd of b1", got.Params[0].SD, set.sd[0])
		digits(test.name+" sd of b2", sd, set.sd[1])
		digits(test.name+" residual sum", got.ChiSquared, set.rss)
	}
}

// truth is a simulated head: a law with known parameters.
type truth struct {
	law         Law
	a, b, theta float64
}

func (h truth) at(days float64) float64 {
	if h.law == Constant {
		return h.a
	}
	return h.a + h.b*curves[h.law].shape(days, h.theta)
}

// proofs reads the head at n uneven times within this many days, each with its own stated
// standard deviation; the errors are scatter times that.
func (h truth) proofs(rng *rand.Rand, n int, days, scatter float64) []Point {
	points := make([]Point, n)
	for i := range points {
		sd := 0.1 + 0.1*rng.Float64()
		t := days * (float64(i) + rng.Float64()) / float64(n)
		points[i] = Point{Days: t, Arcmin: h.at(t) + scatter*sd*rng.NormFloat64(), SDArcmin: sd}
	}
	rng.Shuffle(n, func(i, j int) { points[i], points[j] = points[j], points[i] })
	return points
}

// TestTruthIsFound: without noise the fit of each law returns its parameters, temperature
// and cycles included, and the forecast is the law.
func TestTruthIsFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1))
	for _, head := range []truth{{Constant, 2, 0, 0}, {Creep, 2, -0.03, 0}, {Settling, 2, 1.5, 12}, {PowerLaw, -1, 0.4, 0.35}} {
		points := head.proofs(rng, 25, 90, 0)
		for i := range points {
			c, n := 18+8*rng.Float64(), math.Floor(3*points[i].Days)
			points[i].TemperatureC, points[i].Cycles = &c, &n
			points[i].Arcmin += 0.05*(c-20) + 0.002*n
		}
		got, err := FitDrift(points, Model{Law: head.law, Temperature: true, Cycles: true})
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []struct {
			name  string
			value float64
			has   bool
		}{{"b", head.b, head.law != Constant}, {"tau", head.theta, head.law == Settling}, {"n", head.theta, head.law == PowerLaw}, {"temperature", 0.05, true}, {"cycles", 0.002, true}} {
			p, has := got.Value(want.name)
			if has != want.has {
				t.Errorf("%s: parameter %s: %v", head.law, want.name, has)
			}
			if has {
				near(t, head.law.String()+" "+want.name, p.Value, want.value, 1e-7*math.Max(1, math.Abs(want.value)))
			}
		}

	}
}

// TestDoubtIsSaid: a time constant of 60 days from the first 50.
func TestDoubtIsSaid(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 1))
	for _, days := range []float64{50, 300} {
		doubtful := days == 50
		got, err := FitDrift(truth{Settling, 0, 3, 60}.proofs(rng, 40, days, 2), Model{Law: Settling})
		if err != nil {
			t.Fatal(err)
		}
		if said := strings.Contains(got.Say(), "hardly determined"); said != doubtful {
			t.Errorf("%v days: %s", days, got.Say())
		}
	}
}

func TestDriftRefuses(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	good := truth{Creep, 2, -0.02, 0}.proofs(rng, 12, 60, 1)
	changed := func(change func(*Point)) []Point {
		points := append([]Point(nil), good...)
		change(&points[4])
		return points
	}
	warm := 21.0
	steady := append([]Point(nil), good...)
	for i := range steady {
		steady[i].TemperatureC = &warm
	}
	flat, line, upwards, close, steep := make([]Point, 12), make([]Point, 12), make([]Point, 12), make([]Point, 12), make([]Point, 12)
	for i := range line {
		flat[i] = Point{Days: float64(i), Arcmin: 3, SDArcmin: 1}
		line[i] = Point{Days: float64(i), Arcmin: float64(i), SDArcmin: 1}
		upwards[i] = Point{Days: float64(i), Arcmin: float64(i * i), SDArcmin: 1}
		steep[i] = Point{Days: float64(i), Arcmin: math.Pow(float64(i), 10), SDArcmin: 1}
		close[i] = Point{Days: 1 + 1e-12*float64(i), Arcmin: float64(i), SDArcmin: 1}
	}
	for _, test := range []struct {
		name         string
		points       []Point
		model        Model
		undetermined bool
	}{
		{"nothing", nil, Model{}, true},
		{"too few", good[:4], Model{Law: Creep}, true},
		{"not a number", changed(func(p *Point) { p.Arcmin = math.NaN() }), Model{}, false},
		{"a time without end", changed(func(p *Point) { p.Days = math.Inf(1) }), Model{}, false},
		{"some without sd", changed(func(p *Point) { p.SDArcmin = 0 }), Model{}, false},
		{"a negative sd", changed(func(p *Point) { p.SDArcmin = -1 }), Model{}, false},
		{"before day zero", changed(func(p *Point) { p.Days = -1 }), Model{Law: Settling}, false},
		{"no temperature", good, Model{Temperature: true}, false},
		{"a steady temperature", steady, Model{Temperature: true}, true},
		{"nothing to fit", good, Model{OffsetArcmin: &warm}, false},
		{"no such law", good, Model{Law: 9}, false},
		{"all at once", []Point{{1, 1, 1, nil, nil}, {1, 2, 1, nil, nil}, {1, 2, 1, nil, nil}, {1, 1, 1, nil, nil}, {1, 2, 1, nil, nil}}, Model{Law: Creep}, true},
		{"nearly all at once", close, Model{Law: Creep}, true},
		{"ever faster", upwards, Model{Law: Settling}, true},
		{"faster than an eighth power", steep, Model{Law: PowerLaw}, true},
		{"nothing moves", flat, Model{Law: Settling}, true},
		{"nothing settles", line, Model{Law: Settling}, true},
	} {
		got, err := FitDrift(test.points, test.model)
		if err == nil || errors.Is(err, ErrUndetermined) != test.undetermined {
			t.Errorf("%s: error %v, %+v", test.name, err, got.Params)
		}
	}
}

// TestNearlyAlikeColumns: columns that differ only by rounding are refused.
func TestNearlyAlikeColumns(t *testing.T) {
	alike := columns{{1, 1, 1, 1}, {1, 1 + 1e-10, 1 + 2e-10, 1 - 1e-10}}
	if got, _, err := alike.solve([]float64{1, 2, 3, 4}, []float64{1, 1, 1, 1}); !errors.Is(err, ErrUndetermined) {
		t.Errorf("coefficients %v, error %v", got, err)
	}
}
