// Package settings decodes the configuration: profiles, what runs have learnt of the unit, a
// YAML file, environment variables and flags, in order of increasing precedence. It records
// the source of each value.
//
// The fields of Settings are the only list of keys: the yaml tag is the key, its ending the
// unit, and the other tags give the flag, the range and the help text. Keys, values and units
// are checked in the parsed YAML nodes, so that an error can name file, line and the nearest
// valid key; then the layers are combined.
//
// The package opens no device. It computes only the gearing, from pitch and lever.
package settings

import (
	"math"
	"path/filepath"

	"headtrue/sweep/logbook/places"
)

// Settings is everything that can be set.
type Settings struct {
	Port        string         `yaml:"port" flag:"port" holds:"port" help:"serial port of the jig, such as /dev/ttyACM0 or COM3"`
	Audio       string         `yaml:"audio" flag:"audio" holds:"input" help:"sound input, as headtrue devices names it; - or raw:f32le is raw PCM on standard input, 16-bit or float"`
	AudioRateHz int            `yaml:"audio_rate_hz" range:"8000,384000" help:"frames per second asked of the sound input"`
	Logbook     places.Logbook `yaml:"logbook" flag:"logbook" holds:"place" help:"folder of the logbook, or the PostgreSQL server that several benches share, postgres://USER@HOST/DATABASE"`
	Clips       string         `yaml:"clips" help:"folder of the clips of sound, if the logbook is on a server"`
	Unit        string         `yaml:"unit" flag:"unit" holds:"label" label:"yes" help:"the deck on the bench, by a label of your own"`
	Head        string         `yaml:"head" flag:"head" holds:"label" label:"yes" help:"head of the unit, and its direction, by a label of your own"`

	Job      string `yaml:"job" flag:"job" help:"for whom or what: a job or customer reference of your own"`
	Tape     string `yaml:"tape" flag:"tape" holds:"label" help:"the tape that is played, by a label of your own"`
	Operator string `yaml:"operator" flag:"operator" holds:"name" help:"the person who works at the bench"`
	Ambient  string `yaml:"ambient" flag:"ambient" help:"temperature in degrees C and, after a space or semicolon, relative humidity in %, as in '21.5 45'; or file:PATH or command:COMMAND, which say them"`

	To               string  `yaml:"to" flag:"to" choice:"tape,standard" help:"align to this tape, or to the standard by a reference tape"`
	ToneHz           float64 `yaml:"tone_hz" flag:"tone" holds:"tones" range:"0,20000" about:"tone on the tape that sets the head, as in 10k; 0 is programme material" help:"tones on the tape, as in 10k,1k,6k3: the first sets the head, and with a low one beside it no whole period can be miscounted; 0 is programme material"`
	FurtherTonesHz   string  `yaml:"further_tones_hz" help:"tones that sound beside that of tone_hz, with commas, as in 1k,6k3"`
	ReferenceDBFS    float64 `yaml:"reference_level_dbfs" range:"-60,0" help:"level at the input that the reference level on a tape gives (play such a tape once); 0 is unknown"`
	DullDB           float64 `yaml:"dull_db" range:"1,20" help:"fall of the treble that makes a dull edge"`
	WithinArcmin     float64 `yaml:"within_arcmin" flag:"within" range:"0.1,60" help:"uncertainty asked of the optimum: 2 means that it shall lie within ±2' with 95 %"`
	WindowDeg        float64 `yaml:"window_deg" flag:"window" range:"5,3600" help:"how far the screw may turn either way from as found"`
	ChannelDelayUS   float64 `yaml:"channel_delay_us" range:"-500,500" help:"fixed delay of the right channel (gap scatter, electronics)"`
	ChannelDelaySDUS float64 `yaml:"channel_delay_sd_us" range:"0.01,500" help:"standard uncertainty of the fixed delay"`
	SlackTakenUp     bool    `yaml:"slack_taken_up" help:"whether the blade rests against the home flank of the slot already"`
	SettleMS         float64 `yaml:"settle_ms" range:"1,10000" help:"time that the sound is let pass after each move"`
	DwellScale       float64 `yaml:"dwell_scale" range:"0.1,20" help:"factor on the listening time at each place"`
	TapeBudgetS      float64 `yaml:"tape_budget_s" range:"10,7200" help:"tape after which the refining ends"`
	StopAndMeasure   bool    `yaml:"stop_and_measure" flag:"stop-and-measure" help:"stop the screw to measure a tone, too: slower than to measure while it turns"`
	BothSides        bool    `yaml:"both_sides" flag:"both-sides" help:"also listen at the optimum from its other side, which shows the backlash of screw and blade; takes some seven seconds more"`
	ProofSeconds     float64 `yaml:"proof_seconds" range:"1,60" help:"how long as found and as left are listened to"`

	Jig           Jig           `yaml:"jig"`
	Deck          Deck          `yaml:"deck"`
	ReferenceTape ReferenceTape `yaml:"reference_tape"`
	About         About         `yaml:"about"`
	Workshop      Workshop      `yaml:"workshop"`
}

