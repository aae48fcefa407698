package dsp

import (
	"math"
	"testing"
	"time"
)

// The last column is how many times faster than real time a meter is, in the fastest of
// all pieces of 2 s, so that other work of the machine does not count.
func benchmarkMeter(b *testing.B, toneHz float64, others ...float64) {
	const seconds = 2
	r := random(1)
	left, right := programme(r, seconds*testRate, true), programme(r, seconds*testRate, true)
	m := NewMeter(testRate, toneHz, others...)
	fastest := time.Duration(math.MaxInt64)
	b.ReportAllocs()
	for b.Loop() {
		start := time.Now()
		feed(m, int(m.next), left, right)
		fastest = min(fastest, time.Since(start))
	}
	b.ReportMetric(seconds/fastest.Seconds(), "x_realtime")
}

func BenchmarkProgrammeMeter(b *testing.B) { benchmarkMeter(b, 0) }
func BenchmarkToneMeter(b *testing.B)      { benchmarkMeter(b, 10000) }
func BenchmarkFourTonesMeter(b *testing.B) { benchmarkMeter(b, 10000, 1000, 6300, 12500) }

func BenchmarkReading(b *testing.B) {
	r := random(1)
	x := programme(r, 96000, true)
	m := NewMeter(testRate, 0)
	feed(m, 0, x, x)
	for b.Loop() {
		m.Reading()
	}
}
