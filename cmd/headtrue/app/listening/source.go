package listening

import (
	"context"
	"time"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/kept"
	"headtrue/cmd/headtrue/app/measure"
	"headtrue/dsp/audio"
)

// open opens the sound; end releases it.
func (o Order) open(ctx context.Context) (src audio.Source, end func() error, err error) {
	if o.Virtual != "" {
		return o.openDeck()
	}
	if src, err = measure.Open(ctx, o.Source, o.RateHz, o.Seconds); err != nil {
		return nil, nil, err
	}
	end = src.Close
	if o.Pace && !app.IsLive(o.Source) && !app.IsRaw(o.Source) {
		src = &paced{Source: src}
	}
	return src, end, nil
}

// openDeck runs a virtual deck. Its jig turns nothing.
func (o Order) openDeck() (src audio.Source, end func() error, err error) {
	deck, err := kept.Find(o.Virtual, o.Seed, o.SeedGiven)
	if err != nil {
		return nil, nil, app.Wrong("%w", err)
	}
	p := deck.Profile
	if o.ToneHz > 0 && p.Programme.Kind == "music" {
		p.Programme = app.VirtualTones(append([]float64{o.ToneHz}, o.FurtherHz...)...)
	}
	run, err := deck.Run(kept.Program{Name: "listen", Profile: p, Seed: deck.Seed})
	if err != nil {
		return nil, nil, app.DeckFailure(err)
	}
	src = run.Bench
	if o.Pace {
		src = &paced{Source: src}
	}
	return src, run.End, nil
}

// paced hands out the blocks of a source as they would come in real time. After a stall it does
// not make up for the missed time by a burst longer than most.
type paced struct {
	audio.Source
	begun time.Time
	first int64
}

const most = time.Second

func (p *paced) Next(ctx context.Context) (audio.Block, error) {
	b, err := p.Source.Next(ctx)
	if err != nil {
		return b, err
	}
	if p.begun.IsZero() {
		p.begun, p.first = time.Now(), b.Start
	}
	due := time.Duration(float64(b.End()-p.first) / float64(p.Rate()) * float64(time.Second))
	ahead := due - time.Since(p.begun)
	if ahead < -most {
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
