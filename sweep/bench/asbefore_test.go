package bench

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"hash"
	"math"
	"runtime"
	"testing"
)

// old are profiles that use none of the options of other decks.
func old() map[string]Profile {
	tone, busy, second, skewed := Default(), Default(), Default(), still(7, 1000, 10000)
	tone.Programme = Tones(-10, 10000)
	busy.Tape.ThicknessUM, busy.Tape.DropoutsPerSecond, busy.Tape.WanderShape = 3, 5, "1/f"
	busy.Tape.TiltArcmin, busy.Tape.TiltRangeArcmin, busy.Deck.StartTiltRangeArcmin = 3, 30, 60
	busy.Deck.ChannelDelayRangeUS, busy.Deck.BalanceDBPerTurn, busy.Screw.GearingRangePercent = 5, 2, 20
	busy.Screw.SettleTurnsScrew, busy.Screw.ReseatDeg, busy.Screw.Reversed = true, 3, true
	busy.Programme.MusicSeconds = 4
	second.Programme.MusicSeconds, second.Programme.Second = 4, Second{PowerPercent: 20, DelayUS: 150}
	skewed.Deck.GapSkewArcmin, skewed.Tape.SpacingFlutterDB, skewed.Tape.WanderRMSArcmin = 4, 0.3, 1
	return map[string]Profile{"default": Default(), "tone": tone, "busy": busy, "second": second, "skewed": skewed}
}

// The sound of profiles without these options is, bit for bit, the sound before the
// options existed: hashes taken at commit 8219c40, amd64.
func TestWithoutOptionsTheSoundIsAsBefore(t *testing.T) {
	if runtime.GOARCH != "amd64" || fuses(0.1, 10) {
		t.Fatal("this machine rounds otherwise than the one that the hashes are of: run this test on amd64")
	}
	want := map[string][2]string{
		"default": {"ab490bc764a6c645", "8df13fe2be81e2b6"},
		"tone":    {"a55bd00c9f34497a", "b6658512e5d05703"},
		"busy":    {"b51b9453b93d39c5", "89701b0501e02cc4"},
		"second":  {"3a6e9b7f75160819", "108f196542ce5e3e"},
		"skewed":  {"c7a4e458f850b855", "a6566a2c0d034590"},
	}
	for name, p := range old() {
		for i := range 2 {
			if got := soundHash(t, p, uint64(3+i)); got != want[name][i] {
				t.Errorf("%s, seed %d: the sound is %s, was %s", name, 3+i, got, want[name][i])
			}
		}
	}
}

// fuses reports whether products and sums are rounded once: 0.1*10 is then exactly 1.
//
//go:noinline
func fuses(a, b float64) bool { return a*b-1 != 0 }

// soundHash returns the start of the hash of some seconds in which the blade is seated,
// turned forward and back, withdrawn and seated again.
func soundHash(t *testing.T, p Profile, seed uint64) string {
	t.Helper()
	b, h := withHand(t, p, seed)
	sum := sha256.New()
	add := func(seconds float64) {
		l, r := listen(t, b, seconds)
		addSound(sum, l)
		addSound(sum, r)
	}
	add(0.2)
	for range 2 {
		h.energised = true
		add(0.5)
		for _, to := range []float64{30, -20, 5} {
			for h.deg != to {
				h.deg += math.Max(-2, math.Min(2, to-h.deg))
				add(0.001)
			}
			add(0.05)
		}
		h.energised = false
		add(0.5)
	}
	return hex.EncodeToString(sum.Sum(nil)[:8])
}

func addSound(sum hash.Hash, x []float64) {
	bytes := make([]byte, 8*len(x))
	for i, v := range x {
		binary.LittleEndian.PutUint64(bytes[8*i:], math.Float64bits(v))
	}
	sum.Write(bytes)
}
