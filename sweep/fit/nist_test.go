package fit

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// models are the models that the files' headers state; parameters from b[0].
var models = map[string]func(x float64, b []float64) float64{
	"Bennett5": func(x float64, b []float64) float64 { return b[0] * math.Pow(b[1]+x, -1/b[2]) },
	"Chwirut1": func(x float64, b []float64) float64 { return math.Exp(-b[0]*x) / (b[1] + b[2]*x) },
	"DanWood":  func(x float64, b []float64) float64 { return b[0] * math.Pow(x, b[1]) },
	"ENSO": func(x float64, b []float64) float64 {
		cycle := func(period, c, s float64) float64 {
			sin, cos := math.Sincos(2 * math.Pi * x / period)
			return c*cos + s*sin
		}
		return b[0] + cycle(12, b[1], b[2]) + cycle(b[3], b[4], b[5]) + cycle(b[6], b[7], b[8])
	},
	"Eckerle4": func(x float64, b []float64) float64 {
		d := (x - b[2]) / b[1]
		return b[0] / b[1] * math.Exp(-0.5*d*d)
	},
	"Gauss1": gauss, "Gauss2": gauss, "Gauss3": gauss,
	"Hahn1": cubics, "Thurber": cubics,
	"Lanczos3": func(x float64, b []float64) float64 {
		return b[0]*math.Exp(-b[1]*x) + b[2]*math.Exp(-b[3]*x) + b[4]*math.Exp(-b[5]*x)
	},
	"MGH09":   func(x float64, b []float64) float64 { return b[0] * (x*x + x*b[1]) / (x*x + x*b[2] + b[3]) },
	"Misra1a": func(x float64, b []float64) float64 { return b[0] * (1 - math.Exp(-b[1]*x)) },
	"Rat43":   func(x float64, b []float64) float64 { return b[0] / math.Pow(1+math.Exp(b[1]-b[2]*x), 1/b[3]) },
	"Roszman1": func(x float64, b []float64) float64 {
		return b[0] - b[1]*x - math.Atan(b[2]/(x-b[3]))/math.Pi
	},
}

func gauss(x float64, b []float64) float64 {
	g := func(h, c, w float64) float64 { return h * math.Exp(-(x-c)*(x-c)/(w*w)) }
	return b[0]*math.Exp(-b[1]*x) + g(b[2], b[3], b[4]) + g(b[5], b[6], b[7])
}

func cubics(x float64, b []float64) float64 {
	return (b[0] + x*(b[1]+x*(b[2]+x*b[3]))) / (1 + x*(b[4]+x*(b[5]+x*b[6])))
}

// Certified values: NIST Statistical Reference Datasets, nonlinear regression,
// itl.nist.gov/div898/strd; the files in testdata/nist-strd at the project's root contain
// them in their headers. Each set is solved from both of its starts, including the far
// one.
func TestCertifiedValues(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(strdFolder, "*.dat"))
	if err != nil || len(files) != len(models) {
		t.Fatalf("%d files for %d models (%v)", len(files), len(models), err)
	}
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".dat")
		set := readStRD(t, name)
		for s, start := range set.starts {
			res, err := Solve(set.problem(models[name]), start)
			if err != nil {
				t.Errorf("%s from start %d: %v", name, s+1, err)
				continue
			}
			set.compare(t, fmt.Sprintf("%s from start %d", name, s+1), res)
		}
	}
}

// leastDigits is how many digits of the parameters, their standard deviations and the
// residual sum must agree with the certified values.
const leastDigits = 6

func (s strd) compare(t *testing.T, name string, res Result) {
	t.Helper()
	worst := [3]float64{16, 16, agreement(res.RSS, s.rss)}
	for i, want := range s.params {
		worst[0] = min(worst[0], agreement(res.Params[i], want))
		worst[1] = min(worst[1], agreement(res.SD(i)*res.Scale(), s.sds[i]))
	}
	t.Logf("%-22s digits: parameters %.1f, standard deviations %.1f, residual sum %.1f", name, worst[0], worst[1], worst[2])
	if slices.Min(worst[:]) < leastDigits {
		t.Errorf("%s: parameters %.10g, residual sum %.10g; certified %.10g, %.10g", name, res.Params, res.RSS, s.params, s.rss)
	}
}

func (s strd) problem(model func(x float64, b []float64) float64) Problem {
	return Problem{N: len(s.x), Residuals: func(dst, p []float64) {
		for i := range s.x {
			dst[i] = s.y[i] - model(s.x[i], p)
		}
	}}
}

var strdFolder = filepath.Join("..", "..", "testdata", "nist-strd")

// agreement returns the number of leading digits that two values share.
func agreement(got, want float64) float64 {
	if got == want {
		return 16
	}
	return -math.Log10(math.Abs(got-want) / math.Abs(want))
}

type strd struct {
	starts      [2][]float64
	params, sds []float64
	rss         float64
	x, y        []float64
}

// readStRD reads one data set: the table "b1 = start1 start2 value sd", the residual sum,
// then the data, response first.
func readStRD(t *testing.T, name string) strd {
	t.Helper()
	f, err := os.Open(filepath.Join(strdFolder, name+".dat"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var s strd
	inData := false
	for sc := bufio.NewScanner(f); sc.Scan(); {
		line := sc.Text()
		fields := strings.Fields(strings.Replace(line, "=", " = ", 1))
		switch {
		case len(fields) == 3 && fields[0] == "Data:" && fields[1] == "y":
			inData = true
		case inData && len(fields) == 2:
			s.y, s.x = append(s.y, number(t, fields[0])), append(s.x, number(t, fields[1]))
		case len(fields) == 6 && fields[0][0] == 'b' && fields[1] == "=":
			for i := range s.starts {
				s.starts[i] = append(s.starts[i], number(t, fields[2+i]))
			}
			s.params, s.sds = append(s.params, number(t, fields[4])), append(s.sds, number(t, fields[5]))
		case strings.HasPrefix(line, "Residual Sum of Squares:"):
			s.rss = number(t, fields[len(fields)-1])
		}
	}
	if len(s.x) == 0 || len(s.params) == 0 || s.rss == 0 {
		t.Fatalf("%s: %d data, %d parameters read", name, len(s.x), len(s.params))
	}
	return s
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
