package measure

import (
	"fmt"
	"math"
	"strings"

	"headtrue/dsp"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

// Result is the result of a measurement. A nil field could not be measured.
type Result struct {
	Source         string      `json:"source" help:"what was listened to"`
	Seconds        float64     `json:"seconds"`
	CountedSeconds float64     `json:"counted_seconds" help:"duration, and the part that counts: silence, clipping and clicks do not"`
	LevelDBFS      [2]*float64 `json:"level_dbfs" help:"rms level [left, right]; a full-scale sine is 0"`
	TrebleDB       *float64    `json:"treble_db" help:"treble of both channels together: for a programme re the mid band, for a tone its level in dBFS"`
	TrebleLR       [2]*float64 `json:"treble_db_lr" help:"the same, [left, right]"`
	TrebleSDDB     *float64    `json:"treble_sd_db" help:"standard uncertainty of treble_db"`
	DelayUS        *float64    `json:"delay_us"`
	DelaySDUS      *float64    `json:"delay_sd_us" help:"delay of the right channel in microseconds, positive if it comes later (of a tone only to whole periods), and its standard uncertainty"`
	DelayPeriodUS  *float64    `json:"delay_period_us" help:"period of the tone; null for a programme"`
	TiltArcmin     *float64    `json:"tilt_arcmin" help:"the tilt that would cause the delay, same sign, 5.5 us each"`
	PhaseDeg10k    *float64    `json:"phase_deg_10k" help:"the delay as degrees at 10 kHz"`
	PhaseMisfit    *float64    `json:"phase_misfit" help:"about 1 if one delay explains the sound of a programme"`
	Coherence      *float64    `json:"coherence" help:"coherence of the channels, 0 to 1"`
	ToneHz         *float64    `json:"tone_hz" help:"frequency of the tone as heard; null for a programme"`
	ToneToNoiseDB  *float64    `json:"tone_to_noise_db" help:"level of the tone re the rest of the treble"`
	Running
	LostFrames     int64    `json:"lost_frames" help:"frames that never arrived"`
	NotNumbers     int      `json:"not_numbers" help:"samples that were no number, as a 32-bit float may be; they count as 0"`
	Usable         bool     `json:"usable"`
	Why            []string `json:"why" help:"whether the sound can be judged, and its faults"`
	Reference      string   `json:"reference,omitempty" help:"the reference file"`
	ReferenceError string   `json:"reference_error,omitempty" help:"why nothing could be matched; none of the rest is then there"`
	*Against
}

// noLevelDB is the level of digital silence in a record.
const noLevelDB = -200

// measuredFrom replaces a reading's substitutes for "not known" by nil.
func measuredFrom(source string, seconds float64, r record.Reading) Result {
	known := func(v float64, ok bool) *float64 {
		if !ok {
			return nil
		}
		return &v
	}
	counted := r.Seconds > 0
	alike := counted && r.Coherence > 0 // otherwise no delay fits better than another
	tone := r.ToneHz > 0
	m := Result{
		Source: source, Seconds: seconds, CountedSeconds: r.Seconds,
		TrebleDB:   known(r.TrebleDB, counted),
		TrebleSDDB: known(r.TrebleSDDB, counted && r.TrebleSDDB < dsp.UnknownSD),
		DelayUS:    known(r.DelayUS, alike),
		DelaySDUS:  known(r.DelaySDUS, alike && r.DelaySDUS < dsp.UnknownSD), DelayPeriodUS: known(r.DelayPeriodUS, tone && r.DelayPeriodUS > 0),
		TiltArcmin: known(r.TiltArcmin, alike), PhaseDeg10k: known(r.PhaseDeg10k, alike),
		PhaseMisfit: known(r.PhaseMisfit, r.PhaseMisfit > 0), Coherence: known(r.Coherence, counted),
		ToneHz: known(r.ToneHz, tone), ToneToNoiseDB: known(r.ToneToNoiseDB, tone && counted),
		LostFrames: r.LostFrames, NotNumbers: r.NotNumbers, Usable: r.Usable, Why: append([]string{}, r.Why...),
	}
	for i, level := range r.LevelDBFS {
		sounds := level > noLevelDB
		m.LevelDBFS[i] = known(level, sounds)
		m.TrebleLR[i] = known(r.TrebleLR[i], counted && sounds)
	}
	return m
}

// Text is the result for a person.
func (m Result) Text() string {
	var b strings.Builder
	line := func(name, format string, args ...any) {
		fmt.Fprintf(&b, "%-12s %s\n", name, fmt.Sprintf(format, args...))
	}
	number := func(format string, v *float64) string {
		if v == nil {
			return "-"
		}
		return fmt.Sprintf(format, *v)
	}
	line("listened", "%.1f s", m.Seconds)
	if math.Abs(m.Seconds-m.CountedSeconds) > 0.05*m.Seconds {
		line("counted", "%.1f s of that", m.CountedSeconds)
	}
	line("level", "left %s, right %s dBFS", number("%.1f", m.LevelDBFS[0]), number("%.1f", m.LevelDBFS[1]))
	about := "against the mid band"
	if m.ToneHz != nil {
		about = fmt.Sprintf("of the tone of %.1f Hz, re full scale", *m.ToneHz)
	}
	line("treble", "%s dB %s (left %s, right %s)", number("%.2f", m.TrebleDB), about, number("%.2f", m.TrebleLR[0]), number("%.2f", m.TrebleLR[1]))
	line("delay", "%s us,%s (95 %%; positive if the right channel comes later)", number("%+.2f", m.DelayUS), figures.PlusMinus(m.DelaySDUS, ""))
	if m.DelayPeriodUS != nil {
		line("", "plus or minus any number of whole periods of %.2f us", *m.DelayPeriodUS)
	}
	line("phase", "%s degrees at 10 kHz", number("%+.1f", m.PhaseDeg10k))
	line("tilt", "%s arcmin", number("%+.2f", m.TiltArcmin))
	line("coherence", "%s", number("%.2f", m.Coherence))
	m.Running.text(line)
	usable := "yes"
	if !m.Usable {
		usable = "no: " + strings.Join(m.Why, ", ")
	}
	line("usable", "%s", usable)
	if m.Against != nil {
		m.Against.text(&b, m.Reference)
	}
	return b.String()
}
