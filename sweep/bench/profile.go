package bench

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Profile describes a virtual bench: the programme, the tape, the deck, its azimuth
// screw, the sound input, the jig, the lateness of sound and jig, and the faults. Levels
// are dBFS rms; a full-scale sine is 0 dBFS. A level of -150 dBFS or lower means none.
type Profile struct {
	Programme Programme  `yaml:"programme"`
	Tape      Tape       `yaml:"tape"`
	Deck      Deck       `yaml:"deck"`
	Screw     Screw      `yaml:"screw"`
	Sound     Sound      `yaml:"sound"`
	Motor     Motor      `yaml:"motor"`
	Late      Late       `yaml:"late"`
	Ageing    Ageing     `yaml:"ageing"`
	Faults    []Fault    `yaml:"faults"`
	JigFaults []JigFault `yaml:"jig_faults"`
}

// Ageing is how the head moves, and the room warms, over the days of a study. One run does not
// show it: the profile of a day (OnDay) has it in the deck. Sizes are invented.
type Ageing struct {
	CreepArcminPerDay float64 `yaml:"creep_arcmin_per_day"`
	// SettlingArcmin is what the head moves in all as the spring settles, with a time
	// constant of SettlingDays.
	SettlingArcmin float64 `yaml:"settling_arcmin"`
	SettlingDays   float64 `yaml:"settling_days"`
	// RoomC is the mean temperature of the room; it swings by RoomSwingC with a period of
	// RoomSwingDays, and the head moves by ArcminPerC with it.
	RoomC         float64 `yaml:"room_c"`
	RoomSwingC    float64 `yaml:"room_swing_c"`
	RoomSwingDays float64 `yaml:"room_swing_days"`
	ArcminPerC    float64 `yaml:"arcmin_per_c"`
	// LacquerArcmin is what lacquer on the screw moves the head on day LacquerDays.
	LacquerDays   float64 `yaml:"lacquer_days"`
	LacquerArcmin float64 `yaml:"lacquer_arcmin"`
}

// OnDay returns the profile with the deck as it is after some days, and the temperature of the
// room, degrees C. Every seed then gives the same deck.
func (p Profile) OnDay(days float64) (aged Profile, roomC float64) {
	a := p.Ageing
	roomC = a.RoomC
	if a.RoomSwingDays > 0 {
		roomC += a.RoomSwingC * math.Sin(2*math.Pi*days/a.RoomSwingDays)
	}
	moved := a.CreepArcminPerDay*days + a.ArcminPerC*(roomC-a.RoomC)
	if a.SettlingDays > 0 {
		moved -= a.SettlingArcmin * math.Expm1(-days/a.SettlingDays)
	}
	if a.LacquerArcmin != 0 && days >= a.LacquerDays {
		moved += a.LacquerArcmin
	}
	p.Deck.StartTiltArcmin += moved
	p.Deck.StartTiltRangeArcmin, p.Deck.ChannelDelayRangeUS, p.Deck.ChannelDelaySDUS, p.Tape.TiltRangeArcmin = 0, 0, 0, 0
	return p, roomC
}

// Programme is the recording on the tape. It repeats in an endless loop.
type Programme struct {
	// Kind is "music" (built in), "tones", "wav" or "silence".
	Kind string `yaml:"kind"`
	// LevelDBFS is the level of the louder channel of music or WAV file as recorded,
	// before the losses of head and tape.
	LevelDBFS float64 `yaml:"level_dbfs"`
	// Tones are recorded identically on both tracks.
	Tones []Tone `yaml:"tones"`
	// WAV is the path of a WAV file; WAVFromSeconds and WAVSeconds select the part of it
	// that is looped.
	WAV            string  `yaml:"wav"`
	WAVFromSeconds float64 `yaml:"wav_from_seconds"`
	WAVSeconds     float64 `yaml:"wav_seconds"`
	// MusicSeconds is the length of the built-in music before it repeats. MusicSeed
	// selects the piece; 0 takes another piece for each seed, which makes a bench slower
	// to set up.
	MusicSeconds float64 `yaml:"music_seconds"`
	MusicSeed    uint64  `yaml:"music_seed"`
	// Second is a second source with its own delay, for music and WAV.
	Second Second `yaml:"second"`
	// RandomStart begins at a place in the loop drawn per seed.
	RandomStart bool `yaml:"random_start"`
}

// Tone is one sine. Its frequency is rounded to 0.1 Hz.
type Tone struct {
	Hz        float64 `yaml:"hz"`
	LevelDBFS float64 `yaml:"level_dbfs"`
}