// About is what a customer's sheet says of the unit and its owner. It stands in the unit's own
// file, units/UNIT.yaml in the logbook's folder, or in the list of a batch.
type About struct {
	Maker    string `yaml:"maker" help:"maker of the unit"`
	Model    string `yaml:"model" help:"its model"`
	Serial   string `yaml:"serial" help:"its serial number"`
	Customer string `yaml:"customer" help:"whose it is"`
}

// Workshop is the letterhead of a customer's sheet.
type Workshop struct {
	Name    string `yaml:"name" help:"name of the workshop, for the head of the customer's sheet"`
	Address string `yaml:"address" help:"its address; a semicolon ends a line"`
	Logo    string `yaml:"logo" help:"a PNG file with its logo"`
}

// Jig is the motor and its gear to the screw.
type Jig struct {
	Profile       string  `yaml:"profile" flag:"jig" profiles:"jigs" help:"profile of the jig: a name or a YAML file"`
	StepsPerTurn  int     `yaml:"steps_per_turn" range:"1,100000" help:"full steps per turn of the motor"`
	Microsteps    int     `yaml:"microsteps" range:"1,1024" help:"microsteps per full step"`
	Gear          float64 `yaml:"gear" range:"0.01,10000" help:"turns of the motor per turn of the screw"`
	Direction     int     `yaml:"direction" choice:"1,-1" help:"1, or -1 if the motor turns the screw the other way"`
	Forward       string  `yaml:"forward" choice:"unknown,clockwise,counter-clockwise" help:"how a forward turn turns the screw, as seen on its head; then the sheet says clockwise and counter-clockwise"`
	SpeedDegPerS  float64 `yaml:"speed_deg_per_s" range:"0,10000" help:"speed of the screw; 0 is the jig's greatest"`
	AccelDegPerS2 float64 `yaml:"accel_deg_per_s2" range:"0,1000000" help:"slowest acceleration believed of the jig; 0 believes what the jig states"`
	OvershootDeg  float64 `yaml:"overshoot_deg" range:"1,360" help:"way back to arrive from the home side; more than the backlash"`
	HomeSide      int     `yaml:"home_side" choice:"1,-1" help:"side from which the screw arrives"`
}

// Turns is Forward, or empty if it is unknown.
func (j Jig) Turns() string {
	if j.Forward == "unknown" {
		return ""
	}
	return j.Forward
}

