//go:build outside

package exchange

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
)

// Apache Arrow's own reader of Parquet finds, cell by cell, the content of the CSV file.
func TestArrowReadsTheParquetFile(t *testing.T) {
	runs, entries := entriesOfAllKinds()
	parquet, err := filepath.Abs(writeFile(t, Parquet, runs, entries))
	if err != nil {
		t.Fatal(err)
	}
	reader := exec.Command("go", "run", ".", parquet)
	reader.Dir = "testdata/arrowreader"
	reader.Env = append(os.Environ(), "GOFLAGS=") // its module is one of its own
	reader.Stderr = os.Stderr
	said, err := reader.Output()
	if err != nil {
		t.Fatal(err)
	}
	file, err := os.Open(writeFile(t, CSV, runs, entries))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	seen := json.NewDecoder(bytes.NewReader(said))
	seen.UseNumber()
	cells := 0
	for i, row := range rows[1:] {
		var got map[string]any
		if err := seen.Decode(&got); err != nil {
			t.Fatalf("row %d: %v", i, err)
		}
		for c, want := range row {
			name := rows[0][c]
			if want == "" {
				if got[name] != nil {
					t.Fatalf("row %d, %s: Arrow sees %v, want nothing", i, name, got[name])
				}
				continue
			}
			cells++
			if text := fmt.Sprint(got[name]); text != want && !sameNumber(text, want) {
				t.Fatalf("row %d, %s: Arrow sees %q, want %q", i, name, text, want)
			}
		}
	}
	if seen.More() || cells < 1000 {
		t.Errorf("%d cells compared, more rows: %v", cells, seen.More())
	}
}

// sameNumber reports whether two texts are exactly the same number.
func sameNumber(a, b string) bool {
	x, err1 := strconv.ParseFloat(a, 64)
	y, err2 := strconv.ParseFloat(b, 64)
	return err1 == nil && err2 == nil && x == y
}
