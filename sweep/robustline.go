package sweep

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

func medianLine(ps []point) line {
	var slopes []float64
	for i, p := range ps {
		for _, q := range ps[:i] {
			if p.deg != q.deg {
				slopes = append(slopes, (p.x-q.x)/(p.deg-q.deg))
			}
		}
	}
	if len(slopes) == 0 {
		return line{}
	}
	l := line{ok: true, n: len(ps), perDeg: median(slopes)}
	degs, rest := make([]float64, len(ps)), make([]float64, len(ps))
	for i, p := range ps {
		degs[i], rest[i] = p.deg, p.x-l.perDeg*p.deg
	}
	l.at0 = median(rest)
	for i := range rest {
		rest[i] -= l.at0
	}
	l.scatter = scatter(rest)
	l.v11 = math.Pow(l.scatter/stat.StdDev(degs, nil), 2) / float64(len(ps))
	return l
}
