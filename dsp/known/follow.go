package known

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/interp"
)

const (
	segmentHops = 256 // counted in one segment, 5.5 s
	edgeHops    = 8   // followed but not counted, at either end

	followLowHz  = 300.0
	followHighHz = 14000.0
	refinements  = 3
	firstReach   = 4.0 // the most by which a refinement may move a frame, in frames of tape
	lastReach    = 1.0 // the same for the last refinement

	trustMatch   = 0.3    // correlation below which a frame is not used
	trustSeconds = 3e-6   // standard error of a frame's lag above which it is not used
	trustError   = 0.0025 // error power re the tape's assumed in every bin
)

// follower follows one segment of tape at a time. The reference is placed along a
// straight line of position against time; lags are the shifts, in frames of tape, that
// make it fit, frame by frame.
type follower struct {
	rate, n, hop, low, high int
	window                  []float64
	fft                     *fourier.FFT
	framed                  []float64
	tape, ref               [][2][]complex128 // spectra by frame and channel
	lags                    []float64         // by frame
	rest                    []float64         // by frame: lag that remained in the last refinement
	trusted                 []bool
	turn                    []complex128
	mixed                   []complex128
}

func newFollower(rate int) *follower {
	n, frames := frameLength(rate), segmentHops+2*edgeHops
	f := &follower{rate: rate, n: n, hop: n / 2, window: hann(n), fft: fourier.NewFFT(n),
		framed: make([]float64, n), lags: make([]float64, frames), rest: make([]float64, frames),
		trusted: make([]bool, frames), turn: make([]complex128, n/2+1), mixed: make([]complex128, n/2+1)}
	hz := float64(rate) / float64(n)
	f.low, f.high = int(math.Ceil(followLowHz/hz)), min(int(followHighHz/hz), n/2-1)
	for range frames {
		var t, r [2][]complex128
		for c := range 2 {
			t[c], r[c] = make([]complex128, n/2+1), make([]complex128, n/2+1)
		}
		f.tape, f.ref = append(f.tape, t), append(f.ref, r)
	}
	return f
}

// length returns the tape needed for a segment of this many frames.
func (f *follower) length(frames int) int { return (frames-1)*f.hop + f.n }

// middle returns the time of a frame, in frames of tape from the segment's start.
func (f *follower) middle(frame int) float64 { return float64(frame*f.hop + f.n/2) }

// begin takes the tape of the next segment.
func (f *follower) begin(tape stereo) {
	frames := min(segmentHops+2*edgeHops, (len(tape[0])-f.n)/f.hop+1)
	f.lags, f.rest, f.trusted = f.lags[:frames], f.rest[:frames], f.trusted[:frames]
	clear(f.lags)
	f.transform(f.tape, tape)
}

func (f *follower) transform(into [][2][]complex128, x stereo) {
	for i := range f.lags {
		for c := range 2 {
			for j, w := range f.window {
				f.framed[j] = w * x[c][i*f.hop+j]
			}
			f.fft.Coefficients(into[i][c], f.framed)
		}
	}
}

// resample places the reference along the line and the lags. Position line.at is ahead
// frames after the start of ref.
func (f *follower) resample(r *resampler, ref stereo, line place, ahead float64) {
	out := newStereo(f.length(len(f.lags)))
	lag := f.smoothLags()
	for i := range out[0] {
		t := float64(i)
		out[0][i], out[1][i] = r.at(ref, ahead+line.ratio*(t+lag(t)))
	}
	f.transform(f.ref, out)
}

// smoothLags returns a natural cubic spline through the lags of the trusted frames, level
// at both ends.
func (f *follower) smoothLags() func(t float64) float64 {
	var at, lag []float64
	for i, v := range f.lags {
		if f.trusted[i] {
			at, lag = append(at, f.middle(i)), append(lag, v)
		}
	}
	switch len(at) {
	case 0:
		return func(float64) float64 { return 0 }
	case 1:
		return func(float64) float64 { return lag[0] }
	}
	var spline interp.NaturalCubic
	if err := spline.Fit(at, lag); err != nil {
		panic("known: times of frames rise: " + err.Error())
	}
	return spline.Predict
}

// bridge sets the lags of all frames, also of those not trusted, to the spline.
func (f *follower) bridge() {
	lag := f.smoothLags()
	for i := range f.lags {
		f.lags[i] = lag(f.middle(i))
	}
}

