package grid

import (
	"fmt"

	"headtrue/sweep/bench"
)

// Second sources of Mixes.
var (
	powers  = [3]float64{10, 25, 50}
	apartUS = [3]float64{20, 60, 150}
	courses = [3]string{"steady", "comes_and_goes", "moves"}
	sides   = [2]bool{false, true}
	// cleanPieces have no delay of their own (testdata/README.md).
	cleanPieces = [3]string{"recording", "recording-3", "recording-4"}
)

// Mixes returns 18 cells of stereo mixes with true delays, in which the delay method must
// detect that it is biased. Power and delay of the second source, and whether it is on
// one side or both, are fully crossed, 3 x 3 x 2. Its course, the sum of their numbers
// modulo 3, is balanced against each of them; so is the piece, power less delay modulo 3.
// All else is equal: 20 dB, 1' flat wander, 0.2 dB flutter, known delay, 5 degrees.
func Mixes() []Cell {
	var out []Cell
	for i, percent := range powers {
		for j, us := range apartUS {
			for k, symmetric := range sides {
				course := courses[(i+j+k)%3]
				way := "one"
				if symmetric {
					way = "both"
				}
				c := clean(cleanPieces[(i-j+3)%3])
				c.Name = fmt.Sprintf("mix-%g%%-%gus-%s", percent, us, way)
				c.Second = bench.Second{PowerPercent: percent, DelayUS: us, Course: course, PeriodSeconds: changesInSeconds, Symmetric: symmetric}
				out = append(out, c)
			}
		}
	}
	return out
}

// Clean returns the cells of Mixes without a second source, one for each piece: every
// flag there is a false one.
func Clean() []Cell {
	var out []Cell
	for _, piece := range cleanPieces {
		out = append(out, clean(piece))
	}
	return out
}

func clean(piece string) Cell {
	c := plain("recording", piece, KnownDelay)
	c.Name = "clean-" + piece
	return c
}
