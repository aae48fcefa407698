// Package grid is the list of virtual benches over which accuracy is measured:
// which programme, noise, wander and mechanics stand together in which cell. It
// must not know how a cell is judged: it imports the bench and neither sweep nor
// dsp.
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
// Programme, S/N and delay are crossed in full, 4 x 3 x 3 cells, so that these
// three and all that they do together can be told apart. The other three are
// laid over them by the row m of the programme and the place (s, d) of S/N and
// delay:
//
//	wander   = (m + wanderAt[s][d]) mod 4
//	flutter  = flutterAt[s][d] xor flutterOf[m]
//	backlash = backlashAt[s][d] xor backlashOf[m]
//
// At each place (s, d) the four programmes so have all four wanders, and each
// pairing of flutter and backlash once. Exactly balanced are: every factor by
// itself; S/N, delay and wander in pairs; programme with S/N and with delay;
// flutter and backlash with S/N, with delay and with each other. 36 is no
// multiple of 16 or 8, so programme with wander (2 or 3 cells a pair), and
// flutter and backlash with programme and with wander (4 or 5), are even but for
// one cell. The tables were found by search among those for which that holds, so
// that wander, flutter and backlash together are even but for one cell too. What
// those three do together with programme, S/N or delay cannot be told from this
// grid.
//
// Each kind of music is three pieces. Which one a cell has is
// (d - s) mod 3: each kind has each piece at each S/N and at each delay once.
//
// In every cell the gearing is uniform within 60-150' a turn, and the tilt of
// the head as found and the tape's, which is the optimum, each uniform within
// +-60' of the standard; they start up to 120' apart. The seated blade does not
// tilt the head: clamping forces, like reseating, are a matter of their own.
//
// Constants of the program were tried on the grid, and some equal what its benches
// have. HeldOut are cells with other benches and pieces, on which none was set.
package grid

import (
	"fmt"
	"path/filepath"
	"strings"

	"headtrue/sweep/bench"
)

// Delay is how a cell's fixed delay between the channels is drawn, and so what
// may be known of it.
type Delay string

// The three delays.
const (
	NoDelay      Delay = "none"    // 0
	KnownDelay   Delay = "known"   // KnownDelayUS, drawn with a standard deviation of KnownDelaySDUS
	UnknownDelay Delay = "unknown" // uniform within +-UnknownDelayUS
)

// What is alike in all cells.
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

// What is alike in all cells but the held-out ones.
const (
	windUpDeg    = 0.5
	stictionDeg  = 0.2
	wanderLowHz  = 0.2
	wanderHighHz = 5.0
)

// Cell is one bench of the grid. The bench is drawn from it by a seed.
type Cell struct {
	Name string
	// ToneHz is the tone of a cell without music, else 0.
	ToneHz float64
	// Kind is the programme's: "tone", "rendered", "recording" or "produced", and
	// Material the piece, a WAV file of testdata/material/render without its
	// ending; "" for a tone.
	Kind, Material string
	TrebleSNdB     float64
	WanderArcmin   float64 // rms
	WanderShape    string  // "flat" or "1/f"
	WanderLowHz    float64
	WanderHighHz   float64
	FlutterDB      float64 // rms at 10 kHz
	Delay          Delay
	BacklashDeg    float64
	WindUpDeg      float64 // the drive's twist as it turns; twice it is in the backlash
	StictionDeg    float64
	// Second is a second source in the music, with a delay of its own.
	Second bench.Second
}

// kinds are the programmes; the pieces whose name has no number are laid out
// without --all.
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

// Pieces are the names of the pieces of music in the grid.
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

// Cells is the grid, 36 cells.
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

// Profile is the cell's bench; materialFolder is where render has laid out the
// music.
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

// String is the cell's parameters in one line.
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