// Deck is the mount of the head.
type Deck struct {
	Profile              string  `yaml:"profile" flag:"deck" profiles:"decks" help:"profile of the deck: a name or a YAML file"`
	PitchMM              float64 `yaml:"pitch_mm" range:"0.05,5" help:"pitch of the azimuth screw"`
	LeverMM              float64 `yaml:"lever_mm" range:"1,100" help:"distance of the screw from the pivot of the mount"`
	GearingArcminPerTurn float64 `yaml:"gearing_arcmin_per_turn" range:"-2000,2000" help:"measured gearing; 0 computes it from pitch and lever"`
	GearingSignKnown     bool    `yaml:"gearing_sign_known" help:"whether the sign of the gearing is right, not only its size"`
	BacklashDeg          float64 `yaml:"backlash_deg" range:"0,300" help:"measured backlash between jig and screw: the jig overshoots by more"`
	PassOffArcmin        float64 `yaml:"pass_off_arcmin" range:"0,60" help:"most that a head may stand off as left to pass in a batch; 0 is no limit"`
	PassSDArcmin         float64 `yaml:"pass_sd_arcmin" range:"0,30" help:"most standard uncertainty of the optimum to pass"`
	PassBacklashDeg      float64 `yaml:"pass_backlash_deg" range:"0,300" help:"most backlash between jig and screw to pass"`
	PassMovedArcmin      float64 `yaml:"pass_moved_arcmin" range:"0,60" help:"most that a head may have moved by its proof to pass"`
}

// ReferenceTape is a tape of known azimuth.
type ReferenceTape struct {
	Profile      string  `yaml:"profile" flag:"reference-tape" profiles:"tapes" help:"profile of the reference tape: a name or a YAML file"`
	TiltArcmin   float64 `yaml:"tilt_arcmin" range:"-60,60" help:"what a head at the standard reads on the tape"`
	TiltSDArcmin float64 `yaml:"tilt_sd_arcmin" range:"0,60" help:"standard uncertainty of that"`
	ToneHz       float64 `yaml:"tone_hz" range:"0,20000" help:"tone on the reference tape, taken if tone_hz is not set"`
}

// The sound of a move arrives late, by the buffers on the way. Through a sound server 190 to
// 240 ms were measured on an idle machine, 150 of them in the player; a busy machine needs a
// margin above that. The virtual bench inside the program has no such delay: there only the
// head has to settle.
const (
	settleLiveMS    = 400
	settleVirtualMS = 200
)

// Default returns the settings that hold if nothing is set.
func Default() Settings {
	return Settings{
		AudioRateHz: 48000, Logbook: places.Logbook(DataFolder()), Clips: DataFolder(), Head: "replay", To: "tape",
		DullDB: 6, WithinArcmin: 2, WindowDeg: 120, ChannelDelaySDUS: 5.8,
		SettleMS: settleLiveMS, DwellScale: 1, TapeBudgetS: 180, ProofSeconds: 4,
		Jig: Jig{Profile: "direct", StepsPerTurn: 200, Microsteps: 16, Gear: 1, Direction: 1, Forward: "unknown",
			SpeedDegPerS: 180, AccelDegPerS2: 900, OvershootDeg: 30, HomeSide: 1},
		Deck: Deck{Profile: "m2.5", PitchMM: 0.45, LeverMM: 10,
			PassOffArcmin: 3, PassSDArcmin: 1.5, PassBacklashDeg: 45, PassMovedArcmin: 3},
	}
}

// Folder is the folder of the clips and of the unit files: the logbook's own folder, or Clips
// if the logbook is on a server.
func (s Settings) Folder() string {
	if s.Logbook.IsServer() {
		return s.Clips
	}
	return string(s.Logbook)
}

// ForTimeLapse makes the settings record in a logbook for time-lapses, which no chart, restore
// or list of the usual one counts.
func (s *Settings) ForTimeLapse() {
	s.Logbook = places.Logbook(filepath.Join(s.Folder(), "time-lapse"))
}

// Overshoot is how far the jig goes back to arrive from the home side: more than the
// backlash, if that has been measured.
func (s Settings) Overshoot() float64 {
	return max(s.Jig.OvershootDeg, s.Deck.BacklashDeg*1.25+5)
}

// Gearing is arcminutes of tilt per turn of the screw: the measured value, or
// atan(pitch/lever).
func (d Deck) Gearing() float64 {
	if d.GearingArcminPerTurn != 0 {
		return d.GearingArcminPerTurn
	}
	return math.Atan(d.PitchMM/d.LeverMM) * 180 * 60 / math.Pi
}
