// Package record defines the data of a run: plain types with units in their names, and the
// version of the format. Its methods check entries and list what an outcome means for screw
// and user. It imports nothing of the project; storage, drawing and computation are
// elsewhere.
//
// A run is a sequence of entries, appended as they happen. Angles of the screw are degrees
// relative to the position of the jig at the start of the run ("as found", 0); tilts are
// arcminutes; delays are microseconds, positive when the right channel comes later.
package record

// Version is the version of the format. A reader refuses a higher one.
const Version = 1

// Entry is one line of a run. Exactly one of the pointers is set; Kind names it. At is the
// wall-clock time (RFC 3339, UTC). TapeSeconds is the length of sound since the run began.
type Entry struct {
	Kind        string    `json:"kind"`
	At          string    `json:"at,omitempty"`
	TapeSeconds float64   `json:"tape_seconds"`
	Start       *Start    `json:"start,omitempty"`
	Found       *Found    `json:"found,omitempty"`
	Checks      *Checks   `json:"checks,omitempty"`
	Step        *Step     `json:"step,omitempty"`
	Decision    *Decision `json:"decision,omitempty"`
	Left        *Left     `json:"left,omitempty"`
	Clip        *Clip     `json:"clip,omitempty"`
	End         *End      `json:"end,omitempty"`
	Note        *Note     `json:"note,omitempty"`
}

// Kinds of entries.
const (
	KindStart    = "start"
	KindFound    = "found"
	KindChecks   = "checks"
	KindStep     = "step"
	KindDecision = "decision"
	KindLeft     = "left"
	KindClip     = "clip"
	KindEnd      = "end"
	KindNote     = "note" // may come after the end
)

// Start opens a run: the person, the request and the settings.
type Start struct {
	Version int    `json:"version"`
	Run     string `json:"run"`
	Command string `json:"command"`
	Program string `json:"program"`
	// Unit, Head, Job, Tape and Operator are the user's own names: the individual deck, its
	// head and direction, the customer or purpose, the tape and the person.
	Unit     string   `json:"unit,omitempty"`
	Head     string   `json:"head,omitempty"`
	Job      string   `json:"job,omitempty"`
	Tape     string   `json:"tape,omitempty"`
	Operator string   `json:"operator,omitempty"`
	Ambient  *Ambient `json:"ambient,omitempty"`
	Jig      *Jig     `json:"jig,omitempty"`
	Port     string   `json:"port,omitempty"`
	// Bench names the board behind the port, or its place at the machine.
	Bench    string            `json:"bench,omitempty"`
	Audio    string            `json:"audio,omitempty"`
	Virtual  string            `json:"virtual,omitempty"`
	Seed     uint64            `json:"seed,omitempty"`
	Settings map[string]string `json:"settings,omitempty"`
	Cautions Cautions          `json:"cautions"`
	// RestoreOf names the run whose as-found position this run restores.
	RestoreOf string `json:"restore_of,omitempty"`
	// ProofOf names the run whose as-left head this run hears again, with the blade away:
	// after the lacquer, or later.
	ProofOf string `json:"proof_of,omitempty"`
	// Batch names the series of units that this run belongs to.
	Batch string `json:"batch,omitempty"`
	// Study names the study of the run, and Trial the first trial of its plan that the run
	// measures.
	Study string `json:"study,omitempty"`
	Trial int    `json:"trial,omitempty"`
}

// Ambient is the air at the bench, if known; From names the source.
type Ambient struct {
	TemperatureC    *float64 `json:"temperature_c,omitempty"`
	HumidityPercent *float64 `json:"humidity_percent,omitempty"`
	From            string   `json:"from"`
}

// Jig identifies the jig by its greeting.
type Jig struct {
	Firmware string `json:"firmware"`
	Link     string `json:"link"`
}

// Clip is a stretch of sound, kept as a file beside the logbook.
type Clip struct {
	Name   string `json:"name"`
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
}

// Note is a person's remark on a run.
type Note struct {
	By   string `json:"by,omitempty"`
	Text string `json:"text"`
}

// Cautions records whether the safety question was asked, and the answer.
type Cautions struct {
	Asked  bool   `json:"asked"`
	Answer string `json:"answer"`
}

