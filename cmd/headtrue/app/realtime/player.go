package realtime

import (
	"cmp"
	"context"
	"encoding/binary"
	"io"
	"math"
	"time"

	"headtrue/dsp/audio"
	"headtrue/jig/fault"
	"headtrue/sweep/bench"
)

// backlog is how many blocks of 1024 frames wait for the sink: 2 s.
const backlog = 94

// A player needs a moment before it plays. Sound of the first two seconds that the player does
// not take is dropped; otherwise all later sound would be late.
const (
	startSeconds = 2
	startBacklog = 1
)

// hangs is how long the end of a bench waits for a sink that takes no sound.
const hangs = 200 * time.Millisecond

// player plays a source to a sink: blocks as they come, each delayed by holds.
type player struct {
	out   io.Writer
	holds *bench.Holds
	// backlog is how many blocks may wait for the sink. Further blocks are dropped: neither
	// deck nor jig waits for a listener.
	backlog int
	// starts means that the sink is a player, which needs a moment to start.
	starts bool
}

// heldBlock is a block in its written form; it is written at the time due or later.
type heldBlock struct {
	raw []byte
	due time.Time
}

// play plays until the source ends, ctx ends or the sink refuses. The source keeps time. The
// goroutine that writes ends with play; if ctx ends while the sink takes nothing, it ends with
// the sink.
func (p *player) play(ctx context.Context, src audio.Source) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	blocks, written := make(chan heldBlock, p.backlog), make(chan error, 1)
	go func() {
		defer fault.Recovered(func(err error) {
			written <- err
			cancel()
		})
		written <- p.write(ctx, blocks)
		cancel()
	}()
	ended := p.listen(ctx, src, blocks)
	close(blocks) // the waiting blocks are played, unless ctx ends
	select {
	case err := <-written:
		return cmp.Or(err, ended)
	case <-ctx.Done():
	}
	select {
	case err := <-written:
		return cmp.Or(err, ended)
	case <-time.After(hangs):
		return ended
	}
}

// listen passes the source's blocks on as raw stereo: 32-bit float, little endian.
func (p *player) listen(ctx context.Context, src audio.Source, blocks chan<- heldBlock) error {
	for {
		b, err := src.Next(ctx)
		if err != nil {
			return err
		}
		seconds := float64(int64(b.Frames())+b.Lost) / float64(src.Rate())
		held := p.holds.Next(seconds)
		block := heldBlock{due: time.Now().Add(time.Duration(held * float64(time.Second)))}
		for i := range b.Left {
			block.raw = binary.LittleEndian.AppendUint32(block.raw, math.Float32bits(float32(b.Left[i])))
			block.raw = binary.LittleEndian.AppendUint32(block.raw, math.Float32bits(float32(b.Right[i])))
		}
		if p.starts && float64(b.End())/float64(src.Rate()) < startSeconds && len(blocks) >= startBacklog {
			continue
		}
		select {
		case blocks <- block:
		default:
		}
	}
}

// write writes each block when it is due, until there are no more or ctx ends.
func (p *player) write(ctx context.Context, blocks <-chan heldBlock) error {
	wait := time.NewTimer(0)
	defer wait.Stop()
	for b := range blocks {
		wait.Reset(time.Until(b.due))
		select {
		case <-wait.C:
		case <-ctx.Done():
			return nil
		}
		if _, err := p.out.Write(b.raw); err != nil {
			return err
		}
	}
	return nil
}
