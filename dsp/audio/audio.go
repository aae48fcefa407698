// Package audio is the one shape in which sound travels through headtrue: a
// stereo block with a running sample number, and the source that yields such
// blocks. It holds types only and imports nothing of the project.
//
// The sample number is the clock of a run. Samples that were lost between the
// sound card and here are counted, never closed up: the next block's Start
// jumps by as many frames as were lost.
package audio

import (
	"context"
	"time"
)

// Block is a stretch of stereo sound. Left and Right have the same length, in
// frames; full scale is -1 to +1. The slices are valid until the next call of
// Source.Next.
type Block struct {
	// Start is the running number of the first frame since the source was
	// opened, lost frames included.
	Start int64
	// Left and Right are the samples, full scale ±1.
	Left, Right []float64
	// Lost is how many frames were lost just before this block.
	Lost int64
	// NotNumbers is how many samples of the block were no finite number; they stand as 0.
	NotNumbers int
	// Waiting is how many frames have been played behind this block and not yet
	// been read, those included that were lost there; zero for files and for the
	// virtual bench.
	Waiting int
	// Arrived is when the last sample of the block came in, by a monotonic clock; zero
	// for files. Delivery only adds delay: a block may arrive late, never early.
	Arrived time.Time
}

// Frames is the length of the block in frames.
func (b Block) Frames() int { return len(b.Left) }

// End is the running number of the frame after the last one.
func (b Block) End() int64 { return b.Start + int64(len(b.Left)) }

// Fresh says that no older sound waits behind the block to be read.
func (b Block) Fresh() bool { return b.Waiting <= 2*b.Frames() }

// Source yields stereo blocks in order.
type Source interface {
	// Rate is the sampling rate in frames per second.
	Rate() int
	// Next returns the following block. It returns io.EOF when the sound ends
	// as a file does, ErrStopped when a live stream has stopped delivering,
	// and the context's error when that ends first.
	Next(ctx context.Context) (Block, error)
	// Close releases the device or file. It may be called more than once.
	Close() error
}

// ErrStopped says that a live stream no longer delivers sound: the server
// went away, the device was unplugged, or the stream stalled.
var ErrStopped = stopped{}

type stopped struct{}

func (stopped) Error() string { return "the audio stream has stopped delivering sound" }
