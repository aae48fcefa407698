// Package record defines the data of a run: plain types with units in their names, and the
// version of the format. Its methods check entries and list what an outcome means for screw
// and user. It imports nothing of the project; storage, drawing and computation are
// elsewhere.
//
// A run is a sequence of entries, appended as they happen. Angles of the screw are degrees
// relative to the position of the jig at the start of the run ("as found", 0); tilts are
// arcminutes; delays are microseconds, positive when the right channel comes later.
//
// The help tags of fields are the texts of the commands' help on JSON; a field without one
// shares the text of the next field that has one. What only a jig has carries the tag jig, see
// absent.go.
package record

// Version is the version of the format. A reader refuses a higher one.
const Version = 1

// Entry is one line of a run. Exactly one of the pointers is set; Kind names it. At is the
// wall-clock time (RFC 3339, UTC). TapeSeconds is the length of sound since the run began.
type Entry struct {
	Kind        string    `json:"kind" help:"kind of the entry: the name of the field that holds it"`
	At          string    `json:"at,omitempty" help:"when it was written (UTC)"`
	TapeSeconds float64   `json:"tape_seconds" help:"tape used by then"`
	Start       *Start    `json:"start,omitempty" help:"the request and the settings"`
	Found       *Found    `json:"found,omitempty" help:"the state before the first move"`
	Checks      *Checks   `json:"checks,omitempty" help:"the ready step"`
	Step        *Step     `json:"step,omitempty" help:"a measured step"`
	Decision    *Decision `json:"decision,omitempty" help:"what the run concludes"`
	Left        *Left     `json:"left,omitempty" help:"the state at the end"`
	Clip        *Clip     `json:"clip,omitempty" help:"a file of sound beside the logbook"`
	End         *End      `json:"end,omitempty" help:"the end of the run"`
	Note        *Note     `json:"note,omitempty" help:"a remark; may come after the end"`
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
	Version int    `json:"version" help:"of the format"`
	Run     string `json:"run" help:"name of the run"`
	Command string `json:"command"`
	Program string `json:"program" help:"the command, and the version of headtrue"`
	// Unit, Head, Job, Tape and Operator are the user's own names: the individual deck, its
	// head and direction, the customer or purpose, the tape and the person.
	Unit      string            `json:"unit,omitempty"`
	Head      string            `json:"head,omitempty"`
	Job       string            `json:"job,omitempty"`
	Tape      string            `json:"tape,omitempty"`
	Operator  string            `json:"operator,omitempty" help:"names of your own"`
	Ambient   *Ambient          `json:"ambient,omitempty" help:"air at the bench"`
	Jig       *Jig              `json:"jig,omitempty" help:"by its greeting"`
	Port      string            `json:"port,omitempty"`
	Bench     string            `json:"bench,omitempty" help:"the serial port, and the board behind it or its place, or the kept virtual deck"`
	Audio     string            `json:"audio,omitempty" help:"the sound input"`
	Virtual   string            `json:"virtual,omitempty"`
	Seed      uint64            `json:"seed,omitempty" help:"of a virtual bench"`
	Settings  map[string]string `json:"settings,omitempty" help:"by name"`
	Cautions  Cautions          `json:"cautions" help:"the safety question"`
	RestoreOf string            `json:"restore_of,omitempty" help:"the run that this run undoes"`
	// ProofOf names the run whose as-left head this run hears again, with the blade away:
	// after the lacquer, or later.
	ProofOf string `json:"proof_of,omitempty" help:"the run whose as-left head this run hears again"`
	Batch   string `json:"batch,omitempty" help:"the batch that this run belongs to"`
	Study   string `json:"study,omitempty"`
	Trial   int    `json:"trial,omitempty" help:"the study of the run, and the first trial of its plan that the run measures"`
}

// Ambient is the air at the bench, if known; From names the source.
type Ambient struct {
	TemperatureC    *float64 `json:"temperature_c,omitempty"`
	HumidityPercent *float64 `json:"humidity_percent,omitempty" help:"if known"`
	From            string   `json:"from" help:"the source of these figures"`
}

