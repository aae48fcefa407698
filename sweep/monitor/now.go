package monitor

// Now is what is heard at an instant. A nil field is not known. Pairs are left and right.
type Now struct {
	Seconds     float64     `json:"seconds" help:"sound since the beginning, lost frames included"`
	LevelDBFS   [2]*float64 `json:"level_dbfs" help:"rms level of the last 0.4 s [left, right]; a full-scale sine is 0"`
	PeakDBFS    [2]*float64 `json:"peak_dbfs" help:"highest sample of the last 2 s [left, right], full scale is 0"`
	Clipped     [2]bool     `json:"clipped" help:"whether the channel was clipped in the last 2 s: three samples in a row at full scale"`
	TrebleDB    *float64    `json:"treble_db" help:"treble of the last second, both channels together: of a programme re the mid band, of a tone its level in dBFS"`
	TrebleLR    [2]*float64 `json:"treble_db_lr" help:"the same, [left, right]"`
	DelayUS     *float64    `json:"delay_us"`
	DelaySDUS   *float64    `json:"delay_sd_us" help:"delay of the right channel since the head stands still, positive if it comes later (of a tone the smallest that fits), and its standard uncertainty by noise and wander"`
	PeriodUS    *float64    `json:"delay_period_us" help:"the delay is open by whole periods of this, by those of the tone; null if it is whole"`
	CountedUS   *float64    `json:"delay_counted_us" help:"the same delay with the periods counted while the head turns, since the last break in the sound"`
	TiltArcmin  *float64    `json:"tilt_arcmin"`
	TiltSD      *float64    `json:"tilt_sd_arcmin" help:"the smallest tilt that would cause the delay, less the fixed one (channel_delay_us), 5.5 us each, and its standard uncertainty by noise and wander"`
	TiltPeriod  *float64    `json:"tilt_period_arcmin" help:"the period of the delay as tilt"`
	StillS      float64     `json:"still_s" help:"seconds of sound, 60 at most, that count for the tilt since the head stands still"`
	Turns       int         `json:"turns" help:"how often the head was heard to turn: the tilt begins anew each time"`
	LiveDelayUS *float64    `json:"live_delay_us"`
	LiveTilt    *float64    `json:"live_tilt_arcmin" help:"delay and tilt of the last quarter of a second alone"`
	PhaseDeg    *float64    `json:"phase_deg" help:"phase between the channels of the last quarter of a second, positive if right comes later"`
	PhaseHz     *float64    `json:"phase_hz" help:"the frequency it is stated for: of the tone named, else 10 kHz"`
	ToneHz      *float64    `json:"tone_hz" help:"frequency of a tone, named or not, in the last second"`
	Speed       *float64    `json:"speed_percent" help:"speed error by that tone in the last second, positive if fast"`
	Nominal     *float64    `json:"speed_nominal_hz" help:"frequency of the tone at the right speed: the one named, or a usual one within 5 %"`
	SpeedMean   *float64    `json:"speed_mean_percent"`
	SpeedMeanSD *float64    `json:"speed_mean_sd_percent" help:"mean speed error of the last 15 to 30 s, and its standard uncertainty"`
	FlutterPeak *float64    `json:"flutter_weighted_percent" help:"weighted peak flutter, 2-sigma, IEC 60386 (AES6-2008)"`
	FlutterRMS  *float64    `json:"flutter_rms_percent" help:"unweighted rms of wow and flutter, 0.2 to 200 Hz"`
	FlutterS    *float64    `json:"flutter_seconds" help:"sound that counts for the flutter; 10 s are needed, and the last 30 count at most"`
	HumDBFS     [2]*float64 `json:"hum_dbfs" help:"level at hum_hz and its next two harmonics [left, right]; the bass of music is in it"`
	HumHz       *float64    `json:"hum_hz" help:"mains frequency of the stronger hum, 50 or 60"`
	Coherence   *float64    `json:"coherence" help:"coherence of the channels, 0 to 1, over 2 s"`
	LostFrames  int64       `json:"lost_frames" help:"frames that never arrived, since the beginning"`
	Faults      []string    `json:"faults" help:"silent, clipped, left-dead, right-dead, inverted, identical, lost, not-numbers, no-tone, no-treble; empty if there is none"`
}

// Faults of the sound.
const (
	Silent     = "silent"
	Clipped    = "clipped"
	LeftDead   = "left-dead"
	RightDead  = "right-dead"
	Inverted   = "inverted"  // one channel against the other
	Identical  = "identical" // both channels have the same samples: mono
	Lost       = "lost"      // frames, in the last 2 s
	NotNumbers = "not-numbers"
	NoTone     = "no-tone"   // the named one
	NoTreble   = "no-treble" // to judge by
)

// Summary is what was heard in all.
type Summary struct {
	Seconds             float64
	LevelDBFS, PeakDBFS [2]*float64 // of all sound
	ClippedSeconds      [2]float64  // total length of the updates with clipping
	LostFrames          int64
	Turns               int
	Last                Now
}

func known(v float64, ok bool) *float64 {
	if !ok {
		return nil
	}
	return &v
}
