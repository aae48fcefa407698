package jig

import "math"

// track is the jig's motion: its count at any time in its own microseconds.
//
// Each move is a leg. It follows the trapezoid of speed of LINK.md section 5. Its start
// is estimated from its first step (reported from link 1.2 on) and from the statuses on
// the way. Between two statuses the trapezoid is shifted to meet both. After a stop the
// leg is the trapezoid to the final count, since the ramp of a stop equals that of an
// end.
//
// Range: from the first move on; before it the jig stands. Failure mode: if the ramps
// differ from the greeted acceleration, the statuses still correct the track; the error
// is the difference that builds up between two statuses.
type track struct {
	legs []leg
	rest int32 // the count before the first leg
}

// leg is one move. Distances are microsteps from its start, in its direction.
type leg struct {
	from, to     int32
	speed, accel float64 // microsteps per second, per second squared
	ordered      uint64  // jig's microseconds: the last status before the order
	taken        bool    // the jig has taken the order
	stood        uint64  // jig's microseconds of the first status at the end; 0 before
	seen         []seen  // on the way
}

// seen is the distance that a leg had made at a time in the jig's microseconds.
type seen struct{ micros, way float64 }

// mostLegs is the number of legs kept.
const mostLegs = 64

// order adds a leg. It drops the leg before if the jig has not taken that.
func (t *track) order(l leg) {
	if n := len(t.legs); n > 0 && !t.legs[n-1].taken {
		t.legs = t.legs[:n-1]
	}
	if len(t.legs) == mostLegs {
		t.rest = t.legs[0].to
		t.legs = append(t.legs[:0], t.legs[1:]...)
	}
	t.legs = append(t.legs, l)
}

// taken records that the jig has taken the last leg.
func (t *track) taken() {
	if n := len(t.legs); n > 0 {
		t.legs[n-1].taken = true
	}
}

// stands returns when the last leg ended, in the jig's microseconds; 0 before any leg and
// while it turns.
func (t *track) stands() float64 {
	if n := len(t.legs); n > 0 && t.legs[n-1].stood > 0 {
		return t.legs[n-1].stands()
	}
	return 0
}

// heard adds a status.
func (t *track) heard(micros uint64, count int32, moving bool) {
	if len(t.legs) == 0 {
		t.rest = count
		return
	}
	l := &t.legs[len(t.legs)-1]
	switch {
	case !l.taken || l.stood > 0:
	case moving:
		if count != l.from {
			l.seen = append(l.seen, seen{float64(micros), l.way(count) + 0.5})
		}
	default:
		l.to, l.stood = count, micros
	}
}

// stepped records when the current leg made its first step.
func (t *track) stepped(micros uint64) {
	if n := len(t.legs); n > 0 && t.legs[n-1].taken && micros >= t.legs[n-1].ordered {
		l := &t.legs[n-1]
		if len(l.seen) == 0 || l.seen[0].way > 1 {
			l.seen = append([]seen{{float64(micros), 1}}, l.seen...)
		}
	}
}

func (l *leg) way(count int32) float64 { return math.Abs(float64(count) - float64(l.from)) }

// at returns the count at a time of the jig, in microseconds.
func (t *track) at(micros float64) float64 {
	for i := len(t.legs) - 1; i >= 0; i-- {
		if l := &t.legs[i]; l.taken && micros >= float64(l.ordered) {
			return l.at(micros)
		}
	}
	return float64(t.rest)
}

func (l *leg) at(micros float64) float64 {
	all := l.way(l.to)
	if l.stood > 0 && micros >= float64(l.stood) || all == 0 {
		return float64(l.to)
	}
	begun, known := l.begun()
	if !known && l.stood == 0 {
		return float64(l.from) // no status of it yet
	}
	way := l.distance((micros-begun)/1e6) + l.beside(micros, begun)
	way = math.Max(0, math.Min(all, way-0.5))
	return float64(l.from) + math.Copysign(way, float64(l.to)-float64(l.from))
}

// stands returns when the leg ended, in the jig's microseconds.
func (l *leg) stands() float64 {
	begun, known := l.begun()
	if !known {
		return float64(l.stood)
	}
	return math.Min(float64(l.stood), begun+1e6*l.seconds(l.way(l.to)))
}

// begun estimates when the trapezoid began, in the jig's microseconds. Each status on the
// way gives one estimate, weighted by the square of the speed, since a count is good to
// half a microstep. Without a status begun returns the middle of the possible range.
func (l *leg) begun() (micros float64, known bool) {
	var sum, weights float64
	for _, s := range l.seen {
		if s.way >= l.way(l.to) {
			continue
		}
		t := l.seconds(s.way)
		w := square(l.speedAt(t))
		sum += w * (s.micros - 1e6*t)
		weights += w
	}
	if weights > 0 {
		return sum / weights, true
	}
	latest := math.Max(float64(l.ordered), float64(l.stood)-1e6*l.seconds(l.way(l.to)))
	return (float64(l.ordered) + latest) / 2, false
}

// beside interpolates the residuals of the statuses around a time from the trapezoid, in
// microsteps.
func (l *leg) beside(micros, begun float64) float64 {
	n := len(l.seen)
	if n == 0 {
		return 0
	}
	off := func(s seen) float64 { return s.way - l.distance((s.micros-begun)/1e6) }
	k := 0
	for k < n && l.seen[k].micros < micros {
		k++
	}
	switch k {
	case 0:
		return off(l.seen[0])
	case n:
		return off(l.seen[n-1])
	}
	a, b := l.seen[k-1], l.seen[k]
	share := (micros - a.micros) / math.Max(b.micros-a.micros, 1)
	return off(a) + share*(off(b)-off(a))
}

// shape returns the peak speed of the trapezoid, and the time and distance of one ramp.
func (l *leg) shape() (peak, ramp, rampWay float64) {
	peak = math.Min(l.speed, math.Sqrt(l.way(l.to)*l.accel))
	return peak, peak / l.accel, peak * peak / (2 * l.accel)
}

// seconds returns the time to make a distance.
func (l *leg) seconds(way float64) float64 {
	all := l.way(l.to)
	peak, ramp, rampWay := l.shape()
	cruise := (all - 2*rampWay) / peak
	switch {
	case way <= 0:
		return 0
	case way < rampWay:
		return math.Sqrt(2 * way / l.accel)
	case way < all-rampWay:
		return ramp + (way-rampWay)/peak
	}
	return 2*ramp + cruise - math.Sqrt(2*math.Max(0, all-way)/l.accel)
}

// distance returns the distance made t seconds after the trapezoid began.
func (l *leg) distance(t float64) float64 {
	all := l.way(l.to)
	peak, ramp, rampWay := l.shape()
	cruise := (all - 2*rampWay) / peak
	switch {
	case t <= 0:
		return 0
	case t < ramp:
		return l.accel * t * t / 2
	case t < ramp+cruise:
		return rampWay + peak*(t-ramp)
	case t < 2*ramp+cruise:
		return all - l.accel*square(2*ramp+cruise-t)/2
	}
	return all
}

func (l *leg) speedAt(t float64) float64 {
	peak, ramp, rampWay := l.shape()
	cruise := (l.way(l.to) - 2*rampWay) / peak
	return math.Max(0, math.Min(peak, l.accel*math.Min(t, 2*ramp+cruise-t)))
}

func square(x float64) float64 { return x * x }