// Jig identifies the jig by its greeting and its settings.
type Jig struct {
	Firmware string `json:"firmware"`
	Link     string `json:"link"`
	// Identity is the random number by which equal jigs are told apart; empty if the jig was
	// given none.
	Identity string `json:"identity,omitempty"`
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
	Answer string `json:"answer" help:"whether it was asked, and the answer"`
}

// Found is the state before the first move. It is durable before any motion.
type Found struct {
	// ByHand means that no jig turned the screw: then there is no count of one.
	ByHand bool `json:"by_hand,omitempty" help:"a person turned the screw, so that there is no count of a jig"`
	// PositionMicrosteps is the jig's own absolute counter at zero degrees, and Epoch the
	// number of that count. If the epochs of two runs differ, the count was lost in between
	// and the numbers cannot be compared.
	PositionMicrosteps int32    `json:"position_microsteps" jig:"count"`
	Epoch              uint16   `json:"epoch" jig:"count"`
	BootCount          uint16   `json:"boot_count" jig:"count"`
	Memory             string   `json:"memory" help:"the jig's own count at 0 degrees, the number of that count and of the jig's starts, and how far it can be trusted" jig:"count"`
	MicrostepsPerTurn  float64  `json:"microsteps_per_turn" help:"of the screw" jig:"count"`
	BladeOff           *Reading `json:"blade_off,omitempty" help:"a reading before the blade is seated"`
	Seated             *Reading `json:"seated,omitempty" help:"a reading after it"`
	SlackTakenUp       bool     `json:"slack_taken_up" help:"the blade already rested against the home flank of the slot, so that 0 degrees is exactly as found" jig:"count"`
	Clip               string   `json:"clip,omitempty" help:"file of the sound"`
	ShaftAngle         *uint16  `json:"shaft_angle_4096ths,omitempty" help:"by an encoder on the motor's shaft"`
}

// Checks is the result of the ready step.
type Checks struct {
	Checks []Check `json:"checks" help:"lines of the ready step"`
}

// Check is one line of the ready step. Verdict is "pass", "doubt", "fail" or "unknown"; Do
// is the remedy for a doubt or failure. Value is what was measured, if it is one number, and
// AtLeast and AtMost are its limits.
type Check struct {
	Name    string   `json:"name" help:"name of the check"`
	Verdict string   `json:"verdict" help:"pass, doubt, fail or unknown"`
	Value   *float64 `json:"value,omitempty"`
	AtLeast *float64 `json:"at_least,omitempty"`
	AtMost  *float64 `json:"at_most,omitempty"`
	Unit    string   `json:"unit,omitempty" help:"what was measured, if it is one number; its limits, if it has any; and the unit of these"`
	Found   string   `json:"found" help:"the finding in words, with units"`
	Do      string   `json:"do,omitempty" help:"what to do about it"`
}

// Step is one measured position, or one short stretch of a turn.
type Step struct {
	N         int     `json:"n" help:"number of the step"`
	Phase     string  `json:"phase" help:"phase of the run"`
	AtSeconds float64 `json:"at_s" help:"tape second of the middle of the reading"`
	ScrewDeg  float64 `json:"screw_deg" help:"place of the screw, half way if it turned" jig:"only"`
	// FromHome means that the screw arrived from its home side, so that backlash cancels
	// against other such steps.
	FromHome bool `json:"from_home" help:"it arrived from its home side" jig:"only"`
	// Turning means that the screw turned during the reading and was at ScrewDeg half way;
	// the sound lags behind it by the pipeline.
	Turning bool    `json:"turning,omitempty"`
	FromDeg float64 `json:"from_deg,omitempty" help:"it turned during the reading, and from where"`
	Reading Reading `json:"reading" help:"what was heard"`
}