// Found is the state before the first move. It is durable before any motion.
type Found struct {
	// PositionMicrosteps is the jig's own absolute counter at zero degrees, and Epoch the
	// number of that count. If the epochs of two runs differ, the count was lost in between
	// and the numbers cannot be compared.
	PositionMicrosteps int32   `json:"position_microsteps"`
	Epoch              uint16  `json:"epoch"`
	BootCount          uint16  `json:"boot_count"`
	Memory             string  `json:"memory"`
	MicrostepsPerTurn  float64 `json:"microsteps_per_turn"`
	// BladeOff is measured before the blade is seated, Seated after it.
	BladeOff *Reading `json:"blade_off,omitempty"`
	Seated   *Reading `json:"seated,omitempty"`
	// SlackTakenUp means that the blade already rested against the home flank of the slot,
	// so that zero degrees is exactly as found.
	SlackTakenUp bool   `json:"slack_taken_up"`
	Clip         string `json:"clip,omitempty"`
	// ShaftAngle is the reading of an encoder on the motor's shaft at zero degrees with the
	// motor on, in 4096ths of a turn; nil if there is none.
	ShaftAngle *uint16 `json:"shaft_angle_4096ths,omitempty"`
}

// Checks is the result of the ready step.
type Checks struct {
	Checks []Check `json:"checks"`
}

// Check is one line of the ready step. Verdict is "pass", "doubt", "fail" or "unknown"; Do
// is the remedy for a doubt or failure.
type Check struct {
	Name    string `json:"name"`
	Verdict string `json:"verdict"`
	Found   string `json:"found"`
	Do      string `json:"do,omitempty"`
}

// Step is one measured position, or one short stretch of a turn.
type Step struct {
	N     int    `json:"n"`
	Phase string `json:"phase"`
	// AtSeconds is the tape second of the middle of the reading.
	AtSeconds float64 `json:"at_s"`
	ScrewDeg  float64 `json:"screw_deg"`
	// FromHome means that the screw arrived from its home side, so that backlash cancels
	// against other such steps.
	FromHome bool `json:"from_home"`
	// Turning means that the screw turned during the reading and was at ScrewDeg half way;
	// the sound lags behind it by the pipeline.
	Turning bool `json:"turning,omitempty"`
	// FromDeg is the position of the screw at the start of such a stretch.
	FromDeg float64 `json:"from_deg,omitempty"`
	Reading Reading `json:"reading"`
}

// Reading is the measurement of one stretch of sound.
type Reading struct {
	Seconds float64 `json:"seconds"`
	// LevelDBFS is the rms level, left and right, re a full-scale sine.
	LevelDBFS [2]float64 `json:"level_dbfs"`
	// TrebleDB is the treble level of both channels together: for a tone its
	// level re full scale, for a programme the treble re the mid band.
	TrebleDB   float64    `json:"treble_db"`
	TrebleLR   [2]float64 `json:"treble_db_lr"`
	TrebleSDDB float64    `json:"treble_sd_db"`
	// ThirdsDBFS are a programme's levels in the third octaves of 4 to 16 kHz,
	// by channel.
	ThirdsDBFS *[2][7]float64 `json:"thirds_dbfs_lr,omitempty"`
	// DelayUS is the delay of the right channel against the left, positive when the right
	// comes later. A tone gives it only to whole periods, and DelayPeriodUS is then the
	// period; several tones may settle it. DelayNoiseSDUS is the part of DelaySDUS from
	// noise and programme, without the wander of the tape.
	DelayUS        float64 `json:"delay_us"`
	DelaySDUS      float64 `json:"delay_sd_us"`
	DelayNoiseSDUS float64 `json:"delay_noise_sd_us"`
	DelayPeriodUS  float64 `json:"delay_period_us,omitempty"`
	// DelayTrackedUS is a tone's delay with its whole periods counted from place to place;
	// only its changes between neighbouring steps are significant. For a programme it equals
	// DelayUS.
	DelayTrackedUS float64 `json:"delay_tracked_us"`
	PhaseDeg10k    float64 `json:"phase_deg_10k"`
	TiltArcmin     float64 `json:"tilt_arcmin"`
	Coherence      float64 `json:"coherence"`
	// PhaseMisfit is the chi-squared per degree of freedom of the phase's straight line:
	// about 1 if a single delay explains the sound.
	PhaseMisfit float64 `json:"phase_misfit,omitempty"`
	ToneHz      float64 `json:"tone_hz,omitempty"`
	// FurtherTonesHz are the tones beside ToneHz, as heard.
	FurtherTonesHz []float64 `json:"further_tones_hz,omitempty"`
	// ToneToNoiseDB is the level of the tone against the rest of the treble band, in the
	// better channel.
	ToneToNoiseDB float64 `json:"tone_to_noise_db,omitempty"`
	LostFrames    int64   `json:"lost_frames,omitempty"`
	NotNumbers    int     `json:"not_numbers,omitempty"` // samples
	Usable        bool    `json:"usable"`
	// Why lists the faults of the sound in plain words.
	Why []string `json:"why,omitempty"`
}

