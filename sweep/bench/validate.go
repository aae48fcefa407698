package bench

import (
	"fmt"
	"math"

	"headtrue/jig/virtual"
)

// Validate returns an error for the first field outside the range of the model, with its
// value and the allowed range.
func (p Profile) Validate() error {
	for _, group := range [][]limit{p.Programme.limits(), p.Tape.limits(), p.Deck.limits(), p.Screw.limits(), p.Motor.limits(), p.Late.limits(), p.Ageing.limits(), {
		{"sound.gain_db", p.Sound.GainDB, -60, 60},
		{"sound.dc_full_scale", p.Sound.DC, -1, 1},
	}} {
		for _, l := range group {
			if math.IsNaN(l.value) || l.value < l.lo || l.value > l.hi {
				return fmt.Errorf("bench profile: %s is %g: must be from %g to %g", l.field, l.value, l.lo, l.hi)
			}
		}
	}
	if p.Tape.WanderLowHz >= p.Tape.WanderHighHz {
		return fmt.Errorf("bench profile: tape.wander_low_hz is %g: must be below tape.wander_high_hz, %g", p.Tape.WanderLowHz, p.Tape.WanderHighHz)
	}
	if t := p.Tape; t.SkewCyclicArcmin > 0 && t.SkewCyclicHz == 0 {
		return fmt.Errorf("bench profile: tape.skew_cyclic_hz is 0: a skew of %g' needs a frequency", t.SkewCyclicArcmin)
	}
	if d := p.Deck; d.CreepPercent > 0 && d.CreepSeconds == 0 {
		return fmt.Errorf("bench profile: deck.creep_seconds is 0: a creep of %g %% needs a time", d.CreepPercent)
	}
	if err := p.Deck.validateCores(); err != nil {
		return err
	}
	if d := p.Motor.Direction; d != 1 && d != -1 {
		return fmt.Errorf("bench profile: motor.direction is %d: must be 1 or -1", d)
	}
	if err := p.Programme.validate(); err != nil {
		return err
	}
	if err := oneOf("tape.wander_shape", p.Tape.WanderShape, "flat", "1/f"); err != nil {
		return err
	}
	if err := p.Late.validate(); err != nil {
		return err
	}
	return p.validateFaults()
}

func (p Programme) limits() []limit {
	l := []limit{
		{"programme.level_dbfs", p.LevelDBFS, -80, 0},
		{"programme.wav_from_seconds", p.WAVFromSeconds, 0, 1e5},
		{"programme.wav_seconds", p.WAVSeconds, 1, 300},
		{"programme.music_seconds", p.MusicSeconds, 4, 300},
		{"programme.second.power_percent", p.Second.PowerPercent, 0, 100},
		{"programme.second.delay_us", p.Second.DelayUS, -500, 500},
		{"programme.second.period_seconds", p.Second.PeriodSeconds, 0, 60},
	}
	for i, t := range p.Tones {
		l = append(l,
			limit{fmt.Sprintf("programme.tones[%d].hz", i), t.Hz, 20, 20000},
			limit{fmt.Sprintf("programme.tones[%d].level_dbfs", i), t.LevelDBFS, -100, 0})
	}
	return l
}

func (p Programme) validate() error {
	if err := oneOf("programme.kind", p.Kind, "music", "tones", "wav", "silence"); err != nil {
		return err
	}
	switch {
	case p.Kind == "tones" && len(p.Tones) == 0:
		return fmt.Errorf("bench profile: programme.tones is empty: a programme of kind \"tones\" needs at least one")
	case p.Kind == "wav" && p.WAV == "":
		return fmt.Errorf("bench profile: programme.wav is empty: a programme of kind \"wav\" needs the path of a file")
	}
	return p.Second.validate(p.Kind)
}

