package edges

import (
	"math"
	"testing"
)

func TestEdgesMissing(t *testing.T) {
	s := []Sample{{0, -1, .1}, {5, -2, .1}, {10, -4, .1}, {15, -9, .1}}
	e := Find(s, 6, false)
	if e.LowOK || !e.HighOK || math.Abs(e.High-13) > 1e-9 || e.Missing() == "" {
		t.Errorf("edges %+v, missing %q", e, e.Missing())
	}
}
