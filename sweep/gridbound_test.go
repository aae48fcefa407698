package sweep

import (
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"headtrue/dsp"
	benchgrid "headtrue/sweep/bench/grid"
	"headtrue/sweep/bound"
	"headtrue/sweep/tape"
)

// lively describes how a piece's treble varies against its middle by itself, and how similar
// its channels are: figures that testdata/README.md prints.
type lively struct {
	secondDB     float64 // rms of means over 1 s
	fluctuations []bound.Fluctuation
	coherence    float64
}

// pieces are those of the grid and of the held-out cells. They have one time constant,
// unless two are evident (a gain above 6); white noise in cells of 50 ms decays within half
// of one.
var pieces = map[string]lively{
	"piece":       {3.1, []bound.Fluctuation{{RMSDB: 4.4, Seconds: 0.025}, {RMSDB: 4.0, Seconds: 0.53}}, 0.67},
	"rendered-1":  {2.6, []bound.Fluctuation{{RMSDB: 7.2, Seconds: 0.11}}, 0.60},
	"rendered-3":  {1.7, []bound.Fluctuation{{RMSDB: 4.4, Seconds: 0.17}}, 0.55},
	"recording":   {2.0, []bound.Fluctuation{{RMSDB: 1.3, Seconds: 0.025}, {RMSDB: 3.4, Seconds: 0.23}}, 0.52},
	"recording-3": {1.8, []bound.Fluctuation{{RMSDB: 3.7, Seconds: 0.13}}, 0.53},
	"recording-5": {4.1, []bound.Fluctuation{{RMSDB: 6.2, Seconds: 0.08}, {RMSDB: 3.9, Seconds: 2.4}}, 0.91},
	"produced-1":  {2.3, []bound.Fluctuation{{RMSDB: 4.7, Seconds: 0.10}}, 0.54},
	"produced-2":  {3.9, []bound.Fluctuation{{RMSDB: 7.5, Seconds: 0.14}}, 0.69},
	"recording-2": {2.5, []bound.Fluctuation{{RMSDB: 2.6, Seconds: 0.08}, {RMSDB: 2.9, Seconds: 0.7}}, 0.46},
	"produced-4":  {3.9, []bound.Fluctuation{{RMSDB: 8.1, Seconds: 0.14}}, 0.61},
	"produced-3":  {3.6, []bound.Fluctuation{{RMSDB: 6.8, Seconds: 0.09}, {RMSDB: 2.8, Seconds: 2.7}}, 0.72},
}

// spacingFluctuations are level fluctuations of both channels as on the bench, 1/f from 0.2
// to 10 Hz, as three processes of a third each. Two tracks with a correlation of 0.64
// fluctuate by sqrt(0.82) together.
func spacingFluctuations(rmsDB float64) []bound.Fluctuation {
	var out []bound.Fluctuation
	for _, hz := range []float64{0.4, 1.4, 5} {
		out = append(out, bound.Fluctuation{RMSDB: rmsDB * math.Sqrt(0.82/3), Seconds: 1 / (2 * math.Pi * hz)})
	}
	return out
}

// boundTape is a cell's tape as its bound models it. The bound of a cell (bound.Limits.Both)
// includes hiss, wander, the fluctuation of the spacing, the piece's own treble changes, and
// the plan's fixed delay between the channels; for a programme also the turns from flank to
// flank, with stays of the best length. It excludes the search, backlash, gearing and
// microsteps, as found and as left: all tape of the run counts as spent between the flanks.
// It holds for a level that is the ratio of treble to middle, of a piece that is even over
// the treble and has no delays of its own; for a tone's stays of 0.25 s; and for wander of a
// known spectrum: with its hiss it is weighted optimally (generalised least squares), as if
// all tape were heard. A method that differs in one of these, as the program does with all
// bands together, may lie below the bound.
func boundTape(c benchgrid.Cell, p Plan) bound.Tape {
	t := bound.Tape{
		ToneHz: c.ToneHz, Treble: bound.Band{LowHz: dsp.TrebleLowHz, HighHz: dsp.TrebleHighHz},
		TrebleSNR:    math.Pow(10, c.TrebleSNdB/10),
		Wander:       bound.Wander{RMSArcmin: c.WanderArcmin, LowHz: c.WanderLowHz, HighHz: c.WanderHighHz, OneOverF: c.WanderShape == "1/f"},
		Fluctuations: append(spacingFluctuations(c.FlutterDB), pieces[c.Material].fluctuations...),
		Coherence:    pieces[c.Material].coherence, ChannelDelaySDUS: p.ChannelDelaySDUS, DwellSeconds: 0.25,
		USPerArcmin: tape.StereoCassette.USPerArcmin(), Power: tape.StereoCassette.AzimuthPower,
	}
	return t
}

