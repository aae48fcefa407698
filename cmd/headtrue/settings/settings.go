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
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"headtrue/sweep/logbook/places"
)

// Settings is everything that can be set.
type Settings struct {
	Port        string         `yaml:"port" flag:"port" help:"serial port of the jig, such as /dev/ttyACM0 or COM3"`
	Audio       string         `yaml:"audio" flag:"audio" help:"sound input, as headtrue devices names it; - or raw:f32le is raw PCM on standard input, 16-bit or float"`
	AudioRateHz int            `yaml:"audio_rate_hz" flag:"audio-rate" range:"8000,384000" help:"frames per second asked of the sound input"`
	Logbook     places.Logbook `yaml:"logbook" flag:"logbook" help:"folder of the logbook, or the PostgreSQL server that several benches share, postgres://USER@HOST/DATABASE"`
	Clips       string         `yaml:"clips" flag:"clips" help:"folder of the clips of sound, where the logbook is on a server"`
	Unit        string         `yaml:"unit" flag:"unit" label:"yes" help:"this very deck by a label of your own: what runs learn of it is kept and used again"`
	Head        string         `yaml:"head" flag:"head" label:"yes" help:"which head of the unit, and in which direction"`

	Job      string `yaml:"job" flag:"job" help:"for whom or what: a job or customer reference of your own"`
	Tape     string `yaml:"tape" flag:"tape" help:"which tape is played, by a label of your own"`
	Operator string `yaml:"operator" flag:"operator" help:"who works at the bench"`
	Ambient  string `yaml:"ambient" flag:"ambient" help:"temperature in degrees C and, after a space or semicolon, relative humidity in %: 21.5 45; or a file: or command: that says them"`

	To               string  `yaml:"to" flag:"to" choice:"tape,standard" help:"what to align to: this tape, or the standard by way of a reference tape"`
	ToneHz           float64 `yaml:"tone_hz" flag:"tone" range:"0,20000" help:"frequency or name of the tone on the tape; 0 means programme material"`
	FurtherTonesHz   string  `yaml:"further_tones_hz" flag:"further-tones" help:"further tones that sound beside it, with commas, such as 1k,6k3,12k5: with a low one no whole period can be miscounted"`
	DullDB           float64 `yaml:"dull_db" flag:"dull" range:"1,20" help:"fall of the treble that makes a dull edge"`
	WithinArcmin     float64 `yaml:"within_arcmin" flag:"within" range:"0.05,30" help:"standard uncertainty asked of the optimum"`
	WindowDeg        float64 `yaml:"window_deg" flag:"window" range:"5,3600" help:"how far the screw may turn either way from as found"`
	ChannelDelayUS   float64 `yaml:"channel_delay_us" flag:"channel-delay-us" range:"-500,500" help:"fixed delay of the right channel (gap scatter, electronics)"`
	ChannelDelaySDUS float64 `yaml:"channel_delay_sd_us" flag:"channel-delay-sd-us" range:"0.01,500" help:"standard uncertainty of the fixed delay"`
	SlackTakenUp     bool    `yaml:"slack_taken_up" flag:"slack-taken-up" help:"the blade rests against the home flank of the slot already"`
	SettleMS         float64 `yaml:"settle_ms" range:"1,10000" help:"sound let pass after each move"`
	DwellScale       float64 `yaml:"dwell_scale" range:"0.1,20" help:"how long is listened at each place, 1 being normal"`
	TapeBudgetS      float64 `yaml:"tape_budget_s" range:"10,7200" help:"tape after which the refining ends"`
	StopAndMeasure   bool    `yaml:"stop_and_measure" flag:"stop-and-measure" help:"stop the screw to measure a tone, too: slower than measuring while it turns"`
	BothSides        bool    `yaml:"both_sides" flag:"both-sides" help:"listen at the optimum from its other side, too, which tells the play of screw and blade; takes some seven seconds more"`
	ProofSeconds     float64 `yaml:"proof_seconds" flag:"proof-seconds" range:"1,60" help:"how long as found and as left are listened to"`

	Jig           Jig           `yaml:"jig"`
	Deck          Deck          `yaml:"deck"`
	ReferenceTape ReferenceTape `yaml:"reference_tape"`
}

// FurtherTones are the frequencies of FurtherTonesHz.
func (s Settings) FurtherTones() []float64 {
	tones, _ := furtherTones(s.FurtherTonesHz) // checked when it was read
	return tones
}

// mostFurtherTones is the maximum number of tones beside the main one.
const mostFurtherTones = 4

