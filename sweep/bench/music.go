package bench

import (
	"math"
	"math/rand/v2"
)

// The built-in music: drums with many cymbals, bass and chords, panned by amplitude
// alone, so no part has its own delay between the channels. Parts vary from bar to bar
// and from stroke to stroke, and with them the balance of treble and midrange.

// player adds its sounds to one loop and wraps them at its end.
type player struct {
	r           *rand.Rand
	left, right []float64
}

// music makes a loop of a number of frames at 120 beats a minute.
func music(seed uint64, frames int) *programme {
	p := &player{r: stream(seed, streamMusic), left: make([]float64, frames), right: make([]float64, frames)}
	const beat = Rate / 2
	roots := []float64{55, 65.41, 73.42, 82.41, 98} // A1 C2 D2 E2 G2
	cymbals, chords := 0.0, 0.0                     // dB, varying from bar to bar
	for bar := 0; bar*4*beat < frames; bar++ {
		cymbals = 0.6*cymbals + 1.2*p.r.NormFloat64()
		chords = 0.6*chords + 0.9*p.r.NormFloat64()
		at := bar * 4 * beat
		root := roots[p.r.IntN(len(roots))]
		p.drums(at, beat, amplitude(cymbals-4.5), bar)
		p.bass(at, beat, root)
		for half := range 2 {
			p.chord(at+half*2*beat, 2*beat, 4*root, amplitude(chords))
		}
	}
	return &programme{left: p.left, right: p.right, rate: Rate}
}

// drums plays one bar; gain applies to the cymbals.
func (p *player) drums(at, beat int, gain float64, bar int) {
	ride := p.r.IntN(2) == 0
	for eighth := range 8 {
		t := at + eighth*beat/2 + p.r.IntN(300)
		blow := gain * amplitude(1.5*p.r.NormFloat64())
		switch {
		case p.r.Float64() < 0.04: // a rest
		case ride:
			p.noise(t, 0.24*blow, 0.22, 4500, -0.5)
		case eighth == 7:
			p.noise(t, 0.35*blow, 0.16, 6000, 0.4)
		default:
			p.noise(t, 0.40*blow, 0.045, 7000, 0.4)
		}
	}
	if bar%4 == 0 {
		p.noise(at, 0.2*gain, 0.9, 3500, -0.3)
	}
	if p.r.IntN(3) == 0 {
		p.noise(at+2*beat, 0.15*gain, 0.7, 5000, 0.7)
	}
	for b := range 4 {
		t := at + b*beat
		if b%2 == 0 {
			p.drop(t, 0.9, 0.12, 110, 50)
			continue
		}
		hit := amplitude(1.5 * p.r.NormFloat64())
		p.noise(t, 0.5*hit, 0.09, 1200, 0.05)
		p.drop(t, 0.4*hit, 0.08, 220, 180)
	}
}

func (p *player) bass(at, beat int, root float64) {
	for eighth := range 8 {
		if p.r.Float64() < 0.25 {
			continue
		}
		p.note(at+eighth*beat/2, beat/2, root*[]float64{1, 1, 1.5, 2}[p.r.IntN(4)], 0.30, 0, 8, 1.6)
	}
}

func (p *player) chord(at, length int, root, gain float64) {
	third := []float64{1.1892, 1.2599}[p.r.IntN(2)] // minor or major
	for i, ratio := range []float64{1, third, 1.4983, 2} {
		p.note(at, length, root*ratio, 0.16*gain, []float64{-0.6, 0.6, -0.2, 0.3}[i], 14, 1.1)
	}
}

// pan returns the gains of both channels at equal power: -1 left, +1 right.
func pan(where float64) (left, right float64) {
	a := (where + 1) * math.Pi / 4
	return math.Cos(a), math.Sin(a)
}

// noise is a burst of noise above cutHz that decays with the time constant decay seconds.
func (p *player) noise(at int, gain, decay, cutHz, where float64) {
	gl, gr := pan(where)
	high := newHighpass(cutHz)
	fall := math.Exp(-1 / (decay * Rate))
	n := min(int(6*decay*Rate), len(p.left))
	i := at % len(p.left)
	for k := range n {
		attack := min(1, float64(k)/48)
		v := gain * attack * high.next(2*p.r.Float64()-1)
		p.left[i] += gl * v
		p.right[i] += gr * v
		gain *= fall
		if i++; i == len(p.left) {
			i = 0
		}
	}
}

// drop is a drum: a sine whose frequency falls from fromHz to toHz.
func (p *player) drop(at int, gain, decay, fromHz, toHz float64) {
	fall := math.Exp(-1 / (decay * Rate))
	hz, phase := fromHz, 0.0
	i := at % len(p.left)
	for range min(int(6*decay*Rate), len(p.left)) {
		v := gain * math.Sin(phase)
		p.left[i] += v * math.Sqrt2 / 2
		p.right[i] += v * math.Sqrt2 / 2
		phase += 2 * math.Pi * hz / Rate
		hz = toHz + (hz-toHz)*0.9993
		gain *= fall
		if i++; i == len(p.left) {
			i = 0
		}
	}
}

// note is a tone of several harmonics, each weaker by its number to the power slope, with
// a soft beginning and end.
func (p *player) note(at, length int, hz, gain, where float64, harmonics int, slope float64) {
	const size = 1024
	var cycle [size]float64
	for h := 1; h <= harmonics; h++ {
		a, phase := math.Pow(float64(h), -slope), 2*math.Pi*p.r.Float64()
		for k := range cycle {
			cycle[k] += a * math.Sin(2*math.Pi*float64(h*k)/size+phase)
		}
	}
	gl, gr := pan(where)
	fall := math.Exp(-1 / (0.9 * Rate))
	const edge = Rate / 100
	i, step, phase := at%len(p.left), hz*size/Rate, 0.0
	for k := range length {
		v := gain * cycle[int(phase)&(size-1)] * min(1, float64(k)/edge, float64(length-k)/edge)
		p.left[i] += gl * v
		p.right[i] += gr * v
		phase += step
		gain *= fall
		if i++; i == len(p.left) {
			i = 0
		}
	}
}