// turnSeconds is the approximate time from flank to flank of a programme, settling included,
// at 180 degrees a second and 105' a turn.
const turnSeconds = 0.9

// cellBound returns the bound of a cell for a tape length in seconds.
func cellBound(t bound.Tape, seconds float64) float64 {
	if t.ToneHz > 0 {
		return t.Limits(seconds).Both
	}
	best := t.Limits(seconds).Delay // which needs no turns
	t.TurnSeconds = turnSeconds
	for _, t.DwellSeconds = range []float64{0.25, 0.5, 1, 2} {
		best = min(best, t.Limits(seconds).Both)
	}
	return best
}

// The fluctuation as processes has the spectrum of 1/f within 35 % in the range that acts on
// a head turned to and fro, and its full power.
func TestSpacingFluctuationsAreOneOverF(t *testing.T) {
	power := 0.0
	for _, f := range spacingFluctuations(0.5) {
		power += f.RMSDB * f.RMSDB
	}
	if want := 0.25 * 0.82; math.Abs(power/want-1) > 1e-9 {
		t.Errorf("power %g, want %g", power, want)
	}
	for _, hz := range []float64{0.4, 1, 2, 4} {
		density := 0.0
		for _, f := range spacingFluctuations(0.5) {
			density += 4 * f.RMSDB * f.RMSDB * f.Seconds / (1 + math.Pow(2*math.Pi*hz*f.Seconds, 2))
		}
		if want := 0.25 * 0.82 / (hz * math.Log(10/0.2)); math.Abs(density/want-1) > 0.35 {
			t.Errorf("%g Hz: density %g, 1/f has %g", hz, density, want)
		}
	}
}

// The figures of the pieces are those that testdata/README.md prints.
func TestPiecesAreAsPrinted(t *testing.T) {
	text, err := os.ReadFile("../testdata/README.md")
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string][][]float64{}
	for line := range strings.Lines(string(text)) {
		if name, rest, ok := strings.Cut(strings.TrimPrefix(line, "| `"), "` |"); ok && strings.HasPrefix(line, "| `") {
			rows[name] = append(rows[name], numbers(rest))
		}
	}
	for name, p := range pieces {
		if len(rows[name]) != 3 {
			t.Fatalf("%s: %d rows of figures", name, len(rows[name]))
		}
		ratio, channels := rows[name][0], rows[name][1]
		// mean, rms, 5 and 95 %, means of 1 and 5 s, white, rms, time, white, fast, slow, gain
		one := []bound.Fluctuation{{RMSDB: ratio[6], Seconds: 0.025}, {RMSDB: ratio[7], Seconds: ratio[8]}}
		if gain := ratio[14]; gain > 6 {
			one = []bound.Fluctuation{{RMSDB: ratio[9], Seconds: 0.025}, {RMSDB: ratio[10], Seconds: ratio[11]}, {RMSDB: ratio[12], Seconds: ratio[13]}}
		}
		one = slices.DeleteFunc(one, func(f bound.Fluctuation) bool { return f.RMSDB == 0 })
		if p.secondDB != ratio[4] || p.coherence != channels[0] || !slices.Equal(p.fluctuations, one) {
			t.Errorf("%s: %+v, printed are %v and %v", name, p, ratio, channels)
		}
	}
	for _, c := range append(benchgrid.Cells(), benchgrid.HeldOut()...) {
		if _, known := pieces[c.Material]; !known && c.Material != "" {
			t.Errorf("%s: no figures of %s", c.Name, c.Material)
		}
	}
}

// numbers returns the numbers in a line, whatever stands between them.
func numbers(line string) []float64 {
	var out []float64
	for _, word := range strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(" |,\n", r) }) {
		if x, err := strconv.ParseFloat(word, 64); err == nil {
			out = append(out, x)
		}
	}
	return out
}