// Estimate is one estimate of the centre.
type Estimate struct {
	Deg      float64 `json:"deg"`
	SDArcmin float64 `json:"sd_arcmin"`
	OK       bool    `json:"ok"`
	Why      string  `json:"why,omitempty"`
}

// Decision is the result of the measurements.
type Decision struct {
	LowEdgeDeg   float64  `json:"low_edge_deg"`
	HighEdgeDeg  float64  `json:"high_edge_deg"`
	DullDB       float64  `json:"dull_db"`
	Midpoint     Estimate `json:"midpoint"`
	Fitted       Estimate `json:"fitted"`
	DelayZero    Estimate `json:"delay_zero"`
	Optimum      Estimate `json:"optimum"`
	Agreement    string   `json:"agreement"`
	AgreementWhy string   `json:"agreement_why,omitempty"`
	// Brightest is the place with the most treble, if the deck has shown that it differs
	// from the optimum, at which the gaps lie along the pattern; else nil. Unlike is the
	// cause of the difference: "contact", "bow", or "contact or bow".
	Brightest *Estimate `json:"brightest,omitempty"`
	Unlike    string    `json:"unlike,omitempty"`
	// GearingArcminPerTurn is positive if a forward turn of the screw makes the right
	// channel later.
	GearingArcminPerTurn   float64 `json:"gearing_arcmin_per_turn"`
	GearingSDArcminPerTurn float64 `json:"gearing_sd_arcmin_per_turn"`
	// BacklashDeg is the backlash between jig and screw, if the screw was heard from both
	// sides. PipelineSeconds is the time from the jig's report of a turn to its sound.
	BacklashDeg      float64 `json:"backlash_deg,omitempty"`
	BacklashSDDeg    float64 `json:"backlash_sd_deg,omitempty"`
	PipelineSeconds  float64 `json:"pipeline_s,omitempty"`
	ChannelDelayUS   float64 `json:"channel_delay_us"`
	ChannelDelaySDUS float64 `json:"channel_delay_sd_us"`
	// SecondSourceSigmas is the deviation of the phase from that of a single delay towards a
	// second source's, in standard deviations, about 2 by chance. It is measured over the
	// whole run or at the place at which a known delay would have set the head.
	// SecondSourceHeard means that this, or a delay that moves by itself, was enough for the
	// treble to set the head alone.
	SecondSourceSigmas float64 `json:"second_source_sigmas,omitempty"`
	SecondSourceHeard  bool    `json:"second_source_heard,omitempty"`
	// FoundHomeDeg is the jig position that, reached from the home side, puts the head as
	// found (the initial backlash makes it differ from zero).
	FoundHomeDeg float64 `json:"found_home_deg"`
	FoundHomeOK  bool    `json:"found_home_ok"`
	// FoundHomeSDArcmin is the standard uncertainty of that place as tilt, without that of
	// the reading as found.
	FoundHomeSDArcmin float64 `json:"found_home_sd_arcmin,omitempty"`
	// FoundOffArcmin is the tilt of as found from the optimum, with its standard
	// uncertainty; nil if unknown.
	FoundOffArcmin   *float64 `json:"found_off_arcmin,omitempty"`
	FoundOffSDArcmin float64  `json:"found_off_sd_arcmin,omitempty"`
	// Curve is the fitted treble curve for drawing.
	Curve []CurvePoint `json:"curve,omitempty"`
}

