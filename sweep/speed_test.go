package sweep

import (
	"context"
	"math"
	"testing"

	"headtrue/dsp/speed"
	"headtrue/sweep/bench"
)

// What the bench is given comes out of its sound: the speed error within 0.03 %, and
// wow and flutter (weighted rms) within 10 % for each seed, 5 % for their mean. As the
// bench's deviation is normal, weighted peak flutter is 1.96 times the rms. Hiss, the tape's
// wander (3' rms), drop-outs and varying contact do not count.
func TestSpeedOfTheBenchComesOut(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ toneHz, speedPercent, flutterPercent float64 }{{3150, 0.3, 0.1}, {10000, -1.7, 0.04}} {
		seeds, sum := uint64(4), 0.0
		for seed := range seeds {
			p := bench.Default()
			p.Programme = bench.Tones(-14, test.toneHz)
			p.Deck.SpeedErrorPercent, p.Deck.WowFlutterPercent = test.speedPercent, test.flutterPercent
			p.Deck.StartTiltArcmin, p.Deck.StartTiltRangeArcmin = 5, 0
			p.Tape.WanderRMSArcmin, p.Tape.DropoutsPerSecond = 3, 0.3
			b, err := bench.New(p, seed, nil)
			if err != nil {
				t.Fatal(err)
			}
			m := speed.New(speed.Settings{RateHz: b.Rate(), NominalHz: test.toneHz})
			for frames := 0; frames < 25*b.Rate(); {
				block, err := b.Next(context.Background())
				if err != nil {
					t.Fatal(err)
				}
				frames += block.Frames()
				m.Add(block)
			}
			b.Close()
			r := m.Result()
			if r.SpeedPercent == nil || r.Flutter == nil {
				t.Fatalf("%v Hz, seed %d: %+v", test.toneHz, seed, r)
			}
			t.Logf("%v Hz, seed %d: speed %+.4f +- %.4f %%, flutter %.4f weighted peak, %.4f weighted rms, %.4f rms, %d drop-outs, %.1f s",
				test.toneHz, seed, r.SpeedPercent.Value, r.SpeedPercent.SD, r.Flutter.WeightedPeak, r.Flutter.WeightedRMS, r.Flutter.RMS, r.Dropouts, r.FlutterSeconds)
			if off := math.Abs(r.SpeedPercent.Value - test.speedPercent); off > 0.03 || off > 4*r.SpeedPercent.SD {
				t.Errorf("speed %.4f +- %.4f %%, the bench has %v", r.SpeedPercent.Value, r.SpeedPercent.SD, test.speedPercent)
			}
			if ratio := r.Flutter.WeightedRMS / test.flutterPercent; math.Abs(ratio-1) > 0.1 {
				t.Errorf("weighted rms %.4f %%, the bench has %v", r.Flutter.WeightedRMS, test.flutterPercent)
			}
			if ratio := r.Flutter.WeightedPeak / r.Flutter.WeightedRMS; math.Abs(ratio/1.96-1) > 0.07 {
				t.Errorf("weighted peak %.3f times the rms", ratio)
			}
			sum += r.Flutter.WeightedRMS / test.flutterPercent / float64(seeds)
		}
		if math.Abs(sum-1) > 0.05 {
			t.Errorf("weighted rms is %.3f times that of the bench", sum)
		}
	}
}
