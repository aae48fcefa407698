package bench

import "math"

// head reads the two tracks of the tape.
type head struct {
	rate     ramp
	position float64 // in the loop, table values
	gap      [2]gap
	contact  [2]*contact // nil if the contact never changes
}

// gap is one channel of the head.
type gap struct {
	gapLine
	delay  float64 // fixed delay, in table values
	offset ramp    // delay of the middle of the track, in table values
	half   ramp    // half the delay across the width of the track
	spacing
}

// valuesPerMM is the number of table values per millimetre of tape.
const valuesPerMM = tableRate / tapeSpeed

func newHead(d Deck, channelDelayUS float64) *head {
	h := &head{}
	for c := range h.gap {
		h.gap[c].gapLine = newGapLine(d, c)
		if d.ContactDBPerArcmin != 0 {
			h.contact[c] = newContact()
		}
	}
	h.gap[1].delay = channelDelayUS * 1e-6 * tableRate
	return h
}

// control sets the targets for the next control period.
func (h *head) control(rate, tiltArcmin float64, spacingDB [2]float64, contactDB float64) {
	h.rate.set(rate)
	for c := range h.gap {
		g := &h.gap[c]
		g.offset.set(g.centre*math.Tan(tiltArcmin*arcmin)*valuesPerMM + g.delay)
		g.half.set(g.width / 2 * math.Tan((tiltArcmin+g.skew)*arcmin) * valuesPerMM)
		g.amount.set(spacingDB[c] / spacingUnitDB)
		if h.contact[c] != nil {
			h.contact[c].set(contactDB)
		}
	}
}

// settle sets all ramps to their targets.
func (h *head) settle() {
	h.rate.hold(h.rate.target)
	for c := range h.gap {
		g := &h.gap[c]
		for _, r := range []*ramp{&g.offset, &g.half, &g.amount} {
			r.hold(r.target)
		}
	}
}

// read fills both channels. A nil tape gives silence, but the filters run on.
func (h *head) read(t *tape, left, right []float64) {
	if t == nil {
		clear(left)
		clear(right)
		t = &tape{}
	}
	l, r := t.track[0], t.track[1]
	for i := range left {
		if l != nil {
			left[i] = h.gap[0].read(l, h.position-h.gap[0].offset.next(), h.gap[0].half.next())
			right[i] = h.gap[1].read(r, h.position-h.gap[1].offset.next(), h.gap[1].half.next())
			h.position += h.rate.next()
			if h.position >= float64(l.n) {
				h.position -= float64(l.n)
			}
		}
	}
	h.gap[0].apply(left)
	h.gap[1].apply(right)
	h.contact[0].apply(left)
	h.contact[1].apply(right)
}

// spacing is the varying distance of tape and head. A distance d costs exp(-2 pi
// d/lambda), so a small change of d changes the signal in proportion to frequency: a part
// of the signal, filtered with the Fourier series of |w| cut after three terms, is added.
type spacing struct {
	amount ramp
	past   [2 * spacingReach]float64
}

const spacingReach = 5

// Taps of |w| = pi/2 - 4/pi (cos w + cos 3w/9 + cos 5w/25 + ...).
const (
	spacingTap0 = math.Pi / 2
	spacingTap1 = -2 / math.Pi
	spacingTap3 = spacingTap1 / 9
	spacingTap5 = spacingTap1 / 25
)

// spacingUnitDB is the gain at 10 kHz, in dB, for an amount of 1.
var spacingUnitDB = func() float64 {
	w := 2 * math.Pi * 10000 / Rate
	response := spacingTap0 + 2*(spacingTap1*math.Cos(w)+spacingTap3*math.Cos(3*w)+spacingTap5*math.Cos(5*w))
	return response * 20 / math.Ln10
}()

// apply filters x in place; the sound comes out spacingReach frames later.
func (s *spacing) apply(x []float64) {
	var line [controlFrames + 2*spacingReach]float64
	n := copy(line[:], s.past[:])
	n += copy(line[n:], x)
	for i := range x {
		p := line[i : i+11 : i+11]
		change := spacingTap0*p[5] + spacingTap1*(p[4]+p[6]) + spacingTap3*(p[2]+p[8]) + spacingTap5*(p[0]+p[10])
		x[i] = p[5] + s.amount.next()*change
	}
	copy(s.past[:], line[n-2*spacingReach:n])
}