// CurvePoint is one point of a fitted curve.
type CurvePoint struct {
	ScrewDeg float64 `json:"screw_deg"`
	TrebleDB float64 `json:"treble_db"`
}

// Left is the state after the work.
type Left struct {
	ScrewDeg float64  `json:"screw_deg"`
	Verified *Reading `json:"verified,omitempty"`
	Released *Reading `json:"released,omitempty"`
	Clip     string   `json:"clip,omitempty"`
	// BladeTiltArcmin is the tilt of the head by the seated blade, if it was clear of the
	// noise and allowed for.
	BladeTiltArcmin float64 `json:"blade_tilt_arcmin,omitempty"`
	// OffArcmin is the tilt from the optimum with the motor off and the blade away, by the
	// delay, with its standard uncertainty; nil if the delay was unusable.
	OffArcmin   *float64 `json:"off_arcmin,omitempty"`
	OffSDArcmin float64  `json:"off_sd_arcmin,omitempty"`
	// TravelDeg is the total turn of the screw in both directions.
	TravelDeg float64 `json:"travel_deg"`
	// StepsCheckedBy is the evidence that the screw stands at its counted position:
	// "encoder", "sound" (a place was heard again), or nothing.
	StepsCheckedBy string `json:"steps_checked_by,omitempty"`
}

// End closes a run.
type End struct {
	Outcome Outcome `json:"outcome"`
	// Cause is the place to look, if the outcome alone does not show it.
	Cause Cause  `json:"cause,omitempty"`
	Say   string `json:"say"`
	Do    string `json:"do,omitempty"`
	// ScrewDeg is the last known position of the jig.
	ScrewDeg     float64 `json:"screw_deg"`
	ScrewCertain bool    `json:"screw_certain"`
	// ScrewOffDeg is, after a run that has not set the head, the position of the screw
	// itself from as found, positive forward, with its standard uncertainty; the backlash
	// between jig and screw is included. It is nil if unknown. PutBack means that the run
	// has driven the screw back by itself.
	ScrewOffDeg   *float64 `json:"screw_off_deg,omitempty"`
	ScrewOffSDDeg float64  `json:"screw_off_sd_deg,omitempty"`
	PutBack       bool     `json:"put_back,omitempty"`
	// RestoreCommand is the command that puts the screw back as found; empty if the screw is
	// known to be there.
	RestoreCommand string `json:"restore_command,omitempty"`
}

// Outcome is how a run ended.
type Outcome string

// Outcomes. Aligned, Measured and Restored are good ends; outcomes lists the others.
const (
	Aligned        Outcome = "aligned"
	Measured       Outcome = "measured"
	Restored       Outcome = "restored"
	LessCertain    Outcome = "aligned-less-certain"
	Disagree       Outcome = "estimates-disagree"
	NotReady       Outcome = "not-ready"
	Interrupted    Outcome = "interrupted"
	LinkLost       Outcome = "link-lost"
	JigReset       Outcome = "jig-reset"
	JigStopped     Outcome = "jig-stopped"
	JigRefused     Outcome = "jig-refused"
	SoundStopped   Outcome = "sound-stopped"
	SoundLost      Outcome = "sound-lost"
	Silent         Outcome = "silent"
	Clipped        Outcome = "clipped"
	TapeEnded      Outcome = "tape-ended"
	ChannelDead    Outcome = "channel-dead"
	ChannelFlipped Outcome = "channel-inverted"
	NoTreble       Outcome = "no-treble"
	ToneOver       Outcome = "tone-over"
	AutoGain       Outcome = "automatic-gain"
	TravelLimit    Outcome = "travel-limit"
	NotFollowing   Outcome = "not-following"
	WrongScrew     Outcome = "wrong-screw"
	TooUncertain   Outcome = "too-uncertain"
	RestoreDoubt   Outcome = "restore-doubtful"
	NotSaved       Outcome = "not-saved"
	Failed         Outcome = "failed"
	TakenOut       Outcome = "taken-out" // a person took a unit out of its batch
)
