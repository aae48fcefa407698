package main

import (
	"fmt"
	"math"

	"headtrue/cmd/headtrue/app"
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

func plannedFrom(j *app.Job) planned {
	named := func(s string, here bool) *string {
		if s == "" || !here {
			return nil
		}
		return &s
	}
	p, s := j.Plan, j.Settings
	out := planned{
		DryRun: true, Port: named(s.Port, !j.IsVirtual()), Audio: named(s.Audio, !j.IsVirtual()), Virtual: named(j.Virtual, true),
		To: s.To, ToneHz: p.ToneHz, FurtherTonesHz: append([]float64{}, p.FurtherTonesHz...), StopAndMeasure: p.StopAndMeasure, BothSides: p.BothSides, DullDB: p.DullDB, WithinArcmin: p.WithinArcmin, WindowDeg: p.WindowDeg,
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

// dryRun says what the run would do.
func (c *cli) dryRun(j *app.Job) error {
	p := j.Plan
	if c.json {
		return c.writeJSON(plannedFrom(j))
	}
	named := func(name, flag string) string {
		if name == "" {
			return "not named yet (" + flag + ")"
		}
		return name
	}
	bench := fmt.Sprintf("jig: %s; sound: %s", named(j.Settings.Port, "--port"), named(j.Settings.Audio, "--audio"))
	if j.IsVirtual() {
		bench = fmt.Sprintf("virtual bench %q, seed %d", j.Virtual, j.Seed)
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
	c.say("Would align to %s, on %s.", to, material)
	c.say("  %s", bench)
	c.say("  screw: within %.0f degrees either way, %.0f' per turn (%.0f' of tilt either way)", p.WindowDeg, p.GearingArcminPerTurn, p.WindowDeg/360*math.Abs(p.GearingArcminPerTurn))
	c.say("  dull edges: %.1f dB below the top on both sides", p.DullDB)
	c.say("  done when the centre is known to %.2f', or after %.0f s of tape", p.WithinArcmin, p.TapeBudgetSeconds)
	if p.BothSides {
		c.say("  the optimum is listened to from both sides, for the play")
	}
	c.say("Then the screw would be driven to the optimum from its home side and verified.")
	if !j.IsVirtual() {
		c.say("Before that the cautions would be asked. Nothing was opened or moved.")
	}
	return nil
}