func (a Ageing) limits() []limit {
	return []limit{
		{"ageing.creep_arcmin_per_day", a.CreepArcminPerDay, -10, 10},
		{"ageing.settling_arcmin", a.SettlingArcmin, -50, 50},
		{"ageing.settling_days", a.SettlingDays, 0, 1000},
		{"ageing.room_c", a.RoomC, -20, 60},
		{"ageing.room_swing_c", a.RoomSwingC, 0, 30},
		{"ageing.room_swing_days", a.RoomSwingDays, 0, 1000},
		{"ageing.arcmin_per_c", a.ArcminPerC, -5, 5},
		{"ageing.lacquer_days", a.LacquerDays, 0, 1000},
		{"ageing.lacquer_arcmin", a.LacquerArcmin, -50, 50},
	}
}

func (t Tape) limits() []limit {
	return []limit{
		{"tape.tilt_arcmin", t.TiltArcmin, -90, 90},
		{"tape.tilt_range_arcmin", t.TiltRangeArcmin, 0, 90},
		{"tape.treble_sn_db", t.TrebleSNdB, -20, 80},
		{"tape.spacing_um", t.SpacingUM, 0, 20},
		{"tape.thickness_um", t.ThicknessUM, 0, 20},
		{"tape.recorded_eq_us", t.RecordedEqUS, 10, 500},
		{"tape.wander_rms_arcmin", t.WanderRMSArcmin, 0, 10},
		{"tape.wander_low_hz", t.WanderLowHz, 0.01, 20},
		{"tape.wander_high_hz", t.WanderHighHz, 0.02, 20},
		{"tape.skew_cyclic_arcmin", t.SkewCyclicArcmin, 0, 10},
		{"tape.skew_cyclic_hz", t.SkewCyclicHz, 0, 20},
		{"tape.spacing_flutter_db", t.SpacingFlutterDB, 0, 2},
		{"tape.dropouts_per_second", t.DropoutsPerSecond, 0, 20},
		{"tape.dropout_depth_db", t.DropoutDepthDB, 0, 80},
	}
}

func (d Deck) limits() []limit {
	return []limit{
		{"deck.start_tilt_arcmin", d.StartTiltArcmin, -150, 150},
		{"deck.start_tilt_range_arcmin", d.StartTiltRangeArcmin, 0, 150},
		{"deck.channel_delay_us", d.ChannelDelayUS, -200, 200},
		{"deck.channel_delay_range_us", d.ChannelDelayRangeUS, 0, 200},
		{"deck.channel_delay_sd_us", d.ChannelDelaySDUS, 0, 50},
		{"deck.gap_skew_arcmin", d.GapSkewArcmin, -20, 20},
		{"deck.gap_um", d.GapUM, 0, 10},
		{"deck.replay_eq_us", d.ReplayEqUS, 10, 500},
		{"deck.speed_error_percent", d.SpeedErrorPercent, -10, 10},
		{"deck.wow_flutter_percent", d.WowFlutterPercent, 0, 1},
		{"deck.imbalance_db", d.ImbalanceDB, -20, 20},
		{"deck.crosstalk_db", d.CrosstalkDB, -200, -10},
		{"deck.hum_dbfs", d.HumDBFS, -200, 0},
		{"deck.hum_hz", d.HumHz, 10, 500},
		{"deck.electronics_noise_dbfs", d.ElectronicsDBFS, -200, 0},
		{"deck.motor_holding_noise_dbfs", d.MotorHoldingDBFS, -200, 0},
		{"deck.motor_stepping_noise_dbfs", d.MotorSteppingDBFS, -200, 0},
		{"deck.balance_db_per_turn", d.BalanceDBPerTurn, -20, 20},
		{"deck.spring_limit_arcmin", d.SpringLimitArcmin, 10, 200},
		{"deck.head_settling_ms", d.HeadSettlingMillis, 0, 1000},
		{"deck.creep_percent", d.CreepPercent, 0, 50},
		{"deck.creep_seconds", d.CreepSeconds, 0, 600},
		{"deck.contact_db_per_arcmin", d.ContactDBPerArcmin, -0.3, 0.3},
		{"deck.gap_bow_um", d.GapBowUM, -5, 5},
		{"deck.sensitivity_taper_percent", d.SensitivityTaperPercent, 0, 100},
		{"deck.core_width_mm", d.CoreWidthMM, 0, trackWidth},
		{"deck.core_centres_mm", d.CoreCentresMM, 0, 1.5},
		{"deck.worn_left_db", d.WornLeftDB, 0, 40},
		{"deck.worn_right_db", d.WornRightDB, 0, 40},
	}
}

