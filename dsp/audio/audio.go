// Package audio defines the one form of sound in headtrue: a stereo block with a running
// sample number, and the source that returns such blocks. It holds types only and imports
// nothing of the project.
//
// The sample number is the clock of a run. Samples lost between the sound card and here
// are counted, never closed up: the Start of the next block jumps by the number of lost
// frames.
package audio

import (
	"context"
	"time"
)

// Block is a piece of stereo sound. Left and Right have the same length, in frames; full
// scale is -1 to +1. The slices are valid until the next call of Source.Next.
type Block struct {
	// Start is the running number of the first frame since the source was
	// opened, lost frames included.
	Start int64
	// Left and Right are the samples, full scale ±1.
	Left, Right []float64
	// Lost is the number of frames lost just before this block.
	Lost int64
	// NotNumbers is the number of samples in the block that were not finite; they are 0.
	NotNumbers int
	// Waiting is the number of frames that were played after this block and not yet read,
	// lost ones included; zero for files and for the virtual bench.
	Waiting int
	// Arrived is the arrival time of the block's last sample, on a monotonic clock; zero
	// for files. A block may arrive late, never early: delivery only adds delay.
	Arrived time.Time
}

// Frames returns the length of the block in frames.
func (b Block) Frames() int { return len(b.Left) }

// End returns the running number of the frame after the last one.
func (b Block) End() int64 { return b.Start + int64(len(b.Left)) }

// Fresh reports whether at most two blocks of newer sound wait to be read.
func (b Block) Fresh() bool { return b.Waiting <= 2*b.Frames() }

// Source returns stereo blocks in order.
type Source interface {
	// Rate returns the sampling rate in frames per second.
	Rate() int
	// Next returns the following block. It returns io.EOF at the end of a file,
	// ErrStopped when a live stream has stopped delivering, and the context's error if
	// the context ends first.
	Next(ctx context.Context) (Block, error)
	// Close releases the device or file. It may be called more than once.
	Close() error
}

// ErrStopped reports that a live stream no longer delivers sound: the server ended, the
// device was unplugged, or the stream stalled.
var ErrStopped = stopped{}

type stopped struct{}

func (stopped) Error() string { return "the audio stream has stopped delivering sound" }
