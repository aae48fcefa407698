package bench

import (
	"context"
	"testing"

	"headtrue/jig/virtual"
)

// BenchmarkNext reports how many times faster than real time both channels of the default
// deck are made, jig included.
func BenchmarkNext(b *testing.B) {
	p := Default()
	p.Programme.MusicSeconds = 30
	bench, err := New(p, 1, virtual.New(p.Jig()))
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for range b.N {
		if _, err := bench.Next(context.Background()); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)*blockFrames/Rate/b.Elapsed().Seconds(), "times-real-time")
}

// BenchmarkNew reports the cost of a new bench.
func BenchmarkNew(b *testing.B) {
	for _, kind := range []string{"music", "tones"} {
		b.Run(kind, func(b *testing.B) {
			p := Default()
			if kind == "tones" {
				p.Programme = Tones(-20, 10000)
			}
			for range b.N {
				if _, err := New(p, 1, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
