package bench

import (
	"headtrue/dsp/audio"
	"headtrue/jig/virtual"
)

// delivery passes the sound on to its reader: in blocks, in order, each when it is
// complete or, if it is held back, some time later.
type delivery struct {
	holds  *Holds
	filled int   // frames already in the present block
	lost   int64 // frames lost before it
	block  *parcel
	made   []*parcel // complete, the oldest first
	pulled *parcel   // its samples are valid until the next call of take
	spare  []*parcel
}

// parcel is a block in transit.
type parcel struct {
	left, right [blockFrames]float64
	start, lost int64
	arrives     int64 // frame
}

func newDelivery(l Late, seed uint64) *delivery {
	return &delivery{holds: NewHolds(l, seed), block: &parcel{}}
}

// room returns the place for the next frames, at most this many.
func (d *delivery) room(frames int) (left, right []float64) {
	end := min(blockFrames, d.filled+frames)
	return d.block.left[d.filled:end], d.block.right[d.filled:end]
}

// full records that room has been filled, up to a frame, and reports whether the block is
// complete.
func (d *delivery) full(frames int, end int64) bool {
	d.filled += frames
	if d.filled < blockFrames {
		return false
	}
	const seconds = float64(blockFrames) / Rate
	p := d.block
	p.start, p.lost = end-blockFrames, d.lost
	p.arrives = end + int64(d.holds.Next(seconds)*Rate)
	d.made = append(d.made, p)
	d.filled, d.lost, d.block = 0, 0, d.fresh()
	return true
}

func (d *delivery) fresh() *parcel {
	if n := len(d.spare); n > 0 {
		p := d.spare[n-1]
		d.spare = d.spare[:n-1]
		return p
	}
	return &parcel{}
}

// take returns the oldest block that has arrived by a frame.
func (d *delivery) take(now int64) (audio.Block, bool) {
	if len(d.made) == 0 || d.made[0].arrives > now {
		return audio.Block{}, false
	}
	p := d.made[0]
	d.made = d.made[1:]
	if d.pulled != nil {
		d.spare = append(d.spare, d.pulled)
	}
	d.pulled = p
	b := audio.Block{Start: p.start, Left: p.left[:], Right: p.right[:], Lost: p.lost, Arrived: virtual.Instant(p.arrives, Rate)}
	for _, other := range d.made {
		if other.arrives <= now {
			b.Waiting += blockFrames
		}
	}
	return b, true
}

// untilNext returns the frames until the next block arrives or is complete.
func (d *delivery) untilNext(now int64) int {
	if len(d.made) > 0 {
		return int(max(1, d.made[0].arrives-now))
	}
	return blockFrames - d.filled
}
