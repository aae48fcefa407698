// Package runjson holds the JSON of the commands that make a run: plain types, filled from the
// record. It opens and writes nothing.
package runjson

import (
	"math"

	"headtrue/cmd/headtrue/app"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// Aligned is the JSON of align and sweep.
type Aligned struct {
	Run          string         `json:"run" help:"name of the run"`
	Outcome      record.Outcome `json:"outcome" help:"how the run ended, see headtrue help exit-codes"`
	Stamp        figures.Stamp  `json:"stamp" help:"the result as on the sheet: PASS, IN DOUBT, NOT SET or MEASURED"`
	AsFoundDeg   *float64       `json:"as_found_deg" help:"0 (null if a person turned the screw): degrees count from the place at which the screw was found"`
	MidpointDeg  *float64       `json:"midpoint_deg" help:"middle of the two dull edges"`
	FittedDeg    *float64       `json:"fitted_deg" help:"top of the fitted treble curve: the fitted centre"`
	DelayZeroDeg *float64       `json:"delay_zero_deg" help:"place at which both channels hear the same instant of the tape"`
	CorrectedDeg *float64       `json:"place_correction_deg" help:"how far listening at the place has moved the optimum"`
	figures.Figures
	AsLeftDeg   *float64 `json:"as_left_deg" help:"place of the screw now"`
	Agreement   *string  `json:"agreement" help:"of the estimates: agree, partial (only two are known), differ"`
	ChannelUS   *float64 `json:"channel_delay_us"`
	ChannelSDUS *float64 `json:"channel_delay_sd_us" help:"fixed delay of the right channel as this run has measured it, and its standard uncertainty"`
	LeftAt
	Say string `json:"say"`
	Do  string `json:"do" help:"the outcome in words, and what to do about it (may be empty)"`
}

// AlignedFrom returns the JSON of a run from its end and its entries.
func AlignedFrom(run string, end record.End, entries []record.Entry) Aligned {
	r := Aligned{Run: run, Outcome: end.Outcome, Figures: figures.Of(entries), LeftAt: LeftAtOf(end), Say: end.Say, Do: end.Do}
	r.Stamp, _ = sheet.StampOf(entries)
	if !record.ByHand(entries) {
		r.AsFoundDeg = new(float64) // by definition
	}
	known := func(e record.Estimate) *float64 {
		if !e.OK || math.IsNaN(e.Deg) { // NaN if a person turned the screw
			return nil
		}
		return &e.Deg
	}
	for _, e := range entries {
		switch {
		case e.Decision != nil:
			d := e.Decision
			r.MidpointDeg, r.FittedDeg, r.DelayZeroDeg, r.CorrectedDeg = known(d.Midpoint), known(d.Fitted), known(d.DelayZero), d.PlaceCorrectionDeg
			if d.ChannelDelaySDUS > 0 {
				r.ChannelUS, r.ChannelSDUS = &d.ChannelDelayUS, &d.ChannelDelaySDUS
			}
			if d.Agreement != "" {
				r.Agreement = &d.Agreement
			}
		case e.End != nil && e.End.ScrewCertain:
			r.AsLeftDeg = &e.End.ScrewDeg
		}
	}
	return r
}

// LeftAt is the JSON of the screw's place after a run that did not set the head.
type LeftAt struct {
	ScrewOffDeg    *float64 `json:"screw_off_deg"`
	ScrewOffSDDeg  *float64 `json:"screw_off_sd_deg" help:"after a run that has not set the head: place of the screw itself from as found (forward is positive), and its standard uncertainty, the backlash included"`
	PutBack        bool     `json:"put_back" help:"whether the run has driven the screw back"`
	RestoreCommand *string  `json:"restore_command" help:"the command that puts the screw back as found"`
}

// LeftAtOf returns the place of the screw as the end of a run states it.
func LeftAtOf(end record.End) LeftAt {
	s := LeftAt{ScrewOffDeg: end.ScrewOffDeg, PutBack: end.PutBack}
	if end.ScrewOffDeg != nil {
		s.ScrewOffSDDeg = &end.ScrewOffSDDeg
	}
	if end.RestoreCommand != "" {
		s.RestoreCommand = &end.RestoreCommand
	}
	return s
}

// Planned is the JSON of align --dry-run.
type Planned struct {
	DryRun               bool      `json:"dry_run" help:"true: nothing was opened or moved"`
	Port                 *string   `json:"port"`
	Audio                *string   `json:"audio" help:"serial port of the jig and sound input; null on a virtual bench"`
	Virtual              *string   `json:"virtual"`
	Seed                 *uint64   `json:"seed" help:"profile and seed of a virtual bench, else null"`
	To                   string    `json:"to" help:"aim of the run: this tape, or the standard"`
	ToneHz               float64   `json:"tone_hz"`
	FurtherTonesHz       []float64 `json:"further_tones_hz" help:"the tone (0 is a programme), and a list of further ones"`
	StopAndMeasure       bool      `json:"stop_and_measure"`
	BothSides            bool      `json:"both_sides" help:"whether the screw stops to be measured, and whether the optimum is measured from both sides"`
	DullDB               float64   `json:"dull_db" help:"loss of treble at a dull edge"`
	WithinArcmin         float64   `json:"within_arcmin" help:"uncertainty asked of the optimum, 95 %"`
	WindowDeg            float64   `json:"window_deg" help:"allowed travel of the screw to each side"`
	GearingArcminPerTurn float64   `json:"gearing_arcmin_per_turn"`
	GearingSignKnown     bool      `json:"gearing_sign_known" help:"tilt per turn of the screw, and whether its sign is known"`
	ChannelDelayUS       float64   `json:"channel_delay_us"`
	ChannelDelaySDUS     float64   `json:"channel_delay_sd_us" help:"fixed delay of the right channel, and its standard uncertainty"`
	SlackTakenUp         bool      `json:"slack_taken_up" help:"whether the blade rests against the home flank"`
	SettleMS             float64   `json:"settle_ms"`
	DwellScale           float64   `json:"dwell_scale" help:"time for the head to settle after a step, and factor on the listening time at each"`
	ProofSeconds         float64   `json:"proof_seconds" help:"how long as found and as left are listened to"`
	TapeBudgetS          float64   `json:"tape_budget_s" help:"most tape that the run may use"`
	TapeTiltArcmin       float64   `json:"tape_tilt_arcmin"`
	TapeTiltSDArcmin     float64   `json:"tape_tilt_sd_arcmin" help:"azimuth of the reference tape itself, and its standard uncertainty"`
}

// PlannedFrom returns the settings of a run that is not begun.
func PlannedFrom(j *app.Job) Planned {
	named := func(s string, here bool) *string {
		if s == "" || !here {
			return nil
		}
		return &s
	}
	p, s := j.Plan, j.Settings
	out := Planned{
		DryRun: true, Port: named(s.Port, !j.IsVirtual()), Audio: named(s.Audio, !j.IsVirtual()), Virtual: named(j.Virtual, true),
		To: s.To, ToneHz: p.ToneHz, FurtherTonesHz: append([]float64{}, p.FurtherTonesHz...), StopAndMeasure: p.StopAndMeasure, BothSides: p.BothSides, DullDB: p.DullDB, WithinArcmin: figures.Coverage * p.WithinArcmin, WindowDeg: p.WindowDeg,
		GearingArcminPerTurn: p.GearingArcminPerTurn, GearingSignKnown: p.GearingSignKnown,
		ChannelDelayUS: p.ChannelDelayUS, ChannelDelaySDUS: p.ChannelDelaySDUS, SlackTakenUp: p.SlackTakenUp,
		SettleMS: s.SettleMS, DwellScale: p.DwellScale, ProofSeconds: p.ProofSeconds, TapeBudgetS: p.TapeBudgetSeconds,
		TapeTiltArcmin: p.TapeTiltArcmin, TapeTiltSDArcmin: p.TapeTiltSDArcmin,
	}
	if j.IsVirtual() {
		out.Seed = &j.Seed
	}
	return out
}