// Tape describes the tape and its recording.
type Tape struct {
	// TiltArcmin is the recorded azimuth against the standard; TiltRangeArcmin adds a
	// uniform +- drawn per seed.
	TiltArcmin      float64 `yaml:"tilt_arcmin"`
	TiltRangeArcmin float64 `yaml:"tilt_range_arcmin"`
	// TrebleSNdB is the power of the programme over the hiss, 6-14 kHz, in each channel
	// at the optimum. For a programme without treble it is that of the whole band; under
	// silence the hiss is -60 dBFS.
	TrebleSNdB float64 `yaml:"treble_sn_db"`
	NoHiss     bool    `yaml:"no_hiss"`
	// SpacingUM and ThicknessUM are not corrected by the deck's equaliser: distance
	// between head and tape, and depth of the recorded layer.
	SpacingUM   float64 `yaml:"spacing_um"`
	ThicknessUM float64 `yaml:"thickness_um"`
	// RecordedEqUS is the time constant of the recording, 120 or 70.
	RecordedEqUS float64 `yaml:"recorded_eq_us"`
	// WanderRMSArcmin is the rms skew of the running tape; WanderShape is "flat" or "1/f"
	// between WanderLowHz and WanderHighHz.
	WanderRMSArcmin float64 `yaml:"wander_rms_arcmin"`
	WanderShape     string  `yaml:"wander_shape"`
	WanderLowHz     float64 `yaml:"wander_low_hz"`
	WanderHighHz    float64 `yaml:"wander_high_hz"`
	// SkewCyclicArcmin is the rms of an added sine skew of SkewCyclicHz. Its phase is
	// drawn per seed. C60 cassettes have a cyclic skew near 2 Hz (Donnelly, Mapps,
	// Wilson, Journal of the IERE 56(2), 1986, 49-52).
	SkewCyclicArcmin float64 `yaml:"skew_cyclic_arcmin"`
	SkewCyclicHz     float64 `yaml:"skew_cyclic_hz"`
	// SpacingFlutterDB is the rms of the level at 10 kHz due to varying spacing (0.2-10
	// Hz, 1/f); at other frequencies it is in proportion.
	SpacingFlutterDB float64 `yaml:"spacing_flutter_db"`
	// Drop-outs: their mean number per second and their depth; each is 5-50 ms long.
	DropoutsPerSecond float64 `yaml:"dropouts_per_second"`
	DropoutDepthDB    float64 `yaml:"dropout_depth_db"`
}

// Deck describes the head, the transport and the replay amplifier.
type Deck struct {
	// StartTiltArcmin is the head's azimuth against the standard as found;
	// StartTiltRangeArcmin adds a uniform +- drawn per seed.
	StartTiltArcmin      float64 `yaml:"start_tilt_arcmin"`
	StartTiltRangeArcmin float64 `yaml:"start_tilt_range_arcmin"`
	// ChannelDelayUS is a fixed delay of the right channel (gap scatter, electronics).
	// ChannelDelayRangeUS adds a uniform +- per seed, and ChannelDelaySDUS a normal
	// deviation with that standard deviation.
	ChannelDelayUS      float64 `yaml:"channel_delay_us"`
	ChannelDelayRangeUS float64 `yaml:"channel_delay_range_us"`
	ChannelDelaySDUS    float64 `yaml:"channel_delay_sd_us"`
	// GapSkewArcmin is the right gap's azimuth minus the left one's; each channel then
	// has its own optimum.
	GapSkewArcmin      float64 `yaml:"gap_skew_arcmin"`
	GapUM              float64 `yaml:"gap_um"`
	ReplayEqUS         float64 `yaml:"replay_eq_us"`
	SpeedErrorPercent  float64 `yaml:"speed_error_percent"`
	WowFlutterPercent  float64 `yaml:"wow_flutter_percent"` // weighted rms, AES6-2008
	ImbalanceDB        float64 `yaml:"imbalance_db"`        // right minus left
	CrosstalkDB        float64 `yaml:"crosstalk_db"`        // negative; -150 or lower is none
	HumDBFS            float64 `yaml:"hum_dbfs"`            // fundamental; third harmonic 10 dB lower
	HumHz              float64 `yaml:"hum_hz"`
	ElectronicsDBFS    float64 `yaml:"electronics_noise_dbfs"`
	MotorHoldingDBFS   float64 `yaml:"motor_holding_noise_dbfs"`  // while the jig's motor holds
	MotorSteppingDBFS  float64 `yaml:"motor_stepping_noise_dbfs"` // while it steps
	BalanceDBPerTurn   float64 `yaml:"balance_db_per_turn"`       // half up on the right, half down on the left: the screw also changes the head's height
	SpringLimitArcmin  float64 `yaml:"spring_limit_arcmin"`       // beyond this the head does not follow the screw
	HeadSettlingMillis float64 `yaml:"head_settling_ms"`          // time constant of the head following the screw
	// CreepPercent of each turn's tilt follows late, with a time constant of
	// CreepSeconds, because of grease, a rubber bush or a yielding spring. Common
	// practice, no source.
	CreepPercent float64 `yaml:"creep_percent"`
	CreepSeconds float64 `yaml:"creep_seconds"`
	// ContactDBPerArcmin is the rise of the level at 10 kHz per arcminute of tilt from as
	// found, in both channels, since the tape then lies closer. Other frequencies change
	// in proportion, as with spacing (Wallace 1951). It is limited to 12 dB either way.
	// The size is common practice, no source.
	ContactDBPerArcmin float64 `yaml:"contact_db_per_arcmin"`
	// GapBowUM is the sagitta of each gap over the width of its core, in micrometres, as
	// read from the gap line under a microscope; both ends come later than the middle by
	// this. SensitivityTaperPercent is the loss of sensitivity of each core at its edge
	// towards the head's right side, relative to the other edge, linear in between.
	// Common practice, no source.
	GapBowUM                float64 `yaml:"gap_bow_um"`
	SensitivityTaperPercent float64 `yaml:"sensitivity_taper_percent"`
	// CoreWidthMM and CoreCentresMM are the width of each core and the distance between
	// their centres; 0 means those of the tracks, 0.6 and 0.9 mm. The cores must lie
	// within the tracks.
	CoreWidthMM   float64 `yaml:"core_width_mm"`
	CoreCentresMM float64 `yaml:"core_centres_mm"`
	// WornLeftDB and WornRightDB are the additional loss of a worn core at 10 kHz; other
	// frequencies in proportion, as with spacing (Wallace 1951).
	WornLeftDB  float64 `yaml:"worn_left_db"`
	WornRightDB float64 `yaml:"worn_right_db"`
}

