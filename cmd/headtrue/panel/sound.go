package panel

import (
	"context"
	"math"
	"sync"
	"sync/atomic"

	"headtrue/dsp/audio"
	"headtrue/sweep/monitor"
	"headtrue/sweep/tape"
)

// waiting is how many blocks of sound wait to be drawn, some two seconds of them. What comes while
// they are full is not drawn: the run does not wait for that.
const waiting = 96

// sound draws what a run hears, in a goroutine of its own.
type sound struct {
	board    *board
	nowMS    func() int64
	screwDeg func() *float64
	blocks   chan heard
	skipped  atomic.Bool

	mu       sync.Mutex
	settings monitor.Settings
	anew     bool         // the settings hold from the next block on
	told     *monitor.Now // what listening has measured; nil if it is measured here
	telling  bool
}

// heard is a copy of a block.
type heard struct {
	audio.Block
	rateHz int
	after  bool // blocks before it were left out
}

// live is what is heard and drawn at an instant.
type live struct {
	Type     string      `json:"type"`
	NowMS    int64       `json:"now_ms"`
	Heard    monitor.Now `json:"heard"`
	ScrewDeg *float64    `json:"screw_deg"`
	monitor.Picture
}

func newSound(b *board, nowMS func() int64, screwDeg func() *float64) *sound {
	return &sound{board: b, nowMS: nowMS, screwDeg: screwDeg, blocks: make(chan heard, waiting)}
}

// begin measures what comes from now on by other settings; told means that tell has the measures.
func (s *sound) begin(toneHz float64, furtherHz []float64, fixedUS float64, told bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.settings = monitor.Settings{ToneHz: toneHz, FurtherHz: furtherHz, Tape: tape.StereoCassette, FixedDelayUS: fixedUS}
	s.anew, s.telling, s.told = true, told, nil
}

// tell takes what listening has measured.
func (s *sound) tell(now monitor.Now) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.told = &now
}

// hear takes a copy of a block and returns at once.
func (s *sound) hear(b audio.Block, rateHz int) {
	b.Left, b.Right = append([]float64(nil), b.Left...), append([]float64(nil), b.Right...)
	select {
	case s.blocks <- heard{b, rateHz, s.skipped.Swap(false)}:
	default:
		s.skipped.Store(true)
	}
}

// run draws the blocks as they come, until ctx ends.
func (s *sound) run(ctx context.Context) {
	var e ear
	for {
		select {
		case <-ctx.Done():
			return
		case b := <-s.blocks:
			s.draw(&e, b)
		}
	}
}

// ear is what measures and draws one sound.
type ear struct {
	rateHz  int
	next    int64 // number of the next sample
	monitor *monitor.Monitor
	scope   *monitor.Scope
	now     monitor.Now
}

func (s *sound) draw(e *ear, b heard) {
	s.mu.Lock()
	anew, settings, telling, told := s.anew, s.settings, s.telling, s.told
	s.anew = false
	s.mu.Unlock()
	if anew || e.scope == nil || b.rateHz != e.rateHz || b.Start < e.next || b.after {
		settings.RateHz = b.rateHz
		*e = ear{rateHz: b.rateHz, monitor: monitor.New(settings), scope: monitor.NewScope(b.rateHz)}
	}
	e.next = b.End()
	if !telling {
		e.monitor.Add(b.Block, func(now monitor.Now) { e.now = now })
	} else if told != nil {
		e.now = *told
	}
	e.scope.Add(b.Block, func(p monitor.Picture) {
		if s.board.watched() {
			s.board.put("live", live{Type: "live", NowMS: s.nowMS(), Heard: withFaults(e.now), ScrewDeg: s.screwDeg(), Picture: short(p)})
		}
	})
}

func withFaults(now monitor.Now) monitor.Now {
	if now.Faults == nil {
		now.Faults = []string{}
	}
	return now
}

// short rounds a picture to what an eye can see.
func short(p monitor.Picture) monitor.Picture {
	round := func(x []float64, to float64) {
		for i := range x {
			x[i] = math.Round(x[i]*to) / to
		}
	}
	for c := range p.Spectrum {
		round(p.Spectrum[c], 10)
		round(p.Figure[c], 1000)
	}
	for _, pair := range []*[2]float64{&p.Meters.QuasiPeak, &p.Meters.VU, &p.Meters.Hold} {
		round(pair[:], 100)
	}
	return p
}
