package monitor

import (
	"math"

	"headtrue/dsp"
	"headtrue/sweep/estimate"
)

const (
	mostPieces    = 48  // that are weighed
	freshPieces   = 16  // the newest, never joined
	longestPiece  = 2.0 // seconds of joined pieces
	stillSeconds  = 60.0
	movedAt       = 5.5 // deviations of a step that is no wander: the pieces of music have outliers
	toneShare     = 0.1 // of a period: the greatest noise of a phase that is counted on
	silentSeconds = 2.0 // without a usable delay all begins anew
)

// phaseCount counts the whole periods of a tone from update to update.
type phaseCount struct {
	begun   bool
	us      float64 // the newest delay, periods counted
	seconds float64 // when that was
}

// follow returns the delay nearest to the last one; ok is false if it cannot be counted on.
func (p *phaseCount) follow(r dsp.Reading, seconds float64) (us float64, ok bool) {
	period := float64(r.DelayPeriod)
	if period > 0 && !(float64(r.DelayNoiseSD) < toneShare*period) {
		return 0, false
	}
	us = float64(r.Delay)
	if p.begun && period > 0 {
		us = p.us + math.Remainder(us-p.us, period)
	}
	p.begun, p.us, p.seconds = true, us, seconds
	return us, true
}

// standing holds the pieces heard since the head stands still.
type standing struct {
	pieces  []estimate.Piece
	still   estimate.Still
	known   bool           // still is that of the pieces
	tape    estimate.Still // of the last stay that was long enough to learn the tape's wander
	learned bool
	turns   int
}

// learnPieces are enough of them to learn the wander.
const learnPieces = 16

// add takes the next piece, and begins anew if the head has turned.
func (s *standing) add(p estimate.Piece) {
	s.pieces = append(s.pieces, p)
	if s.known {
		by := s.still
		if len(s.pieces) <= learnPieces {
			by = s.first()
		}
		if first, deviations := by.Moved(s.pieces); deviations > movedAt {
			if len(s.pieces) > learnPieces {
				s.tape, s.learned = s.still, true
			}
			if first < len(s.pieces)-1 {
				first++ // the head may still have turned in the first piece after the step
			}
			s.pieces = append(s.pieces[:0], s.pieces[first:]...)
			s.turns++
		}
	}
	s.join()
	s.still, s.known = estimate.StillOf(s.pieces, s.tape), true
}

// first is the stay by which the first pieces are judged: the last one on this tape, or, before
// there is one, their own.
func (s *standing) first() estimate.Still {
	if s.learned {
		return s.tape
	}
	return s.still
}

// join keeps the number of pieces small: old ones become one with their neighbours, and those
// that are too old are dropped.
func (s *standing) join() {
	newest := s.pieces[len(s.pieces)-1].AtSeconds
	for s.pieces[0].AtSeconds < newest-stillSeconds {
		s.pieces = append(s.pieces[:0], s.pieces[1:]...)
	}
	if len(s.pieces) <= mostPieces {
		return
	}
	old := len(s.pieces) - freshPieces
	kept := s.pieces[:0]
	for i := 0; i < len(s.pieces); i++ {
		p := s.pieces[i]
		if i+1 < old && p.Seconds+s.pieces[i+1].Seconds <= longestPiece {
			p = joined(p, s.pieces[i+1])
			i++
		}
		kept = append(kept, p)
	}
	s.pieces = kept
}

// joined returns two neighbouring pieces as one, weighted by time as the wander asks for.
func joined(a, b estimate.Piece) estimate.Piece {
	share := a.Seconds / (a.Seconds + b.Seconds)
	return estimate.Piece{
		AtSeconds: share*a.AtSeconds + (1-share)*b.AtSeconds, Seconds: a.Seconds + b.Seconds,
		TiltArcmin:    share*a.TiltArcmin + (1-share)*b.TiltArcmin,
		NoiseSDArcmin: math.Hypot(share*a.NoiseSDArcmin, (1-share)*b.NoiseSDArcmin),
	}
}

// forget drops all pieces: the sound is another one, or the count of periods has begun anew.
func (s *standing) forget() { *s = standing{pieces: s.pieces[:0], turns: s.turns} }

// seconds is the sound that counts.
func (s *standing) seconds() (sum float64) {
	for _, p := range s.pieces {
		sum += p.Seconds
	}
	return sum
}
