package grid

import "fmt"

// departures are the changes of the held-out cells, one at a time, from the grid's and
// the default bench's values, which constants of the program equal or were set by.
var departures = []struct {
	name string
	set  func(*Cell)
}{
	{"stiction-0.1", func(c *Cell) { c.StictionDeg = 0.1 }},
	{"stiction-0.5", func(c *Cell) { c.StictionDeg = 0.5 }},
	{"twist-0.2", func(c *Cell) { c.WindUpDeg = 0.2 }},
	{"twist-1.5", func(c *Cell) { c.WindUpDeg = 1.5 }},
	{"wander-0.3", func(c *Cell) { c.WanderArcmin = 0.3 }},
	{"wander-2", func(c *Cell) { c.WanderArcmin = 2 }},
	{"low-0.05Hz", func(c *Cell) { c.WanderLowHz = 0.05 }},
	{"low-0.5Hz", func(c *Cell) { c.WanderLowHz = 0.5 }},
	{"high-2Hz", func(c *Cell) { c.WanderHighHz = 2 }},
}

// HeldOut returns 21 cells on which no constant of the program was set, nor may be. They
// test the program on benches for which it was not made. A tone with an unknown delay and
// a piece with a known one have each departure from the grid's mechanics and wander; two
// pieces that are not in the grid have the grid's own. All else is equal: 20 dB, 1' flat
// wander, 0.2 dB flutter, 5 degrees.
func HeldOut() []Cell {
	var out []Cell
	for _, d := range departures {
		tone, music := plain("tone", "", UnknownDelay), plain("recording", heldPieces[0].name, KnownDelay)
		for _, c := range []*Cell{&tone, &music} {
			d.set(c)
			c.Name = fmt.Sprintf("held-%s-%s", c.Kind, d.name)
			out = append(out, *c)
		}
	}
	for i, p := range heldPieces {
		for _, delay := range []Delay{KnownDelay, UnknownDelay} {
			if i == 0 && delay == KnownDelay {
				continue // the departures have it
			}
			c := plain(p.kind, p.name, delay)
			c.Name = fmt.Sprintf("held-%s-%s", p.name, delay)
			out = append(out, c)
		}
	}
	return out
}

// heldPieces are neither in the grid nor among the mixes.
var heldPieces = []struct{ kind, name string }{{"recording", "recording-2"}, {"produced", "produced-4"}}

// plain returns the common base of the mixes and the held-out cells.
func plain(kind, piece string, delay Delay) Cell {
	c := Cell{
		Kind: kind, Material: piece, TrebleSNdB: 20, WanderArcmin: 1, WanderShape: "flat", WanderLowHz: wanderLowHz, WanderHighHz: wanderHighHz,
		FlutterDB: 0.2, Delay: delay, BacklashDeg: 5, WindUpDeg: windUpDeg, StictionDeg: stictionDeg,
	}
	if piece == "" {
		c.ToneHz = toneHz
	}
	return c
}
