package sweep

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"headtrue/sweep/bench"
	"headtrue/sweep/record"
)

// driveErrors are the errors of a run's values for the drive, against the bench's truth, and
// the stated uncertainties.
type driveErrors struct {
	gearingPercent, gearingSDPercent float64
	backlashDeg, backlashSDDeg       float64
	fitArcmin, fitSDArcmin           float64
}

func driveErrorsOf(d *record.Decision, truth bench.Truth) driveErrors {
	g := truth.GearingArcminPerTurn
	zero := truth.ShaftDeg - truth.ErrorArcmin/g*360
	return driveErrors{
		gearingPercent: 100 * (d.GearingArcminPerTurn - g) / g, gearingSDPercent: 100 * d.GearingSDArcminPerTurn / math.Abs(g),
		backlashDeg: d.BacklashDeg - truth.BacklashDeg, backlashSDDeg: d.BacklashSDDeg,
		fitArcmin: (d.Fitted.Deg - zero) * g / 360, fitSDArcmin: d.Fitted.SDArcmin,
	}
}

// latenesses of a bench, named for the table.
var latenesses = []struct {
	name string
	late bench.Late
}{
	{"punctual", bench.Late{}},
	{"late sound", bench.Late{HeldPercent: 2, HeldMillis: 60, HeldMostMillis: 180}},
	{"45 ms replies", bench.Late{ReplyMillis: 30, ReplyJitterMillis: 15, FirstStepMillis: 100}},
	{"300 ppm", bench.Late{ClockPPM: 300}},
	{"-300 ppm", bench.Late{ClockPPM: -300}},
	{"0.1 % wrong bytes", bench.Late{WrongBytesPercent: 0.1}},
	{"all of these", bench.UsualLate()},
	{"1 % wrong bytes", bench.Late{WrongBytesPercent: 1}},
}

// lateSummary summarises the runs of a row: rms of the error, and rms of error over stated.
type lateSummary struct{ gearing, gearingOver, backlash, backlashOver, fit, fitOver float64 }

func lateSummaryOf(rs []result) lateSummary {
	var s lateSummary
	n := float64(len(rs))
	for _, r := range rs {
		d := r.drive
		s.gearing += square(d.gearingPercent) / n
		s.gearingOver += square(d.gearingPercent/d.gearingSDPercent) / n
		s.backlash += square(d.backlashDeg) / n
		s.fit += square(d.fitArcmin) / n
		s.fitOver += square(d.fitArcmin/d.fitSDArcmin) / n
		if d.backlashSDDeg > 0 {
			s.backlashOver += square(d.backlashDeg/d.backlashSDDeg) / n
		}
	}
	for _, v := range []*float64{&s.gearing, &s.gearingOver, &s.backlash, &s.backlashOver, &s.fit, &s.fitOver} {
		*v = math.Sqrt(*v)
	}
	return s
}

// BenchmarkAccuracyLate prints the tone's row for each lateness of the bench, on the same
// seeds; HEADTRUE_CELLS selects rows by name.
func BenchmarkAccuracyLate(b *testing.B) {
	for range b.N {
		n := tableSeeds()
		fmt.Printf("\nTone on late benches, %d seeds each; error over stated in brackets:\n%-18s %6s %15s %6s %6s %6s %14s %16s %14s %6s %5s %5s %6s\n", n,
			"bench", "rms'", "95 %", "worst'", "stated", "in95", "gearing %", "backlash deg", "fit'", "lobe", "doubt", "unset", "tape s")
		for _, l := range latenesses {
			if only := os.Getenv("HEADTRUE_CELLS"); only != "" && !strings.Contains(l.name, only) {
				continue
			}
			c := toneCell(n).channelDelay(10, 5.8)
			c.after = 9000
			c.profile.Late = l.late
			set, unset := apart(c.table(b))
			s, d := summarise(set), lateSummaryOf(set)
			lo, hi := rmsInterval(s.rms, s.n)
			fmt.Printf("%-18s %6.2f %15s %6.2f %6.2f %5.1f%% %6.2f (%5.2f) %7.2f (%6.2f) %6.2f (%5.2f) %6d %5d %5d %6.1f\n", l.name, s.rms, fmt.Sprintf("[%.3f, %.3f]", lo, hi), s.worst, s.sd,
				100*float64(s.covered)/float64(s.n), d.gearing, d.gearingOver, d.backlash, d.backlashOver, d.fit, d.fitOver, s.wrongLobe, s.doubted, len(unset), s.tape)
			for _, r := range append(unset, astray(set)...) {
				fmt.Println("    " + r.String())
			}
		}
	}
}
