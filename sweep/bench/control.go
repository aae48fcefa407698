package bench

// Rate is the sampling rate of the bench, in frames per second.
const Rate = 48000

// blockFrames is the length of the blocks that Next returns.
const blockFrames = 1024

// controlFrames is the period at which slow quantities are computed: 1 ms. Between two
// periods they are interpolated linearly.
const (
	controlFrames = 48
	controlRate   = Rate / controlFrames
)

// The recorded tracks are kept in tables of oversampling values a frame.
const (
	oversampling = 4
	tableRate    = Rate * oversampling
)

// ramp is a slow quantity within a control period.
type ramp struct{ now, step, target float64 }

// set makes the ramp reach a value after one control period.
func (r *ramp) set(to float64) {
	r.now, r.target = r.target, to
	r.step = (r.target - r.now) / controlFrames
}

func (r *ramp) next() float64 {
	v := r.now
	r.now += r.step
	return v
}

// hold makes the ramp stay at a value.
func (r *ramp) hold(at float64) { *r = ramp{now: at, target: at} }