// validateCores returns an error if a core reaches beyond its track, since the model does
// not cover that.
func (d Deck) validateCores() error {
	g := newGapLine(d, 1)
	inner, outer := g.centre-g.width/2, g.centre+g.width/2
	const from, to, rounding = (trackDistance - trackWidth) / 2, (trackDistance + trackWidth) / 2, 1e-9
	if g.width < 0.1 || inner < from-rounding || outer > to+rounding {
		return fmt.Errorf("bench profile: deck.core_width_mm and deck.core_centres_mm are %g and %g: each core reads from %.3g to %.3g mm off the middle: must be at least 0.1 mm within %.2g to %.2g",
			d.CoreWidthMM, d.CoreCentresMM, inner, outer, from, to)
	}
	return nil
}

func (s Screw) limits() []limit {
	return []limit{
		{"screw.pitch_mm", s.PitchMM, 0.1, 2},
		{"screw.lever_mm", s.LeverMM, 2, 50},
		{"screw.arcmin_per_turn", s.ArcminPerTurn, -2000, 2000},
		{"screw.gearing_range_percent", s.GearingRangePercent, 0, 80},
		{"screw.gearing_nonlinear_percent", s.GearingNonlinearPercent, -20, 20},
		{"screw.slack_deg", s.SlackDeg, 0, 90},
		{"screw.wind_up_deg", s.WindUpDeg, 0, 30},
		{"screw.stiction_deg", s.StictionDeg, 0, 10},
		{"screw.stick_slip_deg", s.StickSlipDeg, 0, 10},
		{"screw.rotor_jump_steps", s.RotorJumpSteps, 0, 2},
		{"screw.settle_steps", s.SettleSteps, 0, 2},
		{"screw.blade_tilt_arcmin", s.BladeTiltArcmin, -20, 20},
		{"screw.reseat_deg", s.ReseatDeg, 0, 90},
		{"screw.seat_seconds", s.SeatSeconds, 0, 60},
		{"screw.withdraw_seconds", s.WithdrawSeconds, 0, 60},
	}
}

func (m Motor) limits() []limit {
	return []limit{
		{"motor.steps_per_turn", float64(m.StepsPerTurn), 4, 10000},
		{"motor.microsteps", float64(m.Microsteps), 1, 256},
		{"motor.gear", m.Gear, 0.1, 1000},
		{"motor.max_speed", float64(m.MaxSpeed), 1, 65535},
		{"motor.accel", float64(m.Accel), 1, 1e8},
		{"motor.start_stop_rate", float64(m.StartStop), 1, 1e6},
	}
}

func (p Profile) validateFaults() error {
	for i, f := range p.Faults {
		at := fmt.Sprintf("faults[%d].", i)
		if err := oneOf(at+"kind", f.Kind, faultKinds...); err != nil {
			return err
		}
		if err := oneOf(at+"channel", f.Channel, "", "left", "right"); err != nil {
			return err
		}
		if err := oneOf(at+"then", f.Then, "", "silence", "music"); err != nil {
			return err
		}
		if f.AtSeconds < 0 || f.ForSeconds < 0 || f.Frames < 0 || f.ScrewDeg < 0 {
			return fmt.Errorf("bench profile: %sat_seconds, for_seconds, frames and screw_deg are %g, %g, %d and %g: none may be negative",
				at, f.AtSeconds, f.ForSeconds, f.Frames, f.ScrewDeg)
		}
	}
	for i, f := range p.JigFaults {
		if err := oneOf(fmt.Sprintf("jig_faults[%d].kind", i), f.Kind, virtual.Kinds()...); err != nil {
			return err
		}
		if f.AtSeconds < 0 || f.AtStep < 0 || f.AtSeconds == 0 && f.AtStep == 0 {
			return fmt.Errorf("bench profile: jig_faults[%d] comes at_seconds %g, at_step %d: one of them must be above 0, none below", i, f.AtSeconds, f.AtStep)
		}
	}
	return nil
}
