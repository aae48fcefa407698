package known

import (
	"context"
	"math"

	"headtrue/dsp/audio"
)

const (
	snippetSeconds = 20.0 // placed at a time
	snippetTries   = 12   // tries before the recording counts as another one
	placedAtLeast  = 0.2  // score of a confirmed place: in trials at least 0.45 for the right one, at most 0.12 for others
	trustedShare   = 0.25 // least share of a segment's frames for it to count
	leastSeconds   = 2.0  // least tape that must count in all
	lostSegments   = 2    // segments in a row that do not count before a new search
)

// Match follows one tape along a reference. Several goroutines must not use it at once.
type Match struct {
	ref    *Reference
	rate   int
	tape   stereo // not yet used
	next   int64  // sample number expected
	begun  bool
	heard  int64 // frames of tape in all
	used   int64 // frames of tape before the kept ones
	tries  int
	far    float64 // speed of a place too fast or too slow, 0 if none
	placed bool
	follow *following // nil before the first place
}

// following is the state after the place is found.
type following struct {
	line     place // position at the first frame of the tape kept, and slope
	src      *reader
	follower *follower
	resample *resampler
	sums     *batches
	template *sums // over all counted frames

	started          bool
	start            float64 // reference position of tape frame 0
	counted          int     // frames
	lost             int     // segments in a row that did not count
	position, passed float64 // of the reference and of the tape, in counted segments
}

// Match begins a match for a tape at the rate, in frames per second.
func (r *Reference) Match(tapeRate int) *Match {
	return &Match{ref: r, rate: tapeRate}
}

// Close releases the reference.
func (m *Match) Close() {
	if m.follow != nil {
		m.follow.src.close()
	}
}

// Add adds the next block of tape. Lost frames become silence, so that time stays
// correct. Most blocks are only stored; some trigger work on 5 or 20 seconds of sound. An
// error is one of reading the reference.
func (m *Match) Add(ctx context.Context, b audio.Block) error {
	lost := b.Lost
	if m.begun {
		lost = max(lost, b.Start-m.next)
	}
	m.begun, m.next = true, b.End()
	for c, x := range [2][]float64{b.Left, b.Right} {
		m.tape[c] = append(append(m.tape[c], make([]float64, lost)...), x...)
	}
	m.heard += lost + int64(b.Frames())
	for {
		worked, err := m.work(ctx, false)
		if err != nil || !worked {
			return err
		}
	}
}

// work processes the available tape; last reports that no more comes.
func (m *Match) work(ctx context.Context, last bool) (worked bool, err error) {
	have := len(m.tape[0])
	if !m.placed {
		snippet := int(snippetSeconds * float64(m.rate))
		switch {
		case m.tries == snippetTries:
			m.drop(have)
			return false, nil
		case have >= snippet:
			return true, m.place(ctx, snippet)
		case last && float64(have) >= shortestSeconds*float64(m.rate):
			return true, m.place(ctx, have)
		}
		return false, nil
	}
	f := m.follow.follower
	if whole := f.length(segmentHops + 2*edgeHops); have >= whole {
		return true, m.segment(ctx, whole)
	}
	if last && have >= f.length(4*edgeHops) {
		return true, m.segment(ctx, have)
	}
	return false, nil
}

func (m *Match) drop(frames int) {
	m.tape.drop(frames)
	m.used += int64(frames)
}

// place searches for the first frames of the kept tape. If it does not find them, it
// drops the first half of them.
func (m *Match) place(ctx context.Context, frames int) error {
	m.tries++
	snippet := stereo{m.tape[0][:frames], m.tape[1][:frames]}
	p := newPrinter(m.rate)
	p.add(snippet[0], snippet[1])
	best, err := m.ref.confirm(ctx, snippet, m.rate, m.ref.candidates(p.features(), m.rate))
	if err != nil {
		return err
	}
	speed := best.ratio * float64(m.rate) / float64(m.ref.rate)
	if best.score < placedAtLeast || math.Abs(speed-1) > FurthestSpeed+speedStep/2 {
		if best.score >= placedAtLeast {
			m.far = speed
		}
		m.drop(frames / 2)
		return nil
	}
	src, err := m.ref.reader(ctx)
	if err != nil {
		return err
	}
	m.placed = true
	if m.follow == nil {
		f := newFollower(m.rate)
		m.follow = &following{follower: f, sums: newBatches(f.n/2 + 1), template: newSums(f.n/2 + 1)}
	} else {
		m.follow.src.close()
	}
	m.follow.line, m.follow.src, m.follow.resample, m.follow.lost = best, src, newResampler(best.ratio), 0
	return nil
}

