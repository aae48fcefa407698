package listening

import (
	"context"

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
		src = &app.Paced{Source: src, Times: 1}
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
		src = &app.Paced{Source: src, Times: 1}
	}
	return src, run.End, nil
}
