package bench

import (
	"math"
	"math/rand/v2"
)

// electronics is everything after the head: the tape's hiss, crosstalk, amplifiers, hum,
// the jig's own noise, and the sound input.
type electronics struct {
	crosstalk   float64
	hissRMS     [2]float64
	noiseRMS    float64
	holdRMS     float64
	stepRMS     float64
	hiss        *rand.Rand
	noise       *rand.Rand
	motor       *rand.Rand
	hum         complex128 // turns once per period of the hum
	humStep     complex128
	dc          float64
	dull        [2]dulling
	programme   [2]ramp // gain of the programme
	hissGain    ramp
	gain        [2]ramp // gain of the channels, with sign
	input       ramp    // gain of the sound input
	agc         ramp
	agcPower    float64
	heard       float64 // power since the last control period
	motorRMS    float64
	dulled      bool
	swapped     bool
	silent      bool
	inputGainDB float64
	imbalanceDB float64
}

func newElectronics(p Profile, seed uint64, hissRMS [2]float64) *electronics {
	d := p.Deck
	e := &electronics{
		hissRMS: hissRMS, noiseRMS: noiseRMS(d.ElectronicsDBFS),
		holdRMS: noiseRMS(d.MotorHoldingDBFS), stepRMS: noiseRMS(d.MotorSteppingDBFS),
		hiss: stream(seed, streamHiss), noise: stream(seed, streamElectronics), motor: stream(seed, streamMotor),
		hum: complex(math.Sqrt2*noiseRMS(d.HumDBFS), 0), dc: p.Sound.DC,
		dull: [2]dulling{newDulling(), newDulling()}, inputGainDB: p.Sound.GainDB, imbalanceDB: d.ImbalanceDB,
	}
	if d.CrosstalkDB > -150 {
		e.crosstalk = amplitude(d.CrosstalkDB)
	}
	s, c := math.Sincos(2 * math.Pi * d.HumHz / Rate)
	e.humStep = complex(c, s)
	return e
}

// control sets the targets for the next control period, at t seconds.
func (e *electronics) control(t float64, faults []Fault, s shaft, balanceDB float64, contact [2]float64) {
	running := 1.0
	if find(faults, TapeEnds, t) != nil {
		running = 0
	}
	e.hissGain.set(running)
	for c := range 2 {
		e.programme[c].set(running * contact[c])
		side := float64(2*c - 1)
		gain := amplitude(side * (balanceDB + e.imbalanceDB) / 2)
		if channelFault(faults, DeadChannel, c, t) {
			gain = 0
		}
		e.gain[c].set(gain)
		if channelFault(faults, InvertedChannel, c, t) {
			e.gain[c].hold(-gain)
		}
	}
	e.motorNoise(s)
	e.inputControl(t, faults)
}

func (e *electronics) motorNoise(s shaft) {
	switch {
	case s.stepping:
		e.motorRMS = e.stepRMS
	case s.energised:
		e.motorRMS = e.holdRMS
	default:
		e.motorRMS = 0
	}
}

// agcTarget is the power that an automatic gain control holds: -14 dBFS.
var agcTarget = math.Pow(noiseRMS(-14), 2)

func (e *electronics) inputControl(t float64, faults []Fault) {
	e.dulled = find(faults, NoTreble, t) != nil
	e.swapped = find(faults, SwappedChannels, t) != nil
	e.silent = find(faults, Silence, t) != nil
	db := e.inputGainDB
	if f := find(faults, Clipped, t); f != nil {
		db += f.GainDB
		if f.GainDB == 0 {
			db += 30
		}
	}
	e.input.set(amplitude(db))

	power := e.heard / (2 * controlFrames)
	e.heard = 0
	seconds := 0.5 // release
	if power > e.agcPower {
		seconds = 0.02
	}
	e.agcPower += (power - e.agcPower) / (seconds * controlRate)
	gain := 1.0
	if find(faults, AGC, t) != nil {
		gain = max(amplitude(-30), min(amplitude(30), math.Sqrt(agcTarget/max(e.agcPower, 1e-12))))
	}
	e.agc.set(gain)
}

// settle sets all ramps to their targets.
func (e *electronics) settle() {
	for _, r := range []*ramp{&e.programme[0], &e.programme[1], &e.hissGain, &e.gain[0], &e.gain[1], &e.input, &e.agc} {
		r.hold(r.target)
	}
}

// apply converts the output of the head to the input of the computer, in place.
func (e *electronics) apply(left, right []float64) {
	for i := range left {
		l, r := left[i]*e.programme[0].next(), right[i]*e.programme[1].next()
		if e.dulled {
			l, r = e.dull[0].next(l), e.dull[1].next(r)
		}
		l, r = l+e.crosstalk*r, r+e.crosstalk*l
		h := e.hissGain.next()
		l = (l + h*e.hissRMS[0]*e.hiss.NormFloat64()) * e.gain[0].next()
		r = (r + h*e.hissRMS[1]*e.hiss.NormFloat64()) * e.gain[1].next()
		hum := e.nextHum()
		l += hum + e.noiseRMS*e.noise.NormFloat64()
		r += hum + e.noiseRMS*e.noise.NormFloat64()
		if e.motorRMS > 0 {
			m := e.motorRMS * e.motor.NormFloat64()
			l, r = l+m, r+m
		}
		g := e.input.next()
		l, r = l*g, r*g
		e.heard += l*l + r*r
		g = e.agc.next()
		l, r = clip(l*g+e.dc), clip(r*g+e.dc)
		switch {
		case e.silent:
			l, r = 0, 0
		case e.swapped:
			l, r = r, l
		}
		left[i], right[i] = l, r
	}
}

// nextHum returns the fundamental plus the third harmonic, 10 dB lower (sin 3x = 3 sin x
// - 4 sin^3 x).
func (e *electronics) nextHum() float64 {
	if e.hum == 0 {
		return 0
	}
	e.hum *= e.humStep
	a := math.Sqrt(real(e.hum)*real(e.hum) + imag(e.hum)*imag(e.hum))
	s := imag(e.hum) / a
	return a * (s + 0.316228*s*(3-4*s*s))
}

func clip(x float64) float64 { return max(-1, min(1, x)) }