// Screw describes the azimuth screw and the fit of the jig's blade in it. Angles are
// degrees of screw.
type Screw struct {
	// PitchMM and LeverMM set the gearing; 360 degrees of screw travel one pitch.
	// ArcminPerTurn, if not 0, sets it directly, with its sign. Reversed inverts the
	// sign.
	PitchMM       float64 `yaml:"pitch_mm"`
	LeverMM       float64 `yaml:"lever_mm"`
	ArcminPerTurn float64 `yaml:"arcmin_per_turn"`
	Reversed      bool    `yaml:"reversed"`
	// GearingRangePercent adds a uniform +- to the gearing per seed.
	GearingRangePercent float64 `yaml:"gearing_range_percent"`
	// GearingNonlinearPercent is the increase of the gearing 90 degrees of screw forward
	// from as found, and its decrease 90 degrees back, linear in between and beyond, up
	// to one turn. Common practice, no source.
	GearingNonlinearPercent float64 `yaml:"gearing_nonlinear_percent"`
	// SlackDeg is the slack between motor and screw. The blade is first seated at a
	// random place in it or, with SlackTakenUp, as if it had arrived from below.
	SlackDeg     float64 `yaml:"slack_deg"`
	SlackTakenUp bool    `yaml:"slack_taken_up"`
	// WindUpDeg is the twist of the drive while the screw turns; StictionDeg is the
	// further twist that breaks a standing screw loose.
	WindUpDeg   float64 `yaml:"wind_up_deg"`
	StictionDeg float64 `yaml:"stiction_deg"`
	// StickSlipDeg is stick-slip during a turn: the screw stands until the twist exceeds
	// WindUpDeg by this, then jumps by a random share of the excess. Common practice, no
	// source.
	StickSlipDeg float64 `yaml:"stick_slip_deg"`
	// RotorJumpSteps is the greatest jump of the rotor when energised, and SettleSteps
	// its greatest settling when released, in full steps of the motor. The screw follows
	// the settling only if SettleTurnsScrew is set.
	RotorJumpSteps   float64 `yaml:"rotor_jump_steps"`
	SettleSteps      float64 `yaml:"settle_steps"`
	SettleTurnsScrew bool    `yaml:"settle_turns_screw"`
	// BladeTiltArcmin is the tilt caused by the pressure of the seated blade.
	BladeTiltArcmin float64 `yaml:"blade_tilt_arcmin"`
	// ReseatDeg shifts the blade in the slot by up to +- this at each seating after the
	// first.
	ReseatDeg float64 `yaml:"reseat_deg"`
	// SeatSeconds after the motor is energised the blade is seated. WithdrawSeconds after
	// it is released the blade is taken out.
	SeatSeconds     float64 `yaml:"seat_seconds"`
	WithdrawSeconds float64 `yaml:"withdraw_seconds"`
}

