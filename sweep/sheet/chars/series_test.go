package chars

import (
	"strings"
	"testing"
)

func TestASeriesIsDrawnWhereItsValuesAre(t *testing.T) {
	s := Series{X: []float64{0, 1, 10}, Y: []float64{-1, 0, 1}, Marked: []bool{false, false, true},
		Levels: []Level{{"mid", 0}}, Events: []float64{5}}
	rows := strings.Split(strings.TrimRight(s.Text(), "\n"), "\n")
	if len(rows) != seriesRows {
		t.Fatalf("%d rows, want %d", len(rows), seriesRows)
	}
	const border = 14 // the scale and the border before the points
	top, middle, bottom := rows[0], rows[seriesRows/2], rows[seriesRows-1]
	if len(top) != border+seriesColumns || !strings.HasSuffix(top, "X") || !strings.HasPrefix(top, "           1 |") {
		t.Errorf("the last and highest point is not at the upper right: %q", top)
	}
	if bottom[border] != 'o' || !strings.HasPrefix(bottom, "          -1 |") {
		t.Errorf("the first and lowest point is not at the lower left: %q", bottom)
	}
	if strings.Index(middle, "o") != border+7 || !strings.HasPrefix(middle, "       mid 0 |-") {
		t.Errorf("the second point is not a tenth of the way along the level: %q", middle)
	}
	if event := strings.LastIndex(rows[1], "|"); event != border+33 {
		t.Errorf("the event stands in column %d, want %d, half way: %q", event, border+33, rows[1])
	}
}
