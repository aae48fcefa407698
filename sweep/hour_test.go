package sweep

import (
	"context"
	"fmt"
	"runtime"
	"testing"

	"headtrue/dsp"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

// BenchmarkHour listens to an hour of the virtual bench, programme and tone, in stretches of
// a second like a run, and prints the live heap from time to time.
func BenchmarkHour(b *testing.B) {
	for range b.N {
		fmt.Printf("\n%-10s %8s %12s\n", "sound", "minutes", "live heap MB")
		for _, hz := range []float64{0, 10000} {
			hour(b, hz)
		}
	}
}

func hour(b *testing.B, toneHz float64) {
	p := bench.Default()
	if toneHz > 0 {
		p = toneBench()
	}
	deck, err := bench.New(p, 1, virtual.New(p.Jig()))
	if err != nil {
		b.Fatal(err)
	}
	defer deck.Close()
	m := dsp.NewMeter(deck.Rate(), toneHz)
	name := map[bool]string{true: "tone", false: "programme"}[toneHz > 0]
	for second := 1; second <= 3600; second++ {
		for got := 0; got < deck.Rate(); {
			blk, err := deck.Next(context.Background())
			if err != nil {
				b.Fatal(err)
			}
			m.Add(blk)
			got += blk.Frames()
		}
		m.Reading()
		m.Reset()
		if second == 60 || second%1200 == 0 {
			var mem runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&mem)
			fmt.Printf("%-10s %8d %12.2f\n", name, second/60, float64(mem.HeapAlloc)/1e6)
		}
	}
}