// furtherTones reads a list of tones separated by commas.
func furtherTones(text string) ([]float64, error) {
	if strings.TrimSpace(text) == "" {
		return nil, nil
	}
	var tones []float64
	for _, one := range strings.Split(text, ",") {
		hz, err := quantity("hz", toneNamed(strings.TrimSpace(one)))
		if err != nil {
			return nil, err
		}
		if !(hz >= 20 && hz <= 20000) {
			return nil, fmt.Errorf("%q: must lie between 20 and 20000 Hz", strings.TrimSpace(one))
		}
		tones = append(tones, hz)
	}
	if len(tones) > mostFurtherTones {
		return nil, fmt.Errorf("%q: at most %d further tones can be listened to", text, mostFurtherTones)
	}
	return tones, nil
}

func textsOf(numbers []float64) (texts []string) {
	for _, n := range numbers {
		texts = append(texts, strconv.FormatFloat(n, 'g', -1, 64))
	}
	return texts
}

// Jig is the motor and its gear to the screw.
type Jig struct {
	Profile       string  `yaml:"profile" flag:"jig" profiles:"jigs" help:"profile of the jig: a name or a YAML file"`
	StepsPerTurn  int     `yaml:"steps_per_turn" range:"1,100000" help:"full steps per turn of the motor"`
	Microsteps    int     `yaml:"microsteps" range:"1,1024" help:"microsteps per full step"`
	Gear          float64 `yaml:"gear" range:"0.01,10000" help:"turns of the motor per turn of the screw"`
	Direction     int     `yaml:"direction" choice:"1,-1" help:"1, or -1 where the motor turns the screw the other way"`
	SpeedDegPerS  float64 `yaml:"speed_deg_per_s" range:"0,10000" help:"speed of the screw; 0 is the jig's greatest"`
	AccelDegPerS2 float64 `yaml:"accel_deg_per_s2" range:"0,1000000" help:"slowest acceleration believed of the jig; 0 takes its word"`
	OvershootDeg  float64 `yaml:"overshoot_deg" range:"1,360" help:"way back to arrive from the home side; more than the play"`
	HomeSide      int     `yaml:"home_side" choice:"1,-1" help:"side from which the screw arrives"`
}

// Deck is the mount of the head.
type Deck struct {
	Profile              string  `yaml:"profile" flag:"deck" profiles:"decks" help:"profile of the deck: a name or a YAML file"`
	PitchMM              float64 `yaml:"pitch_mm" range:"0.05,5" help:"pitch of the azimuth screw"`
	LeverMM              float64 `yaml:"lever_mm" range:"1,100" help:"distance of the screw from the pivot of the mount"`
	GearingArcminPerTurn float64 `yaml:"gearing_arcmin_per_turn" range:"-2000,2000" help:"measured gearing; 0 takes pitch and lever"`
	GearingSignKnown     bool    `yaml:"gearing_sign_known" help:"the sign of the gearing is right, not only its size"`
	BacklashDeg          float64 `yaml:"backlash_deg" range:"0,300" help:"measured play between jig and screw: the jig overshoots by more"`
	PassOffArcmin        float64 `yaml:"pass_off_arcmin" range:"0,60" help:"most that a head may stand off as left to pass in a batch; 0 does not matter"`
	PassSDArcmin         float64 `yaml:"pass_sd_arcmin" range:"0,30" help:"most standard uncertainty of the optimum to pass"`
	PassBacklashDeg      float64 `yaml:"pass_backlash_deg" range:"0,300" help:"most play between jig and screw to pass"`
	PassMovedArcmin      float64 `yaml:"pass_moved_arcmin" range:"0,60" help:"most that a head may have moved by its proof to pass"`
}

// ReferenceTape is a tape of known azimuth.
type ReferenceTape struct {
	Profile      string  `yaml:"profile" flag:"reference-tape" profiles:"tapes" help:"profile of the reference tape: a name or a YAML file"`
	TiltArcmin   float64 `yaml:"tilt_arcmin" range:"-60,60" help:"what a head at the standard reads on the tape"`
	TiltSDArcmin float64 `yaml:"tilt_sd_arcmin" range:"0,60" help:"standard uncertainty of that"`
	ToneHz       float64 `yaml:"tone_hz" range:"0,20000" help:"tone on the reference tape, taken where tone_hz is not set"`
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
		DullDB: 6, WithinArcmin: 1, WindowDeg: 120, ChannelDelaySDUS: 5.8,
		SettleMS: settleLiveMS, DwellScale: 1, TapeBudgetS: 180, ProofSeconds: 4,
		Jig: Jig{Profile: "direct", StepsPerTurn: 200, Microsteps: 16, Gear: 1, Direction: 1,
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