// Reading is the measurement of one stretch of sound.
type Reading struct {
	Seconds    float64        `json:"seconds" help:"seconds that counted"`
	LevelDBFS  [2]float64     `json:"level_dbfs" help:"rms level [left, right]; a full-scale sine is 0, silence -200"`
	TrebleDB   float64        `json:"treble_db" help:"treble of both channels together: for a programme re the mid band, for a tone its level in dBFS"`
	TrebleLR   [2]float64     `json:"treble_db_lr" help:"the same, [left, right]"`
	TrebleSDDB float64        `json:"treble_sd_db" help:"standard uncertainty of treble_db"`
	ThirdsDBFS *[2][7]float64 `json:"thirds_dbfs_lr,omitempty" help:"of a programme, by channel: levels in the third octaves of 4 to 16 kHz"`
	// DelayUS is the delay of the right channel against the left, positive when the right
	// comes later. A tone gives it only to whole periods, and DelayPeriodUS is then the
	// period; several tones may settle it. DelayNoiseSDUS is the part of DelaySDUS from
	// noise and programme, without the wander of the tape.
	DelayUS        float64 `json:"delay_us"`
	DelaySDUS      float64 `json:"delay_sd_us" help:"delay of the right channel in microseconds, positive if it comes later (of a tone only to whole periods), and its standard uncertainty (1000000: unknown)"`
	DelayNoiseSDUS float64 `json:"delay_noise_sd_us" help:"the part of delay_sd_us without the wander of the tape"`
	DelayPeriodUS  float64 `json:"delay_period_us,omitempty" help:"period of the tone"`
	// DelayTrackedUS is a tone's delay with its whole periods counted from place to place;
	// only its changes between neighbouring steps are significant. For a programme it equals
	// DelayUS.
	DelayTrackedUS float64 `json:"delay_tracked_us" help:"a tone's delay with its periods counted from step to step"`
	PhaseDeg10k    float64 `json:"phase_deg_10k" help:"the delay as degrees at 10 kHz"`
	TiltArcmin     float64 `json:"tilt_arcmin" help:"the tilt that would cause the delay, same sign"`
	Coherence      float64 `json:"coherence" help:"coherence of the channels, 0 to 1"`
	// PhaseMisfit is the chi-squared per degree of freedom of the phase's straight line:
	// about 1 if a single delay explains the sound.
	PhaseMisfit    float64   `json:"phase_misfit,omitempty" help:"about 1 if one delay explains the sound of a programme"`
	ToneHz         float64   `json:"tone_hz,omitempty"`
	FurtherTonesHz []float64 `json:"further_tones_hz,omitempty" help:"tones as heard"`
	ToneToNoiseDB  float64   `json:"tone_to_noise_db,omitempty" help:"level of the tone re the rest of the treble, in the better channel"`
	LostFrames     int64     `json:"lost_frames,omitempty" help:"frames that never arrived"`
	NotNumbers     int       `json:"not_numbers,omitempty" help:"samples that were no number"`
	Usable         bool      `json:"usable"`
	Why            []string  `json:"why,omitempty" help:"whether the sound can be judged, and its faults"`
}

// Estimate is one estimate of the centre.
type Estimate struct {
	Deg        float64  `json:"deg" jig:"only"`
	SDArcmin   float64  `json:"sd_arcmin" help:"place of the screw, and its standard uncertainty as tilt, without that of the reading as found"`
	TiltArcmin *float64 `json:"tilt_arcmin,omitempty" help:"of a run by hand, in place of deg: the place as tilt by the delay"`
	OK         bool     `json:"ok"`
	Why        string   `json:"why,omitempty" help:"whether it can be used, and if not, the reason"`
}