// template is the expected response of each channel from reference to tape, and the noise
// beside it, by bin.
type template struct {
	response [2][]complex128
	noise    [2][]float64
}

func (s *sums) template() *template {
	t := &template{}
	for c := range 2 {
		bins := len(s.ref[c])
		t.response[c], t.noise[c] = make([]complex128, bins), make([]float64, bins)
		for k := range bins {
			_, t.noise[c][k] = s.shared(c, k)
			if s.ref[c][k] > 0 {
				t.response[c][k] = s.cross[c][k] / complex(s.ref[c][k], 0)
			}
		}
		t.noise[c] = runningMean(t.noise[c], smoothBins)
		for k := range bins {
			t.noise[c][k] += trustError*s.tape[c][k]/float64(max(1, s.frames)) + 1e-30
		}
	}
	return t
}

// smoothBins is the number of bins to either side over which noise is averaged.
const smoothBins = 8

// own returns the sums of the segment's frames in their present position.
func (f *follower) own() *sums {
	s := newSums(f.n/2 + 1)
	f.sumInto(func() *sums { return s }, 0, len(f.lags))
	return s
}

// sumInto adds the trusted frames of a range to the sums returned by current.
func (f *follower) sumInto(current func() *sums, from, to int) (counted int) {
	for i := from; i < to; i++ {
		if !f.trusted[i] {
			continue
		}
		step := cmplx.Rect(1, -f.rest[i]*2*math.Pi/float64(f.n))
		f.turn[0] = 1
		for k := 1; k < len(f.turn); k++ {
			f.turn[k] = f.turn[k-1] * step
		}
		current().addFrame(f.tape[i], f.ref[i], f.turn)
		counted++
	}
	return counted
}

// refine finds the residual lag of each frame against the template, for both channels
// together, by maximum likelihood: the largest real part of Σ tape conj(expected)/noise
// turned back by the lag, within reach frames of tape. It returns the number of trusted
// frames.
func (f *follower) refine(t *template, reach float64) (count int) {
	for i := range f.lags {
		var tapeSize, refSize float64
		for k := f.low; k <= f.high; k++ {
			f.mixed[k] = 0
			for c := range 2 {
				x, e := f.tape[i][c][k], f.ref[i][c][k]*t.response[c][k]
				f.mixed[k] += x * complex(real(e)/t.noise[c][k], -imag(e)/t.noise[c][k])
				tapeSize += power(x) / t.noise[c][k]
				refSize += power(e) / t.noise[c][k]
			}
		}
		lag, height, steepness := f.leftOver(reach)
		match := height / math.Sqrt(tapeSize*refSize+1e-30)
		// Neighbouring bins under a Hann window are correlated: 1.5 bins are one (ENBW).
		deviation := math.Sqrt(0.5 * 1.5 / max(steepness, 1e-30))
		f.trusted[i] = match > trustMatch && deviation < trustSeconds*float64(f.rate)
		f.rest[i] = 0
		if f.trusted[i] {
			f.rest[i] = lag
			count++
		}
	}
	return count
}

// leftOver scans reach frames of tape to either side, then refines. Lags are in frames of
// tape.
func (f *follower) leftOver(reach float64) (lag, height, steepness float64) {
	for at := -reach; at <= reach; at += 0.5 {
		if h, _, _ := f.turned(at); h > height {
			lag, height = at, h
		}
	}
	for range 4 {
		h, across, along := f.turned(lag)
		height, steepness = h, along
		if along <= 0 {
			return 0, 0, 0
		}
		lag += max(-0.5, min(0.5, across/along))
	}
	return lag, height, steepness
}

// turned sums the real part, ω times the imaginary and ω² times the real part of the
// mixed spectrum turned back by a lag.
func (f *follower) turned(lag float64) (height, across, along float64) {
	omega := 2 * math.Pi / float64(f.n)
	unit, step := cmplx.Rect(1, -lag*omega*float64(f.low)), cmplx.Rect(1, -lag*omega)
	for k := f.low; k <= f.high; k++ {
		z, w := f.mixed[k]*unit, omega*float64(k)
		height += real(z)
		across += w * imag(z)
		along += w * w * real(z)
		unit *= step
	}
	return height, across, along
}

// move adds the rest to the lags, so that the next resampling includes it.
func (f *follower) move() {
	for i, rest := range f.rest {
		f.lags[i] += rest
	}
	clear(f.rest)
	f.bridge()
}
