// Package limits has the bound on the angle for a stated tape: the request, checked, in the forms
// that the bound and the virtual bench take, and its result.
package limits

import (
	"fmt"
	"math"
	"math/rand/v2"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/dsp"
	"headtrue/sweep/bench"
	"headtrue/sweep/bound"
	"headtrue/sweep/tape"
)

// Order is the request for limits, apart from the settings.
type Order struct {
	SNRDB, Coherence            float64
	Wander                      bound.Wander
	WanderShape                 string
	LevelDB, LevelS             float64
	SlowDB, SlowS, DwellS       float64
	Runs                        int
	Seed                        uint64
	LevelDBChosen, LevelSChosen bool
}

// Complete fills in the defaults that depend on the tape, and refuses impossible values.
func (o *Order) Complete(tone bool) error {
	db, s := 3.9, 0.38
	if tone {
		db, s = 0.3, 0.3
		o.SlowDB = 0
	}
	if !o.LevelDBChosen {
		o.LevelDB = db
	}
	if !o.LevelSChosen {
		o.LevelS = s
	}
	if o.WanderShape != "flat" && o.WanderShape != "1/f" {
		return app.Wrong("--wander-shape %q: must be flat or 1/f", o.WanderShape)
	}
	o.Wander.OneOverF = o.WanderShape == "1/f"
	if o.Wander.HighHz <= o.Wander.LowHz {
		return app.Wrong("--wander-high-hz %g: must be above --wander-low-hz, %g", o.Wander.HighHz, o.Wander.LowHz)
	}
	for _, r := range []struct {
		flag          string
		value, lo, hi float64
	}{
		{"snr-db", o.SNRDB, -10, 80}, {"coherence", o.Coherence, 0.001, 1},
		{"wander-arcmin", o.Wander.RMSArcmin, 0, 10}, {"wander-low-hz", o.Wander.LowHz, 0.01, 20}, {"wander-high-hz", o.Wander.HighHz, 0.02, 20},
		{"level-db", o.LevelDB, 0, 20}, {"level-s", o.LevelS, 0.001, 1000}, {"slow-db", o.SlowDB, 0, 20}, {"slow-s", o.SlowS, 0.001, 1000},
		{"dwell-s", o.DwellS, 0.2, 5}, {"runs", float64(o.Runs), 0, 10000},
	} {
		if !(r.value >= r.lo && r.value <= r.hi) {
			return app.Wrong("--%s %g: must lie between %g and %g", r.flag, r.value, r.lo, r.hi)
		}
	}
	return nil
}

// Tape is the stated tape in the form from which the bounds are computed.
func (o Order) Tape(s settings.Settings) bound.Tape {
	return bound.Tape{
		ToneHz: s.ToneHz, Treble: bound.Band{LowHz: dsp.TrebleLowHz, HighHz: dsp.TrebleHighHz},
		TrebleSNR: math.Pow(10, o.SNRDB/10), Coherence: o.Coherence, Wander: o.Wander,
		Fluctuations:     []bound.Fluctuation{{RMSDB: o.LevelDB, Seconds: o.LevelS}, {RMSDB: o.SlowDB, Seconds: o.SlowS}},
		ChannelDelaySDUS: s.ChannelDelaySDUS, DwellSeconds: o.DwellS,
		USPerArcmin: tape.StereoCassette.USPerArcmin(), Power: tape.StereoCassette.AzimuthPower,
	}
}

// Result is the JSON of limits.
type Result struct {
	Tape   map[string]any `json:"tape" help:"what was stated: tone_hz (0: programme), snr_db, coherence, wander_rms_arcmin, wander_shape, wander_low_hz, wander_high_hz, level_db, level_s, slow_db, slow_s, dwell_s, channel_delay_sd_us"`
	Bounds []Row          `json:"bounds" help:"one standard deviation of the best possible estimate, in arcmin"`
	Runs   *Standing      `json:"runs" help:"what the runs asked for with --runs reached, else null"`
}

