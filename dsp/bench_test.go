package dsp

import (
	"testing"

	"headtrue/dsp/audio"
)

// The last column is how many times faster than the sound itself a meter is.
func benchmarkMeter(b *testing.B, toneHz float64) {
	r := random(1)
	left, right := programme(r, 96000, true), programme(r, 96000, true)
	m := NewMeter(testRate, toneHz)
	b.ReportAllocs()
	at := 0
	for b.Loop() {
		m.Add(audio.Block{Start: m.next, Left: left[at : at+1024], Right: right[at : at+1024]})
		at = (at + 1024) % 90000
	}
	b.ReportMetric(float64(b.N)*1024/testRate/b.Elapsed().Seconds(), "x_realtime")
}

func BenchmarkProgrammeMeter(b *testing.B) { benchmarkMeter(b, 0) }
func BenchmarkToneMeter(b *testing.B)      { benchmarkMeter(b, 10000) }

func BenchmarkReading(b *testing.B) {
	r := random(1)
	x := programme(r, 96000, true)
	m := NewMeter(testRate, 0)
	feed(m, 0, x, x)
	for b.Loop() {
		m.Reading()
	}
}
