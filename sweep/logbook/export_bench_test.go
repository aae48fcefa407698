package logbook

import (
	"context"
	"fmt"
	"io"
	"runtime"
	"testing"
	"time"

	"headtrue/sweep/logbook/exchange"
)

// BenchmarkExport prints, for each format, the speed of the export and its greatest
// memory, for few and for ten times as many runs: a stream needs the same.
func BenchmarkExport(b *testing.B) {
	p := place{where: b.TempDir()}
	book := p.open(b)
	const many = 10000
	fill(b, book, many)
	for range b.N {
		fmt.Printf("\n%-10s %8s %10s %14s\n", "format", "runs", "runs/s", "most heap, MB")
		for _, f := range []exchange.Format{exchange.JSONLines, exchange.CSV, exchange.Parquet} {
			for _, runs := range []int{many / 10, many} {
				began := time.Now()
				most, err := exportInto(io.Discard, book, f, runs)
				if err != nil {
					b.Fatal(err)
				}
				fmt.Printf("%-10s %8d %10.0f %14.1f\n", f, runs, float64(runs)/time.Since(began).Seconds(), most/1e6)
			}
		}
	}
}

// exportInto exports a number of runs and returns the greatest heap in use after a
// collection, bytes, sampled from time to time.
func exportInto(to io.Writer, book *Book, f exchange.Format, runs int) (most float64, err error) {
	w, err := exchange.NewWriter(to, f)
	if err != nil {
		return 0, err
	}
	done := 0
	for rec, err := range book.Records(context.Background(), Filter{OldestFirst: true, Limit: runs}) {
		if err != nil {
			return 0, err
		}
		for n, e := range rec.Entries {
			if err := w.Write(rec.Run, n, e); err != nil {
				return 0, err
			}
		}
		if done++; done%250 == 0 {
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			most = max(most, float64(m.HeapAlloc))
		}
	}
	return most, w.Close()
}
