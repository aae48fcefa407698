package main

import (
	"fmt"
	"math"
)

// planned is what align --dry-run writes for machines.
type planned struct {
	DryRun               bool      `json:"dry_run"`
	Port                 *string   `json:"port"`
	Audio                *string   `json:"audio"`
	Virtual              *string   `json:"virtual"`
	Seed                 *uint64   `json:"seed"`
	To                   string    `json:"to"`
	ToneHz               float64   `json:"tone_hz"`
	FurtherTonesHz       []float64 `json:"further_tones_hz"`
	StopAndMeasure       bool      `json:"stop_and_measure"`
	BothSides            bool      `json:"both_sides"`
	DullDB               float64   `json:"dull_db"`
	WithinArcmin         float64   `json:"within_arcmin"`
	WindowDeg            float64   `json:"window_deg"`
	GearingArcminPerTurn float64   `json:"gearing_arcmin_per_turn"`
	GearingSignKnown     bool      `json:"gearing_sign_known"`
	ChannelDelayUS       float64   `json:"channel_delay_us"`
	ChannelDelaySDUS     float64   `json:"channel_delay_sd_us"`
	SlackTakenUp         bool      `json:"slack_taken_up"`
	SettleMS             float64   `json:"settle_ms"`
	DwellScale           float64   `json:"dwell_scale"`
	ProofSeconds         float64   `json:"proof_seconds"`
	TapeBudgetS          float64   `json:"tape_budget_s"`
	TapeTiltArcmin       float64   `json:"tape_tilt_arcmin"`
	TapeTiltSDArcmin     float64   `json:"tape_tilt_sd_arcmin"`
}

func (j *job) planned() planned {
	named := func(s string, here bool) *string {
		if s == "" || !here {
			return nil
		}
		return &s
	}
	p, s := j.plan, j.settings
	out := planned{
		DryRun: true, Port: named(s.Port, !j.virtual()), Audio: named(s.Audio, !j.virtual()), Virtual: named(j.flags.virtual.profile, true),
		To: s.To, ToneHz: p.ToneHz, FurtherTonesHz: append([]float64{}, p.FurtherTonesHz...), StopAndMeasure: p.StopAndMeasure, BothSides: p.BothSides, DullDB: p.DullDB, WithinArcmin: p.WithinArcmin, WindowDeg: p.WindowDeg,
		GearingArcminPerTurn: p.GearingArcminPerTurn, GearingSignKnown: p.GearingSignKnown,
		ChannelDelayUS: p.ChannelDelayUS, ChannelDelaySDUS: p.ChannelDelaySDUS, SlackTakenUp: p.SlackTakenUp,
		SettleMS: s.SettleMS, DwellScale: p.DwellScale, ProofSeconds: p.ProofSeconds, TapeBudgetS: p.TapeBudgetSeconds,
		TapeTiltArcmin: p.TapeTiltArcmin, TapeTiltSDArcmin: p.TapeTiltSDArcmin,
	}
	if j.virtual() {
		out.Seed = &j.flags.virtual.seed
	}
	return out
}

// dryRun says what the run would do.
func (j *job) dryRun() error {
	p := j.plan
	if j.cli.json {
		return j.cli.writeJSON(j.planned())
	}
	named := func(name, flag string) string {
		if name == "" {
			return "not named yet (" + flag + ")"
		}
		return name
	}
	bench := fmt.Sprintf("jig: %s; sound: %s", named(j.settings.Port, "--port"), named(j.settings.Audio, "--audio"))
	if j.virtual() {
		bench = fmt.Sprintf("virtual bench %q, seed %d", j.flags.virtual.profile, j.flags.virtual.seed)
	}
	material, to := "programme material", "this tape"
	switch {
	case p.ToneHz > 0 && p.StopAndMeasure:
		material = fmt.Sprintf("a tone of %.0f Hz, stopping to measure", p.ToneHz)
	case p.ToneHz > 0:
		material = fmt.Sprintf("a tone of %.0f Hz, measured while the screw turns", p.ToneHz)
	}
	for _, hz := range p.FurtherTonesHz {
		material += fmt.Sprintf(", with one of %.0f Hz", hz)
	}
	if p.ToStandard {
		to = fmt.Sprintf("the standard, by a tape on which it reads %+.1f' ± %.1f'", p.TapeTiltArcmin, p.TapeTiltSDArcmin)
	}
	j.cli.say("Would align to %s, on %s.", to, material)
	j.cli.say("  %s", bench)
	j.cli.say("  screw: within %.0f degrees either way, %.0f' per turn (%.0f' of tilt either way)", p.WindowDeg, p.GearingArcminPerTurn, p.WindowDeg/360*math.Abs(p.GearingArcminPerTurn))
	j.cli.say("  dull edges: %.1f dB below the top on both sides", p.DullDB)
	j.cli.say("  done when the centre is known to %.2f', or after %.0f s of tape", p.WithinArcmin, p.TapeBudgetSeconds)
	if p.BothSides {
		j.cli.say("  the optimum is listened to from both sides, for the play")
	}
	j.cli.say("Then the screw would be driven to the optimum from its home side and verified.")
	if !j.virtual() {
		j.cli.say("Before that the cautions would be asked. Nothing was opened or moved.")
	}
	return nil
}
