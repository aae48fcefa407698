package session

import (
	"context"
	"errors"
	"io"
	"math"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/sweep/estimate"
	"headtrue/sweep/faults"
	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// Listen measures a source without a jig, for the given seconds or until the source ends; 0
// means to its end. toneHz and further are those of a Plan.
func Listen(ctx context.Context, src audio.Source, seconds, toneHz float64, further ...float64) (record.Reading, error) {
	if err := CheckTones(src.Rate(), toneHz, further...); err != nil {
		return record.Reading{}, err
	}
	m := dsp.NewMeter(src.Rate(), toneHz, further...)
	for got := 0.0; seconds == 0 || got < seconds; {
		b, err := src.Next(ctx)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return record.Reading{}, err
		}
		m.Add(b)
		got += float64(b.Frames()) / float64(src.Rate())
	}
	raw := m.Reading()
	r := toRecord(tape.StereoCassette, raw, toneHz)
	r.DelayTrackedUS = r.DelayUS
	r.Why = listed(r, raw, toneHz)
	r.Usable = len(r.Why) == 0
	return r, nil
}

// toRecord converts a meter's reading to the form of the record.
func toRecord(f tape.Format, m dsp.Reading, toneHz float64) record.Reading {
	r := record.Reading{
		Seconds:        m.Seconds,
		LevelDBFS:      pair(m.Level),
		DelayUS:        float64(m.Delay),
		DelaySDUS:      float64(m.DelaySD),
		DelayNoiseSDUS: float64(m.DelayNoiseSD),
		PhaseDeg10k:    m.PhaseDeg10k,
		TiltArcmin:     f.Arcmin(float64(m.Delay)),
		Coherence:      m.Coherence,
		PhaseMisfit:    m.PhaseMisfit,
		LostFrames:     m.LostFrames,
		NotNumbers:     m.NotNumbers,
		Usable:         true,
	}
	if toneHz > 0 {
		r.TrebleLR = pair(m.Tone)
		r.TrebleDB = tape.Decibels(tape.PowerOf(r.TrebleLR[0]) + tape.PowerOf(r.TrebleLR[1]))
		r.TrebleSDDB = float64(m.ToneSD)
		r.ToneHz = m.ToneHz
		r.DelayPeriodUS = float64(m.DelayPeriod)
		for _, t := range m.Others {
			if t.Hz > 0 {
				r.FurtherTonesHz = append(r.FurtherTonesHz, t.Hz)
			}
		}
		r.ToneToNoiseDB = float64(max(m.ToneToNoise[0], m.ToneToNoise[1]))
		return finite(r)
	}
	r.TrebleLR = pair(m.Balance)
	r.TrebleDB = float64(m.BalanceSum)
	r.TrebleSDDB = float64(m.BalanceSumSD)
	r.ThirdsDBFS = estimate.BandLevels(m.Thirds)
	return finite(r)
}

func pair(v [2]dsp.Decibels) [2]float64 { return [2]float64{float64(v[0]), float64(v[1])} }

// finite replaces values that silence makes infinite or undefined.
func finite(r record.Reading) record.Reading {
	level := func(v *float64) {
		if math.IsNaN(*v) || *v < estimate.FloorDB {
			*v = estimate.FloorDB
		}
	}
	for i := range 2 {
		level(&r.LevelDBFS[i])
		level(&r.TrebleLR[i])
	}
	level(&r.TrebleDB)
	level(&r.ToneToNoiseDB)
	for _, v := range []*float64{&r.DelayUS, &r.DelaySDUS, &r.DelayNoiseSDUS, &r.PhaseDeg10k, &r.TiltArcmin, &r.Coherence,
		&r.PhaseMisfit, &r.TrebleSDDB, &r.DelayPeriodUS, &r.ToneHz} {
		if math.IsNaN(*v) || math.IsInf(*v, 0) {
			*v = 0
		}
	}
	return r
}

// CellReading returns the reading of a tone in a cell. A cell is too short to show its own
// scatter, so the uncertainties are those of a tone in white noise (see
// dsp.Reading.DelayNoiseSD).
func CellReading(f tape.Format, raw dsp.Reading, toneHz float64) record.Reading {
	r := toRecord(f, raw, toneHz)
	cells := 2 * (dsp.TrebleHighHz - dsp.TrebleLowHz) * max(raw.Seconds, 1e-3)
	r.DelaySDUS = r.DelayNoiseSDUS
	r.TrebleSDDB = math.Min(20/math.Ln10/math.Sqrt(cells*tape.PowerOf(r.ToneToNoiseDB)), mostLevelSD)
	return finite(r)
}

// mostLevelSD is the standard deviation of a level without information, dB.
const mostLevelSD = 20

// listed lists the faults of a recording in plain words.
func listed(r record.Reading, raw dsp.Reading, toneHz float64) []string {
	var why []string
	add := func(bad bool, text string) {
		if bad {
			why = append(why, text)
		}
	}
	silent := max(r.LevelDBFS[0], r.LevelDBFS[1]) < faults.SilentDBFS
	add(raw.Frames == 0, "no sound")
	add(silent, "silent")
	add(faults.Clipped(raw), "clipped")
	add(!silent && faults.DeadChannel(r.LevelDBFS) >= 0, "one channel dead")
	add(toneHz == 0 && faults.Inverted(raw), "one channel inverted")
	add(!silent && faults.Same(raw), "both channels are the same: the sound is mono")
	add(raw.NotNumbers > 0, "samples that are no numbers")
	add(raw.LostFrames > 0, "sound lost")
	add(toneHz > 0 && !faults.ToneThere(raw), "tone not found")
	add(toneHz == 0 && !silent && r.TrebleDB < faults.DullProgrammeDB, "no treble to judge by")
	add(!silent && !estimate.DelayUsable(r), "delay between the channels not measurable")
	return why
}