// Row is the bound for a length of tape.
type Row struct {
	Seconds       float64 `json:"seconds" help:"length of tape"`
	HissAndWander float64 `json:"hiss_and_wander_arcmin" help:"by hiss and wander alone"`
	Delay         float64 `json:"delay_arcmin"`
	Level         float64 `json:"level_arcmin"`
	Both          float64 `json:"both_arcmin" help:"by the delay, by the levels and by both"`
	Unknown       float64 `json:"unknown_arcmin" help:"by both, with the fixed delay unknown"`
}

// Stated is the tape as it was stated.
func (o Order) Stated(s settings.Settings) map[string]any {
	return map[string]any{
		"tone_hz": s.ToneHz, "snr_db": o.SNRDB, "coherence": o.Coherence,
		"wander_rms_arcmin": o.Wander.RMSArcmin, "wander_shape": o.WanderShape, "wander_low_hz": o.Wander.LowHz, "wander_high_hz": o.Wander.HighHz,
		"level_db": o.LevelDB, "level_s": o.LevelS, "slow_db": o.SlowDB, "slow_s": o.SlowS, "dwell_s": o.DwellS,
		"channel_delay_sd_us": s.ChannelDelaySDUS,
	}
}

// Bench is the default virtual bench with the stated tape. The fixed delay of its channels is
// drawn from the prior in the settings.
func (o Order) Bench(s settings.Settings, seed uint64) (bench.Profile, error) {
	p, err := settings.Bench("default")
	if err != nil {
		return p, err
	}
	if s.ToneHz > 0 {
		p.Programme = app.VirtualTones(s.ToneHz)
	}
	p.Tape.TrebleSNdB = o.SNRDB
	p.Tape.WanderRMSArcmin, p.Tape.WanderShape = o.Wander.RMSArcmin, o.WanderShape
	p.Tape.WanderLowHz, p.Tape.WanderHighHz = o.Wander.LowHz, o.Wander.HighHz
	p.Deck.ChannelDelayUS = s.ChannelDelayUS + s.ChannelDelaySDUS*rand.New(rand.NewPCG(seed, 0)).NormFloat64()
	return p, nil
}

// Standing is the result of virtual alignments, beside the bound.
type Standing struct {
	Runs     int      `json:"runs"`
	Set      int      `json:"set" help:"number of runs, and of those that set the head"`
	ErrorRMS *float64 `json:"error_rms_arcmin"`
	Tape     *float64 `json:"tape_seconds" help:"rms error and mean tape of those that set the head; null without one"`
	Bound    *float64 `json:"bound_arcmin"`
	Ratio    *float64 `json:"ratio" help:"bound at these seconds, and the error over it; null without one"`
}

// Words is the standing as text; nil means that it was not requested.
func (s *Standing) Words() string {
	switch {
	case s == nil:
		return "This is the bound only; --runs 10 sets this program beside it."
	case s.Set == 0:
		return fmt.Sprintf("Where this program stands: of %d virtual alignments none set the head.", s.Runs)
	}
	return fmt.Sprintf("Where this program stands: %d of %d virtual alignments set the head, %.2f' rms from the\n"+
		"truth after %.1f s of tape on average, all moves and the search from as found included;\n"+
		"%.1f times the bound for so much tape, %.4f'.", s.Set, s.Runs, *s.ErrorRMS, *s.Tape, *s.Ratio, *s.Bound)
}

// StandingFrom converts the result of the runs.
func StandingFrom(s *app.Standing) *Standing {
	out := &Standing{Runs: s.Runs, Set: s.Set}
	if s.Set > 0 {
		ratio := s.ErrorRMSArcmin / s.BoundArcmin
		out.ErrorRMS, out.Tape, out.Bound, out.Ratio = &s.ErrorRMSArcmin, &s.MeanTapeSeconds, &s.BoundArcmin, &ratio
	}
	return out
}
