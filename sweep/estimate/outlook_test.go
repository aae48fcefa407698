package estimate

import (
	"math"
	"testing"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

func heard() record.Reading {
	return record.Reading{Usable: true, Seconds: 3, Coherence: 0.9, TrebleSDDB: 1, DelaySDUS: 0.5, DelayNoiseSDUS: 0.4, TiltArcmin: 5}
}

// If the level carries no information, the outlook is that of a mean of n delays together
// with the fixed delay: c^2 + (d^2+w^2)/n.
func TestOutlookOfTheDelayAlone(t *testing.T) {
	p := NewTask(Plan{ChannelDelaySDUS: 0.5, SettleSeconds: 0.25}, 1)
	r := heard()
	r.TrebleSDDB = 300
	const n = 12 // stays of 0.8 s, each with a turn of 0.6 s and 0.25 s to settle, in 20 s
	d := tape.StereoCassette.Arcmin(0.4) * math.Sqrt(3/ChopSeconds)
	want := math.Sqrt(math.Pow(tape.StereoCassette.Arcmin(0.5), 2) + (d*d+wanderFloor*wanderFloor)/n)
	if got := p.Outlook(r, 20); math.Abs(got-want) > 1e-3*want {
		t.Errorf("outlook %.4f', want %.4f'", got, want)
	}
}

func TestOutlookFollowsThePassage(t *testing.T) {
	p := NewTask(Plan{ChannelDelaySDUS: 50}, 1) // so that the treble is needed
	at := func(change func(*record.Reading)) float64 {
		r := heard()
		change(&r)
		return p.Outlook(r, 20)
	}
	usual := at(func(*record.Reading) {})
	if livelier := at(func(r *record.Reading) { r.TrebleSDDB *= 3 }); livelier < 1.2*usual {
		t.Errorf("with a livelier treble %.2f', with the usual %.2f'", livelier, usual)
	}
	if hissing := at(func(r *record.Reading) { r.Coherence = 0.3 }); hissing < 1.1*usual {
		t.Errorf("in hiss %.2f', without %.2f'", hissing, usual)
	}
	if longer := p.Outlook(heard(), 80); longer > 0.6*usual || longer < 0.4*usual {
		t.Errorf("in four times the tape %.2f', want about half of %.2f'", longer, usual)
	}
	if none := at(func(r *record.Reading) { r.DelaySDUS = 1e6 }); !math.IsInf(none, 1) {
		t.Errorf("without a delay %.2f', want none", none)
	}
}

// A passage with a constant treble needs only the least number of stays: one pass and the
// missed edge, or in a mix also a pass on the flanks.
func TestTheLeastTapeOfARun(t *testing.T) {
	steady := heard()
	steady.TrebleSDDB = 0.01
	for mixed, stays := range map[bool]float64{false: 7, true: 10} {
		p := NewTask(Plan{ProofSeconds: 2, SettleSeconds: 0.2, WithinArcmin: 3}, 1)
		p.ByTreble = mixed
		// stays of 0.8 s, turns of 0.6 s, 0.2 s to settle; three proofs and the approach
		if want, got := 3*2+3.5+stays*1.6, p.TapeOutlook(steady); math.Abs(got-want) > 1e-6 {
			t.Errorf("mixed %v: %.1f s, want %.1f s", mixed, got, want)
		}
	}
}
