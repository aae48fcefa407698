package monitor

import (
	"headtrue/dsp/audio"
	"headtrue/dsp/speed"
)

// A meter of speed and flutter is replaced when it is turnSeconds old by one that began half
// of that earlier.
const turnSeconds = 30

// running measures how the tape runs by a tone in the last 15 to 30 s.
type running struct {
	settings speed.Settings
	named    bool
	meters   []*turn // the one that is shown first; empty if the sound cannot carry the tone
}

// turn is a meter with its age, and what it had heard at the last ticks.
type turn struct {
	meter   *speed.Meter
	seconds float64 // of sound since it began
	ticks   [lastTicks]tick
	result  speed.Result
}

// tick is the time with a tone, and the sum of its frequencies over that time.
type tick struct{ seconds, cycles float64 }

// lastTicks are those of a second of pieces.
const lastTicks = 4

func newRunning(rateHz int, toneHz float64) *running {
	r := &running{settings: speed.Settings{RateHz: rateHz, NominalHz: toneHz}, named: toneHz > 0}
	if speed.CanMeasure(rateHz, toneHz) {
		r.begin()
	}
	return r
}

func (r *running) begin() { r.meters = append(r.meters, &turn{meter: speed.New(r.settings)}) }

func (r *running) hear(b audio.Block) {
	for _, t := range r.meters {
		t.meter.Add(b)
		t.seconds += float64(int64(b.Frames())+b.Lost) / float64(r.settings.RateHz)
	}
}

// piece ends a piece of sound: the meters take turns.
func (r *running) piece() {
	if len(r.meters) == 0 {
		return
	}
	if first := r.meters[0]; first.seconds >= turnSeconds {
		r.meters = r.meters[1:]
	}
	if len(r.meters) == 1 && r.meters[0].seconds >= turnSeconds/2 {
		r.begin()
	}
	for _, t := range r.meters {
		copy(t.ticks[1:], t.ticks[:])
		t.ticks[0] = tick{t.result.Seconds, t.result.Seconds * t.result.CarrierHz}
		t.result = t.meter.Result()
	}
}

// show writes the figures. A tone that was not named counts only if it fills half of the
// sound: a steady note of music does not.
func (r *running) show(now *Now) {
	if len(r.meters) == 0 {
		return
	}
	t := r.meters[0]
	heard := t.result
	if heard.Seconds == 0 || !r.named && heard.Seconds < t.seconds/2 {
		return
	}
	before := t.ticks[lastTicks-1]
	if gone := heard.Seconds - before.seconds; gone > 0.5 {
		now.ToneHz = known((heard.Seconds*heard.CarrierHz-before.cycles)/gone, true)
	}
	if now.ToneHz == nil { // it has ended
		return
	}
	if heard.NominalHz > 0 {
		now.Nominal = &heard.NominalHz
		now.Speed = known(100*(*now.ToneHz/heard.NominalHz-1), true)
	}
	if s := heard.SpeedPercent; s != nil {
		now.SpeedMean, now.SpeedMeanSD = &s.Value, known(s.SD, s.SD < unknownSD)
	}
	now.FlutterS = &heard.FlutterSeconds
	if f := heard.Flutter; f != nil {
		now.FlutterPeak, now.FlutterRMS = &f.WeightedPeak, &f.RMS
	}
}
