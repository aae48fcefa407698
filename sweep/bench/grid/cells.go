// Package grid lists the virtual benches on which accuracy is measured: the combinations
// of programme, noise, wander and mechanics. It does not depend on how a cell is judged:
// it imports the bench and neither sweep nor dsp.
//
// # The design
//
// Six factors, 36 of their 576 combinations:
//
//	programme    tone, rendered, recording, produced
//	S/N          10, 20, 30 dB of treble over hiss
//	delay        none; 3 us known to 0.5 us; unknown within +-10 us
//	wander       none, 1' flat, 2' flat, 1' 1/f (rms, 0.2-5 Hz)
//	flutter      0.2, 0.5 dB rms at 10 kHz, by spacing
//	backlash     5, 15 degrees of screw
//
// Programme, S/N and delay are fully crossed, 4 x 3 x 3 cells, so that these three and
// all their interactions can be estimated. The other three factors depend on the row m of
// the programme and the place (s, d) of S/N and delay:
//
//	wander   = (m + wanderAt[s][d]) mod 4
//	flutter  = flutterAt[s][d] xor flutterOf[m]
//	backlash = backlashAt[s][d] xor backlashOf[m]
//
// At each place (s, d) the four programmes thus have all four wanders, and each pair of
// flutter and backlash once. Exactly balanced are: every single factor; S/N, delay and
// wander in pairs; programme with S/N and with delay; flutter and backlash with S/N, with
// delay and with each other. 36 is no multiple of 16 or 8. So programme with wander (2 or
// 3 cells a pair), and flutter and backlash with programme and with wander (4 or 5), are
// balanced to within one cell. A search among the tables with these properties found the
// present ones, for which wander, flutter and backlash together are also balanced to
// within one cell. The grid cannot estimate the interactions of those three with
// programme, S/N or delay.
//
// Each kind of music has three pieces. A cell has piece (d - s) mod 3, so each kind has
// each piece once at each S/N and at each delay.
//
// In every cell the gearing is uniform within 60-150' a turn. The tilt of the head as
// found and the tape's, which is the optimum, are each uniform within +-60' of the
// standard; they start up to 120' apart. The seated blade does not tilt the head:
// clamping forces, like reseating, are a separate matter.
//
// Constants of the program were tried on the grid, and some equal those of its benches.
// HeldOut are cells with other benches and pieces, on which no constant was set.
package grid

import (
	"fmt"
	"path/filepath"
	"strings"

	"headtrue/sweep/bench"
)

// Delay is the distribution of a cell's fixed delay between the channels, and so the
// prior that may be used for it.
type Delay string

// The three delays.
const (
	NoDelay      Delay = "none"    // 0
	KnownDelay   Delay = "known"   // KnownDelayUS, drawn with a standard deviation of KnownDelaySDUS
	UnknownDelay Delay = "unknown" // uniform within +-UnknownDelayUS
)

// Values common to all cells.
const (
	KnownDelayUS   = 3.0
	KnownDelaySDUS = 0.5
	UnknownDelayUS = 10.0

	TiltRangeArcmin  = 60.0 // of the head as found and of the tape, each
	LeastGearing     = 60.0 // arcmin per turn of the screw
	GreatestGearing  = 150.0
	toneLevelDBFS    = -10.0
	toneHz           = 10000.0
	changesInSeconds = 3.0
)

// Values common to all cells but the held-out ones.
const (
	windUpDeg    = 0.5
	stictionDeg  = 0.2
	wanderLowHz  = 0.2
	wanderHighHz = 5.0
)

// Cell is one bench of the grid. A seed draws the bench from it.
type Cell struct {
	Name string
	// ToneHz is the tone of a cell without music, else 0.
	ToneHz float64
	// Kind is the kind of programme: "tone", "rendered", "recording" or "produced".
	// Material is the piece, a WAV file of testdata/material/render without its ending;
	// "" for a tone.
	Kind, Material string
	TrebleSNdB     float64
	WanderArcmin   float64 // rms
	WanderShape    string  // "flat" or "1/f"
	WanderLowHz    float64
	WanderHighHz   float64
	FlutterDB      float64 // rms at 10 kHz
	Delay          Delay
	BacklashDeg    float64
	WindUpDeg      float64 // the drive's twist as it turns; the backlash includes twice this
	StictionDeg    float64
	// Second is a second source in the music, with its own delay.
	Second bench.Second
}

// kinds are the programmes. Pieces whose name has no number are laid out without --all.
var kinds = []struct {
	name   string
	pieces [3]string
}{
	{"tone", [3]string{}},
	{"rendered", [3]string{"piece", "rendered-1", "rendered-3"}},
	{"recording", [3]string{"recording", "recording-3", "recording-5"}},
	{"produced", [3]string{"produced-1", "produced-2", "produced-3"}},
}

