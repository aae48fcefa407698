package app

import (
	"context"
	"time"

	"headtrue/dsp/audio"
)

// Paced hands out the blocks of a source as they would come in time, Times as fast as real
// time. After a stall it does not make up for the missed time by a burst longer than mostBurst.
type Paced struct {
	audio.Source
	Times float64 // 1 is real time
	begun time.Time
	first int64
}

const mostBurst = time.Second

// Next implements audio.Source.
func (p *Paced) Next(ctx context.Context) (audio.Block, error) {
	b, err := p.Source.Next(ctx)
	if err != nil {
		return b, err
	}
	if p.begun.IsZero() {
		p.begun, p.first = time.Now(), b.Start
	}
	due := time.Duration(float64(b.End()-p.first) / float64(p.Rate()) / p.Times * float64(time.Second))
	ahead := due - time.Since(p.begun)
	if ahead < -mostBurst {
		p.begun = p.begun.Add(-ahead)
	}
	if ahead <= 0 {
		return b, nil
	}
	wait := time.NewTimer(ahead)
	defer wait.Stop()
	select {
	case <-wait.C:
		return b, nil
	case <-ctx.Done():
		return audio.Block{}, ctx.Err()
	}
}

// paced is the sound of a virtual bench at the pace of the order.
func (j *Job) paced(source audio.Source) audio.Source {
	if j.Pace <= 0 {
		return source
	}
	return &Paced{Source: source, Times: j.Pace}
}