// Sound describes the input of the computer.
type Sound struct {
	GainDB float64 `yaml:"gain_db"`
	DC     float64 `yaml:"dc_full_scale"` // offset as a fraction of full scale
}

// Motor describes the jig's motor for the virtual jig and the mount.
type Motor struct {
	StepsPerTurn int     `yaml:"steps_per_turn"`  // full steps per turn of the motor
	Microsteps   int     `yaml:"microsteps"`      // per full step
	Gear         float64 `yaml:"gear"`            // turns of the motor per turn of the screw
	Direction    int     `yaml:"direction"`       // +1 or -1: from counts to degrees of screw
	MaxSpeed     int     `yaml:"max_speed"`       // microsteps per second
	Accel        int     `yaml:"accel"`           // microsteps per second squared
	StartStop    int     `yaml:"start_stop_rate"` // microsteps per second
	// NoResetOnOpen makes a board that does not reset when its port is opened.
	NoResetOnOpen bool `yaml:"no_reset_on_open"`
	// Encoder adds an encoder on the motor's shaft.
	Encoder bool `yaml:"encoder"`
}

// Default returns a plain deck in fair order, as found about 20' off, which plays the
// built-in music on a tape with a treble S/N of 20 dB.
func Default() Profile {
	return Profile{
		Programme: Programme{Kind: "music", LevelDBFS: -20, WAVSeconds: 60, MusicSeconds: 32, MusicSeed: 1, RandomStart: true},
		Tape: Tape{
			TrebleSNdB: 20, SpacingUM: 0.1, RecordedEqUS: 120,
			WanderRMSArcmin: 1, WanderShape: "flat", WanderLowHz: 0.2, WanderHighHz: 5,
			SpacingFlutterDB: 0.3, DropoutDepthDB: 20,
		},
		Deck: Deck{
			StartTiltArcmin: 20, ChannelDelayUS: 3, GapUM: 1, ReplayEqUS: 120,
			SpeedErrorPercent: 0.3, WowFlutterPercent: 0.1, ImbalanceDB: 0.5, CrosstalkDB: -40,
			HumDBFS: -70, HumHz: 50, ElectronicsDBFS: -90,
			MotorHoldingDBFS: -95, MotorSteppingDBFS: -75,
			SpringLimitArcmin: 200, HeadSettlingMillis: 10,
		},
		Screw: Screw{
			PitchMM: 0.45, LeverMM: 10, SlackDeg: 14, WindUpDeg: 0.5, StictionDeg: 0.2,
			RotorJumpSteps: 2, SettleSteps: 0.5, BladeTiltArcmin: 0.2,
			SeatSeconds: 0.3, WithdrawSeconds: 0.3,
		},
		Sound: Sound{DC: 0.0005},
		Motor: Motor{
			StepsPerTurn: 200, Microsteps: 16, Gear: 1, Direction: 1,
			MaxSpeed: 3200, Accel: 16000, StartStop: 800,
		},
	}
}

// Tones returns a programme of sines of one level, for tests and commands.
func Tones(levelDBFS float64, hz ...float64) Programme {
	p := Default().Programme
	p.Kind = "tones"
	for _, f := range hz {
		p.Tones = append(p.Tones, Tone{Hz: f, LevelDBFS: levelDBFS})
	}
	return p
}

// degreesPerMicrostep returns degrees of screw per microstep, with its sign.
func (m Motor) degreesPerMicrostep() float64 {
	return 360 * float64(m.Direction) / (float64(m.StepsPerTurn*m.Microsteps) * m.Gear)
}

// degreesPerStep returns degrees of screw per full step, unsigned.
func (m Motor) degreesPerStep() float64 {
	return 360 / (float64(m.StepsPerTurn) * m.Gear)
}

// arcmin is one arcminute in radians.
const arcmin = math.Pi / (180 * 60)

// limit is the allowed range of one number of the profile.
type limit struct {
	field         string
	value, lo, hi float64
}

// oneOf returns an error for a text that is none of the allowed ones.
func oneOf(field, value string, allowed ...string) error {
	if slices.Contains(allowed, value) {
		return nil
	}
	return fmt.Errorf("bench profile: %s is %q: must be one of %s", field, value, strings.Join(slices.DeleteFunc(slices.Clone(allowed), func(s string) bool { return s == "" }), ", "))
}