// Decision is the result of the measurements.
type Decision struct {
	LowEdgeDeg  float64 `json:"low_edge_deg" jig:"only"`
	HighEdgeDeg float64 `json:"high_edge_deg" jig:"only"`
	DullDB      float64 `json:"dull_db" help:"the dull edges, and the loss of treble that makes them"`
	// LowEdgeArcmin and HighEdgeArcmin are the dull edges of a run by hand, tilts by delay.
	LowEdgeArcmin  *float64 `json:"low_edge_arcmin,omitempty"`
	HighEdgeArcmin *float64 `json:"high_edge_arcmin,omitempty" help:"of a run by hand: the dull edges as tilt by the delay"`
	Midpoint       Estimate `json:"midpoint" help:"middle of the dull edges"`
	Fitted         Estimate `json:"fitted" help:"top of the fitted treble curve"`
	DelayZero      Estimate `json:"delay_zero" help:"place without delay"`
	// PlaceCorrectionDeg is how far the optimum moved when the head was listened to at the
	// place that these estimates give; nil if nobody listened there.
	PlaceCorrectionDeg      *float64 `json:"place_correction_deg,omitempty"`
	PlaceCorrectionSDArcmin float64  `json:"place_correction_sd_arcmin,omitempty" help:"how far listening at that place has moved the optimum, and the standard uncertainty of it as tilt"`
	Optimum                 Estimate `json:"optimum" help:"the best estimate: fitted centre and delay zero together, and the correction"`
	Agreement               string   `json:"agreement"`
	AgreementWhy            string   `json:"agreement_why,omitempty" help:"whether the estimates agree, and if not, the reason"`
	// Brightest is the place with the most treble, if the deck has shown that it differs
	// from the optimum, at which the gaps lie along the pattern; else nil. Unlike is the
	// cause of the difference: "contact", "bow", or "contact or bow".
	Brightest *Estimate `json:"brightest,omitempty" help:"place of most treble, if it is not the optimum"`
	Unlike    string    `json:"unlike,omitempty" help:"the cause of that: contact, bow, or contact or bow"`
	// GearingArcminPerTurn is positive if a forward turn of the screw makes the right
	// channel later.
	GearingArcminPerTurn   float64 `json:"gearing_arcmin_per_turn" jig:"only"`
	GearingSDArcminPerTurn float64 `json:"gearing_sd_arcmin_per_turn" help:"tilt per turn, positive if forward makes the right channel later, and its standard uncertainty" jig:"only"`
	// BacklashDeg is the backlash between jig and screw, if the screw was heard from both
	// sides. PipelineSeconds is the time from the jig's report of a turn to its sound.
	BacklashDeg      float64 `json:"backlash_deg,omitempty"`
	BacklashSDDeg    float64 `json:"backlash_sd_deg,omitempty" help:"backlash, and its standard uncertainty"`
	PipelineSeconds  float64 `json:"pipeline_s,omitempty" help:"time from the jig's report of a turn to its sound"`
	ChannelDelayUS   float64 `json:"channel_delay_us"`
	ChannelDelaySDUS float64 `json:"channel_delay_sd_us" help:"fixed delay of the right channel, and its standard uncertainty"`
	// SecondSourceSigmas is the deviation of the phase from that of a single delay towards a
	// second source's, in standard deviations, about 2 by chance. It is measured over the
	// whole run or at the place at which a known delay would have set the head.
	// SecondSourceHeard means that this, or a delay that moves by itself, was enough for the
	// treble to set the head alone.
	SecondSourceSigmas float64 `json:"second_source_sigmas,omitempty" help:"deviation of the phase from that of a single delay, in standard deviations, about 2 by chance"`
	SecondSourceHeard  bool    `json:"second_source_heard,omitempty" help:"this, or a delay that moves by itself, made the treble set the head alone"`
	// FoundHomeDeg differs from zero by the initial backlash. The standard uncertainty
	// excludes that of the reading as found.
	FoundHomeDeg      float64      `json:"found_home_deg" jig:"only"`
	FoundHomeOK       bool         `json:"found_home_ok" jig:"only"`
	FoundHomeSDArcmin float64      `json:"found_home_sd_arcmin,omitempty" help:"place of the jig that, reached from home, puts the head as found; whether it is known; its standard uncertainty as tilt"`
	FoundOffArcmin    *float64     `json:"found_off_arcmin,omitempty"`
	FoundOffSDArcmin  float64      `json:"found_off_sd_arcmin,omitempty" help:"distance of as found from the optimum, and its standard uncertainty"`
	Curve             []CurvePoint `json:"curve,omitempty" help:"the fitted treble curve"`
}

