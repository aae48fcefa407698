package sweep

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// unlikeDecks are decks that differ from the model in one way each; the strengths are those
// of the profiles configs/benches/unlike-*.yaml.
var unlikeDecks = []struct {
	name   string
	change func(*bench.Profile)
}{
	{"as the model", func(*bench.Profile) {}},
	{"contact changes", func(p *bench.Profile) { p.Deck.ContactDBPerArcmin = 0.05 }},
	{"gap bowed", func(p *bench.Profile) { p.Deck.GapBowUM, p.Deck.SensitivityTaperPercent = 0.5, 30 }},
	{"gap bowed more", func(p *bench.Profile) { p.Deck.GapBowUM, p.Deck.SensitivityTaperPercent = 1, 55 }},
	{"cores 0.5 mm, 1.0 apart", func(p *bench.Profile) { p.Deck.CoreWidthMM, p.Deck.CoreCentresMM = 0.5, 1.0 }},
	{"wander from 0.01 Hz", func(p *bench.Profile) { p.Tape.WanderShape, p.Tape.WanderLowHz = "1/f", 0.01 }},
	{"skew of 2 Hz", func(p *bench.Profile) { p.Tape.SkewCyclicArcmin, p.Tape.SkewCyclicHz = 1, 2 }},
	{"creeps 5 % in 4 s", func(p *bench.Profile) { p.Deck.CreepPercent, p.Deck.CreepSeconds = 5, 4 }},
	{"creeps 3 % in 20 s", func(p *bench.Profile) { p.Deck.CreepPercent, p.Deck.CreepSeconds = 3, 20 }},
	{"sticks and slips", func(p *bench.Profile) { p.Screw.StickSlipDeg = 1 }},
	{"gearing changes by 3 %", func(p *bench.Profile) { p.Screw.GearingNonlinearPercent = 3 }},
	{"left channel worn, 6 dB", func(p *bench.Profile) { p.Deck.WornLeftDB = 6 }},
	// strengths on which no constant of the program was set
	{"contact changes, -0.09 dB", func(p *bench.Profile) { p.Deck.ContactDBPerArcmin = -0.09 }},
	{"contact changes, 0.03 dB", func(p *bench.Profile) { p.Deck.ContactDBPerArcmin = 0.03 }},
	{"gap bowed 0.8 um, 20 %", func(p *bench.Profile) { p.Deck.GapBowUM, p.Deck.SensitivityTaperPercent = 0.8, 20 }},
	{"cores 0.56 mm, 0.86 apart", func(p *bench.Profile) { p.Deck.CoreWidthMM, p.Deck.CoreCentresMM = 0.56, 0.86 }},
	{"all mild ones together", func(p *bench.Profile) {
		p.Tape.WanderShape, p.Tape.WanderLowHz = "1/f", 0.01
		p.Tape.SkewCyclicArcmin, p.Tape.SkewCyclicHz = 0.5, 2
		p.Deck.ContactDBPerArcmin, p.Deck.GapBowUM, p.Deck.SensitivityTaperPercent = 0.03, 0.5, 30
		p.Deck.CoreWidthMM, p.Deck.CoreCentresMM = 0.55, 0.95
		p.Deck.CreepPercent, p.Deck.CreepSeconds, p.Deck.WornLeftDB = 2, 4, 2
		p.Screw.StickSlipDeg, p.Screw.GearingNonlinearPercent = 0.3, 1.5
	}},
	{secondSource, func(p *bench.Profile) { p.Programme.Second = bench.Second{PowerPercent: 20, DelayUS: 250} }},
}

// secondSource is the row whose programme is music: a tone has no second source.
const secondSource = "second source, 250 us"

// BenchmarkAccuracyUnlike prints the accuracy of a tone on decks unlike the model: the error
// once the head is at rest, against the tilt at which the gaps lie along the recorded
// pattern. "or told" counts those within the stated 95 % or with a reported doubt; "median"
// is the median stated figure over the median error.
func BenchmarkAccuracyUnlike(b *testing.B) {
	for range b.N {
		n := tableSeeds()
		fmt.Printf("\nTone on decks unlike the model, %d seeds each:\n%-26s %6s %6s %7s %7s %7s %7s %6s %6s %6s %6s %6s %7s\n", n,
			"deck", "mean'", "rms'", "worst'", "stated", "in95", "or told", "median", "named", "over 4", "doubt", "unset", "tape s")
		for _, d := range unlikeDecks {
			c := toneCell(n)
			if d.name == secondSource {
				c = musicCell(n)
			}
			if only := os.Getenv("HEADTRUE_DECK"); !strings.Contains(d.name, only) {
				continue
			}
			c.after = unlikeAfter()
			d.change(&c.profile)
			set, unset := apart(c.table(b))
			s := summarise(set)
			var mean float64
			named, over, held := 0, 0, 0
			var offs, sds []float64
			for _, r := range set {
				mean += r.off / float64(len(set))
				doubted := r.outcome == record.Disagree || r.agreement == "differ"
				if doubted {
					named++
				}
				if doubted || math.Abs(r.off) <= 1.96*r.sd {
					held++
				}
				offs, sds = append(offs, math.Abs(r.off)), append(sds, r.sd)
				if math.Abs(r.off) > 4*r.sd && !doubted {
					over++
				}
			}
			fmt.Printf("%-26s %+6.2f %6.2f %7.2f %7.2f %6.1f%% %6.1f%% %6.2f %6d %6d %6d %6d %7.1f\n", d.name, mean, s.rms, s.worst, s.sd,
				100*float64(s.covered)/float64(s.n), 100*float64(held)/float64(s.n), estimate.Median(sds)/estimate.Median(offs), named, over, s.doubted, len(unset), s.tape)
			for _, r := range unset {
				fmt.Println("    " + r.String())
			}
		}
	}
}

// unlikeAfter is the seed before the first of the table: 30000, unless HEADTRUE_AFTER is
// set.
func unlikeAfter() uint64 {
	if n, err := strconv.ParseUint(os.Getenv("HEADTRUE_AFTER"), 10, 64); err == nil {
		return n
	}
	return 30000
}
