package monitor

import (
	"math"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/sweep/estimate"
	"headtrue/sweep/faults"
	"headtrue/sweep/tape"
)

// Lengths of sound, seconds.
const (
	updateSeconds = 0.04
	pieceSeconds  = 0.25
	slowSeconds   = 2.0
	levelSeconds  = 0.4
	trebleSeconds = 1.0
	holdSeconds   = 2.0
)

const (
	unknownSD = dsp.UnknownSD
	phaseHz   = 10000 // for which the phase of a programme is stated
)

// Settings are what a monitor is made for: the sound, the tones as dsp.NewMeter takes them (0
// and none for a programme), the tape, and the fixed delay of the right channel.
type Settings struct {
	RateHz       int
	ToneHz       float64
	FurtherHz    []float64
	Tape         tape.Format
	FixedDelayUS float64
}

// Monitor turns blocks of sound into snapshots. Several goroutines must not use it at once.
type Monitor struct {
	Settings
	begun  bool
	first  int64 // sample number of the first block
	next   int64 // sample number expected
	lost   int64
	lostAt float64 // seconds at which frames were lost last
	update int     // frames of the update that is heard
	heard  int     // frames of it so far

	levels      levels
	quick       *dsp.Meter // of the update
	piece, slow *dsp.Meter
	pieceFrames int // of the piece so far
	slowFrames  int
	history     history
	count       phaseCount
	standing    standing
	running     *running

	live        float64 // delay of the newest piece, periods counted
	liveAt      float64 // seconds
	period      float64 // of the delay, 0 if it is whole
	slowReading dsp.Reading
	slowKnown   bool
	last        Now
}

// New makes a monitor. It panics if dsp.NewMeter cannot be made for the rate and the tones.
func New(s Settings) *Monitor {
	meter := func() *dsp.Meter { return dsp.NewMeter(s.RateHz, s.ToneHz, s.FurtherHz...) }
	return &Monitor{
		Settings: s, update: int(math.Round(updateSeconds * float64(s.RateHz))), lostAt: math.Inf(-1), liveAt: math.Inf(-1),
		quick: meter(), piece: meter(), slow: meter(), running: newRunning(s.RateHz, s.ToneHz),
	}
}

// Add adds the next block, and hands over the snapshots that become due in it.
func (m *Monitor) Add(b audio.Block, show func(Now)) {
	if !m.begun {
		m.begun, m.first, m.next = true, b.Start-b.Lost, b.Start-b.Lost
	}
	if lost := max(b.Lost, b.Start-m.next); lost > 0 || b.Start != m.next {
		m.lost += lost
		m.lostAt = m.secondsAt(b.Start)
		m.forget()
	}
	for from := 0; from < b.Frames(); {
		to := min(from+m.update-m.heard, b.Frames())
		part := audio.Block{Start: b.Start + int64(from), Left: b.Left[from:to], Right: b.Right[from:to]}
		if from == 0 {
			part.Lost, part.NotNumbers = b.Lost, b.NotNumbers
		}
		m.hear(part)
		if m.heard == m.update {
			m.heard = 0
			m.tick()
			show(m.last)
		}
		from = to
	}
	m.next = b.End()
}

func (m *Monitor) secondsAt(sample int64) float64 {
	return float64(sample-m.first) / float64(m.RateHz)
}

// forget begins the count of periods, and what hangs on it, anew.
func (m *Monitor) forget() {
	m.count = phaseCount{}
	m.standing.forget()
	m.piece.Reset()
	m.pieceFrames = 0
	m.liveAt = math.Inf(-1)
	m.history.forgetDelays()
}

func (m *Monitor) hear(part audio.Block) {
	m.levels.hear(part)
	m.running.hear(part)
	for _, meter := range []*dsp.Meter{m.quick, m.piece, m.slow} {
		meter.Add(part)
	}
	n := part.Frames()
	m.heard += n
	m.pieceFrames += n
	m.slowFrames += n
	m.next = part.End()
}

// tick ends an update.
func (m *Monitor) tick() {
	now := m.secondsAt(m.next)
	r := m.quick.Reading()
	m.quick.Reset()
	e := entry{power: m.levels.take(), reading: r, delay: math.NaN()}
	if m.ToneHz > 0 && faults.ToneThere(r) {
		if us, ok := m.count.follow(r, now); ok {
			e.delay = us
		}
	}
	m.history.add(e)
	if m.count.begun && now-m.count.seconds > silentSeconds || m.standing.known && now-m.liveAt > silentSeconds {
		m.forget()
	}
	if float64(m.pieceFrames) >= pieceSeconds*float64(m.RateHz) {
		m.endPiece(now)
	}
	if float64(m.slowFrames) >= slowSeconds*float64(m.RateHz) {
		m.slowReading, m.slowKnown = m.slow.Reading(), true
		m.slow.Reset()
		m.slowFrames = 0
	}
	m.last = m.snapshot(now)
}

// endPiece takes the delay of a piece, if it means anything.
func (m *Monitor) endPiece(now float64) {
	r := m.piece.Reading()
	seconds := float64(m.pieceFrames) / float64(m.RateHz)
	m.piece.Reset()
	m.pieceFrames = 0
	m.running.piece()
	if !m.usable(r) {
		return
	}
	m.period = float64(r.DelayPeriod)
	us := float64(r.Delay)
	if m.period > 0 {
		if !m.count.begun {
			return
		}
		near := m.history.meanDelay(pieceSeconds, m.count.us)
		us = near + math.Remainder(us-near, m.period)
	}
	m.live, m.liveAt = us, now
	noise := float64(r.DelayNoiseSD)
	if m.ToneHz == 0 {
		noise = float64(r.DelaySD) // its power is that of a few loud moments, and the wander is another in each
	}
	m.standing.add(estimate.Piece{AtSeconds: now - seconds/2, Seconds: seconds,
		TiltArcmin: m.Tape.Arcmin(us), NoiseSDArcmin: m.Tape.Arcmin(noise)})
}

// usable reports whether the delay of a reading means anything; the limits are those of
// estimate.DelayUsable.
func (m *Monitor) usable(r dsp.Reading) bool {
	sd := float64(r.DelaySD)
	switch {
	case max(r.Level[0], r.Level[1]) < faults.SilentDBFS || faults.DeadChannel(pair(r.Level)) >= 0 || faults.Same(r):
		return false
	case m.ToneHz > 0 && !faults.ToneThere(r):
		return false
	case r.DelayPeriod > 0:
		return r.Coherence > 0.4 && sd < float64(r.DelayPeriod)/5
	}
	return r.Coherence > 0.02 && sd > 0 && sd < 30
}

func pair(v [2]dsp.Decibels) [2]float64 { return [2]float64{float64(v[0]), float64(v[1])} }

// Summary returns what was heard in all.
func (m *Monitor) Summary() Summary {
	s := Summary{Seconds: m.secondsAt(m.next), LostFrames: m.lost, Turns: m.standing.turns, Last: m.last}
	for c, all := range m.levels.all {
		all.add(m.levels.now[c])
		s.LevelDBFS[c], s.PeakDBFS[c] = all.levelDBFS(), all.peakDBFS()
		s.ClippedSeconds[c] = float64(m.history.clipped[c]) * updateSeconds
	}
	return s
}
