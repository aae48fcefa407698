package bench

// Kinds of faults in the sound and in the mount.
const (
	AudioStops       = "audio_stops"       // from here on Next returns audio.ErrStopped
	Silence          = "silence"           // digital silence
	Clipped          = "clipped"           // the input's gain rises by GainDB (default 30)
	TapeEnds         = "tape_ends"         // programme and hiss end; the noise of the electronics stays
	DeadChannel      = "dead_channel"      // Channel has only the noise of the electronics
	InvertedChannel  = "inverted_channel"  // Channel is inverted
	SwappedChannels  = "swapped_channels"  // left and right are exchanged
	NoTreble         = "no_treble"         // programme cut above 3 kHz, hiss stays
	ToneOver         = "tone_over"         // the programme ends; Then follows: "silence" or "music"
	LostSamples      = "lost_samples"      // Frames (default 4800) never arrive
	AGC              = "agc"               // an automatic gain control holds the level at -14 dBFS
	Lacquered        = "lacquered"         // the screw never turns
	SlippingCoupling = "slipping_coupling" // beyond +-ScrewDeg the coupling slips
	BladeOut         = "blade_out"         // the blade leaves the slot at AtSeconds, or beyond +-ScrewDeg if that is set
	WrongScrew       = "wrong_screw"       // turning changes the balance by 6 dB a turn, and not the tilt
)

var faultKinds = []string{
	AudioStops, Silence, Clipped, TapeEnds, DeadChannel, InvertedChannel, SwappedChannels,
	NoTreble, ToneOver, LostSamples, AGC, Lacquered, SlippingCoupling, BladeOut, WrongScrew,
}

// Fault is one fault, which begins at AtSeconds of sound and lasts for ForSeconds or, if
// that is 0, to the end.
type Fault struct {
	Kind       string  `yaml:"kind"`
	AtSeconds  float64 `yaml:"at_seconds"`
	ForSeconds float64 `yaml:"for_seconds"`
	Channel    string  `yaml:"channel"`   // "left" or "right" (default)
	GainDB     float64 `yaml:"gain_db"`   // clipped
	ScrewDeg   float64 `yaml:"screw_deg"` // slipping_coupling, blade_out
	Frames     int     `yaml:"frames"`    // lost_samples
	Then       string  `yaml:"then"`      // tone_over: "silence" (default) or "music"
}

// JigFault is a fault of the virtual jig, which defines the kinds. It comes at a
// cumulative count of microsteps or at a time of sound.
type JigFault struct {
	Kind      string  `yaml:"kind"`
	AtSeconds float64 `yaml:"at_seconds"`
	AtStep    int64   `yaml:"at_step"`
	Amount    int     `yaml:"amount"` // microsteps lost or frames garbled; 0 means the jig's default
}

// find returns the fault of a kind that is active at t seconds, or nil.
func find(faults []Fault, kind string, t float64) *Fault {
	for i := range faults {
		f := &faults[i]
		if f.Kind == kind && t >= f.AtSeconds && (f.ForSeconds == 0 || t < f.AtSeconds+f.ForSeconds) {
			return f
		}
	}
	return nil
}

// channelFault reports whether a fault of one channel (0 left, 1 right) is active.
func channelFault(faults []Fault, kind string, channel int, t float64) bool {
	for i := range faults {
		f := find(faults[i:i+1], kind, t)
		if f != nil && (f.Channel == "left") == (channel == 0) {
			return true
		}
	}
	return false
}