// segment follows the first frames of the kept tape, adds them to the sums, and drops the
// counted ones.
func (m *Match) segment(ctx context.Context, frames int) error {
	g, f := m.follow, m.follow.follower
	f.begin(stereo{m.tape[0][:frames], m.tape[1][:frames]})
	from := int64(math.Floor(g.line.at)) - int64(0.05*float64(m.ref.rate))
	to := from + int64(g.line.ratio*float64(frames)) + int64(0.1*float64(m.ref.rate))
	ref, err := g.src.window(ctx, from, to)
	if err != nil {
		return err
	}
	found := g.fit(ref, g.line.at-float64(from))
	if found {
		g.count(float64(m.used))
	}
	hops := len(f.lags) - 2*edgeHops
	g.advance(found, hops)
	g.lost++
	if found {
		g.lost = 0
	} else if g.lost == lostSegments {
		m.placed, m.tries = false, 0
	}
	m.drop(hops * f.hop)
	return nil
}

// fit resamples the reference to the tape's time. ahead is the position of the line's
// start in ref.
func (g *following) fit(ref stereo, ahead float64) bool {
	f := g.follower
	f.resample(g.resample, ref, g.line, ahead)
	if !f.findPath() {
		return false
	}
	for i := range refinements {
		f.resample(g.resample, ref, g.line, ahead)
		expected, reach := f.own(), firstReach
		if i > 0 && g.template.frames > 0 {
			expected = g.template // from earlier segments
		}
		if i > 1 {
			reach = lastReach
		}
		if float64(f.refine(expected.template(), reach)) < trustedShare*float64(len(f.lags)) {
			return false
		}
		if i+1 < refinements {
			f.move()
		}
	}
	return true
}

// count adds the segment to the sums. tapeStart is the number of its first frame of tape.
func (g *following) count(tapeStart float64) {
	f := g.follower
	whole := newSums(f.n/2 + 1)
	end := len(f.lags) - edgeHops
	f.sumInto(func() *sums { return whole }, edgeHops, end)
	f.sumInto(g.sums.current, edgeHops, end)
	g.template.add(whole, 1)
	g.counted += whole.frames
	time := f.middle(end-1) - f.middle(edgeHops)
	g.position += g.line.ratio * (time + f.lags[end-1] - f.lags[edgeHops])
	g.passed += time
	if !g.started {
		g.started = true
		g.start = g.line.at + g.line.ratio*(f.lags[0]-tapeStart)
	}
}

// advance moves the line to the beginning of the next segment; its slope is that of the
// segment just followed.
func (g *following) advance(found bool, hops int) {
	f := g.follower
	step := float64(hops * f.hop)
	next := g.line
	next.at += g.line.ratio * step
	if found && len(f.lags) > 4*edgeHops {
		offset, slope := straight(f)
		next.at = g.line.at + g.line.ratio*(step+offset+slope*step)
		next.ratio *= 1 + slope
	}
	g.line = next
}

// straight returns the least-squares straight line through a segment's lags: its value at
// the segment's start and its slope.
func straight(f *follower) (offset, slope float64) {
	n := float64(len(f.lags))
	centre := (f.middle(0) + f.middle(len(f.lags)-1)) / 2
	var mean, along, squares float64
	for i, lag := range f.lags {
		t := f.middle(i) - centre
		mean += lag / n
		along += lag * t
		squares += t * t
	}
	slope = along / squares
	return mean - slope*centre, slope
}
