package measure

import (
	"context"
	"fmt"
	"math"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/dsp/speed"
)

// Running is how the tape runs, by a tone on it. A nil field is not known: there is no steady
// tone, or too little of it.
type Running struct {
	SpeedPercent      *float64    `json:"speed_error_percent"`
	SpeedSDPercent    *float64    `json:"speed_error_sd_percent" help:"of the tape by the tone, positive if fast, and its standard uncertainty; the clock of the sound device is taken as true"`
	SpeedNominalHz    *float64    `json:"speed_nominal_hz" help:"frequency of the tone at the right speed: the one named, or a usual one within 5 %"`
	FlutterWeighted   *float64    `json:"flutter_weighted_percent" help:"weighted peak flutter, 2-sigma, IEC 60386 (AES6-2008)"`
	FlutterRMS        *float64    `json:"flutter_rms_percent" help:"unweighted rms of wow and flutter, 0.2 to 200 Hz"`
	FlutterSeconds    *float64    `json:"flutter_seconds" help:"sound that counts for the flutter; 10 s are needed; null if no tone was named and none is heard"`
	FlutterCarrierHz  *float64    `json:"flutter_carrier_hz" help:"mean frequency of the tone by which speed and flutter were measured"`
	ToneLevelDBFS     [2]*float64 `json:"tone_level_dbfs" help:"level of that tone [left, right]; a full-scale sine is 0"`
	ToneLevelDB       *float64    `json:"tone_level_re_reference_db" help:"level of that tone, both channels together, against reference_level_dbfs of the settings"`
	ToneBalanceDB     *float64    `json:"tone_balance_db" help:"left minus right"`
	ToneDropouts      *int        `json:"tone_dropouts" help:"short holes of that tone, left out"`
	LevelDriftDB      *float64    `json:"level_drift_db_per_min"`
	LevelDriftSDDB    *float64    `json:"level_drift_sd_db_per_min" help:"slope of the tone's level, both channels together, and its standard uncertainty"`
	SpeedDriftPercent *float64    `json:"speed_drift_percent_per_min"`
	SpeedDriftSD      *float64    `json:"speed_drift_sd_percent_per_min" help:"slope of the speed, and its standard uncertainty"`
}

// alsoTimed is a source that also passes its blocks to a speed meter.
type alsoTimed struct {
	audio.Source
	meter *speed.Meter
}

func (s alsoTimed) Next(ctx context.Context) (audio.Block, error) {
	b, err := s.Source.Next(ctx)
	if err == nil {
		s.meter.Add(b)
	}
	return b, err
}

// runningFrom converts the result for the sound of the given seconds. A tone that was not named
// counts only if it fills half of the sound: a steady note of music does not.
func runningFrom(r speed.Result, named bool, seconds float64) (run Running) {
	if !named && (r.Seconds == 0 || r.Seconds < seconds/2) {
		return run
	}
	run.FlutterSeconds = &r.FlutterSeconds
	if r.Seconds == 0 {
		return run
	}
	run.FlutterCarrierHz = &r.CarrierHz
	run.ToneBalanceDB, run.ToneDropouts = r.BalanceDB, &r.Dropouts
	if r.SpeedPercent != nil {
		run.SpeedNominalHz = &r.NominalHz
	}
	run.SpeedPercent, run.SpeedSDPercent = parts(r.SpeedPercent)
	run.SpeedDriftPercent, run.SpeedDriftSD = parts(r.SpeedDriftPercentPerMin)
	run.LevelDriftDB, run.LevelDriftSDDB = parts(r.LevelDriftDBPerMin)
	for c, level := range r.Level {
		if level > dsp.NoLevel {
			v := float64(level)
			run.ToneLevelDBFS[c] = &v
		}
	}
	if r.Flutter != nil {
		run.FlutterWeighted, run.FlutterRMS = &r.Flutter.WeightedPeak, &r.Flutter.RMS
	}
	return run
}

// against sets the level re that of the tape's reference fluxivity; 0 is unknown.
func (r *Running) against(referenceDBFS float64) {
	left, right := r.ToneLevelDBFS[0], r.ToneLevelDBFS[1]
	if referenceDBFS == 0 || left == nil || right == nil {
		return
	}
	level := 10*math.Log10((math.Pow(10, *left/10)+math.Pow(10, *right/10))/2) - referenceDBFS
	r.ToneLevelDB = &level
}

func parts(e *speed.Estimate) (value, sd *float64) {
	if e == nil {
		return nil, nil
	}
	if e.SD < dsp.UnknownSD {
		sd = &e.SD
	}
	return &e.Value, sd
}

// text writes lines for a person: none if no tone was named and none is heard.
func (r Running) text(line func(name, format string, args ...any)) {
	switch {
	case r.FlutterSeconds == nil:
		return
	case r.FlutterCarrierHz == nil:
		line("flutter", "not measured: no steady tone")
		return
	}
	said := fmt.Sprintf("not stated: no usual tone lies near %.1f Hz (--tone names it)", *r.FlutterCarrierHz)
	if r.SpeedPercent != nil {
		said = fmt.Sprintf("%+.3f %% %s, by a tone of %g Hz", rounded(*r.SpeedPercent, 1000), within(r.SpeedSDPercent), *r.SpeedNominalHz)
	}
	line("speed", "%s", said)
	said = fmt.Sprintf("not measured: %.0f s of a steady tone after its first second, %d s are needed", math.Floor(*r.FlutterSeconds), speed.LeastFlutterSeconds)
	if r.FlutterWeighted != nil {
		said = fmt.Sprintf("%.3f %% weighted peak (IEC 60386), %.3f %% rms unweighted, from %.0f s", *r.FlutterWeighted, *r.FlutterRMS, math.Floor(*r.FlutterSeconds))
	}
	line("flutter", "%s", said)
	if r.ToneLevelDB != nil {
		line("tone level", "%+.1f dB against the reference level", rounded(*r.ToneLevelDB, 10))
	}
	if r.SpeedDriftPercent != nil && r.LevelDriftDB != nil {
		line("drift", "per minute: speed %+.3f %% %s, level %+.2f dB %s", rounded(*r.SpeedDriftPercent, 1000), within(r.SpeedDriftSD), rounded(*r.LevelDriftDB, 100), within(r.LevelDriftSDDB))
	}
}

// rounded rounds to a share of 1, and never to -0.
func rounded(x, share float64) float64 { return math.Round(x*share)/share + 0 }

// within writes the interval that holds the true value in 95 of 100 cases. The least is the
// last digit shown.
func within(sd *float64) string {
	if sd == nil {
		return "(± unknown)"
	}
	return fmt.Sprintf("(95 %%: ±%.3f)", max(0.001, 2**sd))
}