// CurvePoint is one point of a fitted curve.
type CurvePoint struct {
	ScrewDeg   float64  `json:"screw_deg" jig:"only"`
	TiltArcmin *float64 `json:"tilt_arcmin,omitempty"` // of a run by hand, in place of ScrewDeg
	TrebleDB   float64  `json:"treble_db"`
}

// Left is the state after the work.
type Left struct {
	ScrewDeg        float64  `json:"screw_deg" help:"place of the screw" jig:"only"`
	Verified        *Reading `json:"verified,omitempty" help:"a reading with the motor on"`
	Released        *Reading `json:"released,omitempty" help:"a reading with the motor off and the blade away"`
	Clip            string   `json:"clip,omitempty" help:"file of the sound"`
	BladeTiltArcmin float64  `json:"blade_tilt_arcmin,omitempty" help:"tilt of the head by the seated blade, if it was clear of the noise and allowed for"`
	// OffArcmin is the tilt from the optimum with the motor off and the blade away, by the
	// delay, with its standard uncertainty; nil if the delay was unusable.
	OffArcmin   *float64 `json:"off_arcmin,omitempty"`
	OffSDArcmin float64  `json:"off_sd_arcmin,omitempty" help:"distance of the head from the optimum as heard, and its standard uncertainty"`
	Running     *Running `json:"running,omitempty" help:"speed and flutter of a tone"`
	TravelDeg   float64  `json:"travel_deg" help:"total turn of the screw in both directions" jig:"only"`
	// StepsCheckedBy is the evidence that the screw stands at its counted position:
	// "encoder", "sound" (a place was heard again), or nothing.
	StepsCheckedBy string `json:"steps_checked_by,omitempty" help:"evidence that no step was lost: encoder, or sound (a place was heard again)"`
}

// Running is how the tape ran, by a tone, while the screw stood. A nil field is unknown: there
// was too little sound for it.
type Running struct {
	CarrierHz              float64  `json:"carrier_hz" help:"mean frequency of the tone"`
	SpeedErrorPercent      *float64 `json:"speed_error_percent,omitempty"`
	SpeedErrorSDPercent    float64  `json:"speed_error_sd_percent,omitempty" help:"speed of the tape against the nominal frequency, positive if fast, and its standard uncertainty"`
	FlutterWeightedPercent *float64 `json:"flutter_weighted_percent,omitempty" help:"weighted peak flutter, 2-sigma, IEC 60386"`
	FlutterRMSPercent      *float64 `json:"flutter_rms_percent,omitempty" help:"unweighted rms of wow and flutter"`
	FlutterSeconds         float64  `json:"flutter_seconds" help:"sound that counts for the flutter; 10 s are needed"`
}

// End closes a run.
type End struct {
	Outcome      Outcome `json:"outcome" help:"how the run ended, see headtrue help exit-codes"`
	Cause        Cause   `json:"cause,omitempty" help:"the place to look, if the outcome does not show it"`
	Say          string  `json:"say"`
	Do           string  `json:"do,omitempty" help:"the outcome in words, and what to do about it"`
	ScrewDeg     float64 `json:"screw_deg" jig:"only"`
	ScrewCertain bool    `json:"screw_certain" help:"last known position of the jig, and whether it is certain" jig:"only"`
	// ScrewOffDeg is, after a run that has not set the head, the position of the screw
	// itself from as found, positive forward, with its standard uncertainty; the backlash
	// between jig and screw is included. It is nil if unknown. PutBack means that the run
	// has driven the screw back by itself.
	ScrewOffDeg   *float64 `json:"screw_off_deg,omitempty"`
	ScrewOffSDDeg float64  `json:"screw_off_sd_deg,omitempty" help:"after a run that has not set the head: place of the screw itself from as found (forward is positive), and its standard uncertainty, the backlash included"`
	PutBack       bool     `json:"put_back,omitempty" help:"the run has driven the screw back"`
	// Forward is the direction of a forward turn as seen on the screw's head; empty if
	// unknown.
	Forward        string `json:"forward,omitempty" help:"direction of a forward turn as seen on the screw's head, if known: clockwise or counter-clockwise"`
	RestoreCommand string `json:"restore_command,omitempty" help:"the command that puts the screw back as found"`
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