var (
	signalToNoise = [3]float64{10, 20, 30}
	delays        = [3]Delay{NoDelay, KnownDelay, UnknownDelay}
	wanders       = [4]struct {
		arcmin float64
		shape  string
	}{{0, "flat"}, {1, "flat"}, {2, "flat"}, {1, "1/f"}}
	flutters   = [2]float64{0.2, 0.5}
	backlashes = [2]float64{5, 15}

	wanderAt   = [3][3]int{{1, 2, 3}, {2, 1, 0}, {0, 3, 1}}
	flutterAt  = [3][3]int{{1, 1, 0}, {0, 0, 1}, {0, 1, 1}}
	backlashAt = [3][3]int{{1, 0, 0}, {0, 0, 1}, {1, 1, 0}}
	flutterOf  = [4]int{0, 0, 1, 1}
	backlashOf = [4]int{0, 1, 0, 1}
)

// Pieces returns the names of the pieces of music in the grid.
func Pieces() []string {
	var out []string
	for _, k := range kinds {
		for _, p := range k.pieces {
			if p != "" {
				out = append(out, p)
			}
		}
	}
	return out
}

// Cells returns the grid, 36 cells.
func Cells() []Cell {
	var out []Cell
	for m, kind := range kinds {
		for s, sn := range signalToNoise {
			for d, delay := range delays {
				wander := wanders[(m+wanderAt[s][d])%4]
				c := Cell{
					Name: fmt.Sprintf("%s-%gdB-%s", kind.name, sn, delay), Kind: kind.name, Material: kind.pieces[(d-s+3)%3],
					TrebleSNdB: sn, WanderArcmin: wander.arcmin, WanderShape: wander.shape,
					WanderLowHz: wanderLowHz, WanderHighHz: wanderHighHz, WindUpDeg: windUpDeg, StictionDeg: stictionDeg,
					FlutterDB: flutters[flutterAt[s][d]^flutterOf[m]], Delay: delay,
					BacklashDeg: backlashes[backlashAt[s][d]^backlashOf[m]],
				}
				if c.Material == "" {
					c.ToneHz = toneHz
				}
				out = append(out, c)
			}
		}
	}
	return out
}

// Profile returns the cell's bench; materialFolder is the folder in which render has laid
// out the music.
func (c Cell) Profile(materialFolder string) bench.Profile {
	p := bench.Default()
	if c.Material == "" {
		p.Programme = bench.Tones(toneLevelDBFS, c.ToneHz)
	} else {
		p.Programme.Kind, p.Programme.WAV = "wav", filepath.Join(materialFolder, c.Material+".wav")
		p.Programme.Second = c.Second
	}
	p.Tape.TrebleSNdB, p.Tape.SpacingFlutterDB = c.TrebleSNdB, c.FlutterDB
	p.Tape.WanderRMSArcmin, p.Tape.WanderShape = c.WanderArcmin, c.WanderShape
	p.Tape.WanderLowHz, p.Tape.WanderHighHz = c.WanderLowHz, c.WanderHighHz
	p.Tape.TiltArcmin, p.Tape.TiltRangeArcmin = 0, TiltRangeArcmin
	p.Deck.StartTiltArcmin, p.Deck.StartTiltRangeArcmin = 0, TiltRangeArcmin
	p.Deck.ChannelDelayUS, p.Deck.ChannelDelaySDUS, p.Deck.ChannelDelayRangeUS = 0, 0, 0
	switch c.Delay {
	case KnownDelay:
		p.Deck.ChannelDelayUS, p.Deck.ChannelDelaySDUS = KnownDelayUS, KnownDelaySDUS
	case UnknownDelay:
		p.Deck.ChannelDelayRangeUS = UnknownDelayUS
	}
	const middle = (LeastGearing + GreatestGearing) / 2
	p.Screw.ArcminPerTurn = middle
	p.Screw.GearingRangePercent = 100 * (GreatestGearing - middle) / middle
	p.Screw.WindUpDeg, p.Screw.SlackDeg, p.Screw.StictionDeg = c.WindUpDeg, c.BacklashDeg-2*c.WindUpDeg, c.StictionDeg
	p.Screw.BladeTiltArcmin = 0
	return p
}

// String returns the cell's parameters in one line.
func (c Cell) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%-26s", c.Name)
	if c.ToneHz > 0 {
		fmt.Fprintf(&b, " %-12s", fmt.Sprintf("%g Hz", c.ToneHz))
	} else {
		fmt.Fprintf(&b, " %-12s", c.Material)
	}
	fmt.Fprintf(&b, " S/N %g dB, wander %g' %s %g-%g Hz, flutter %g dB, delay %s, backlash %g deg, twist %g, stiction %g",
		c.TrebleSNdB, c.WanderArcmin, c.WanderShape, c.WanderLowHz, c.WanderHighHz, c.FlutterDB, c.Delay, c.BacklashDeg, c.WindUpDeg, c.StictionDeg)
	if s := c.Second; s.PowerPercent > 0 {
		fmt.Fprintf(&b, ", second source %g %% at %g us, %s", s.PowerPercent, s.DelayUS, s.Course)
		if s.Symmetric {
			b.WriteString(", each way")
		}
	}
	return b.String()
}
