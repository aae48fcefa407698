package fit

import (
	"bufio"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// Certified values: NIST Statistical Reference Datasets, nonlinear regression,
// itl.nist.gov/div898/strd; the files in testdata/nist-strd at the project's
// root, which also carry them in their headers.
func TestCertifiedValues(t *testing.T) {
	models := map[string]func(x float64, b []float64) float64{
		"Eckerle4": func(x float64, b []float64) float64 {
			d := (x - b[2]) / b[1]
			return b[0] / b[1] * math.Exp(-0.5*d*d)
		},
		"Gauss1": gauss, "Gauss2": gauss, "Gauss3": gauss,
		"Misra1a": func(x float64, b []float64) float64 { return b[0] * (1 - math.Exp(-b[1]*x)) },
	}
	for name, model := range models {
		set := readStRD(t, name)
		for s, start := range set.starts {
			res, err := Solve(Problem{N: len(set.x), Residuals: func(dst, p []float64) {
				for i := range set.x {
					dst[i] = set.y[i] - model(set.x[i], p)
				}
			}}, start)
			if err != nil {
				t.Errorf("%s from start %d: %v", name, s+1, err)
				continue
			}
			for i, want := range set.params {
				if digits := agreement(res.Params[i], want); digits < 6 {
					t.Errorf("%s from start %d: parameter %d is %.10g, certified %.10g (%.1f digits)", name, s+1, i+1, res.Params[i], want, digits)
				}
				if sd := res.SD(i) * res.Scale(); agreement(sd, set.sds[i]) < 5 {
					t.Errorf("%s from start %d: sd of parameter %d is %.10g, certified %.10g", name, s+1, i+1, sd, set.sds[i])
				}
			}
			if agreement(res.RSS, set.rss) < 6 {
				t.Errorf("%s from start %d: residual sum %.10g, certified %.10g", name, s+1, res.RSS, set.rss)
			}
		}
	}
}

func gauss(x float64, b []float64) float64 {
	g := func(h, c, w float64) float64 { return h * math.Exp(-(x-c)*(x-c)/(w*w)) }
	return b[0]*math.Exp(-b[1]*x) + g(b[2], b[3], b[4]) + g(b[5], b[6], b[7])
}

// agreement is the number of leading digits two values share.
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

// readStRD reads one data set: the table "b1 = start1 start2 value sd", the
// residual sum, then the data, response first.
func readStRD(t *testing.T, name string) strd {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "nist-strd", name+".dat"))
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
