package bench

// Kinds of faults in the sound and in the mount.
const (
	AudioStops       = "audio_stops"       // Next returns audio.ErrStopped from here on
	Silence          = "silence"           // digital silence
	Clipped          = "clipped"           // the input's gain goes up by GainDB (30 unless set)
	TapeEnds         = "tape_ends"         // programme and hiss cease; only the electronics are heard
	DeadChannel      = "dead_channel"      // Channel falls silent but for the electronics
	InvertedChannel  = "inverted_channel"  // Channel changes its polarity
	SwappedChannels  = "swapped_channels"  // left is right
	NoTreble         = "no_treble"         // programme cut above 3 kHz, hiss stays
	ToneOver         = "tone_over"         // the programme ends; Then follows: "silence" or "music"
	LostSamples      = "lost_samples"      // Frames (4800 unless set) never arrive
	AGC              = "agc"               // an automatic gain control holds the level at -14 dBFS
	Lacquered        = "lacquered"         // the screw never turns
	SlippingCoupling = "slipping_coupling" // beyond +-ScrewDeg the coupling slips
	BladeOut         = "blade_out"         // the blade leaves the slot at AtSeconds, or beyond +-ScrewDeg where that is set
	WrongScrew       = "wrong_screw"       // turning moves the balance, 6 dB a turn, and no tilt
)

var faultKinds = []string{
	AudioStops, Silence, Clipped, TapeEnds, DeadChannel, InvertedChannel, SwappedChannels,
	NoTreble, ToneOver, LostSamples, AGC, Lacquered, SlippingCoupling, BladeOut, WrongScrew,
}

// Fault is one thing that goes wrong, from AtSeconds of sound on, for
// ForSeconds or, where that is 0, for good.
type Fault struct {
	Kind       string  `yaml:"kind"`
	AtSeconds  float64 `yaml:"at_seconds"`
	ForSeconds float64 `yaml:"for_seconds"`
	Channel    string  `yaml:"channel"`   // "left" or "right" (unless set)
	GainDB     float64 `yaml:"gain_db"`   // clipped
	ScrewDeg   float64 `yaml:"screw_deg"` // slipping_coupling, blade_out
	Frames     int     `yaml:"frames"`    // lost_samples
	Then       string  `yaml:"then"`      // tone_over: "silence" (unless set) or "music"
}

// JigFault is handed to the virtual jig, which knows the kinds; it comes at so
// many cumulative microsteps or at a time of sound.
type JigFault struct {
	Kind      string  `yaml:"kind"`
	AtSeconds float64 `yaml:"at_seconds"`
	AtStep    int64   `yaml:"at_step"`
	Amount    int     `yaml:"amount"` // microsteps lost or frames garbled; 0 leaves it to the jig
}

// find returns the fault of that kind that holds at t seconds, or nil.
func find(faults []Fault, kind string, t float64) *Fault {
	for i := range faults {
		f := &faults[i]
		if f.Kind == kind && t >= f.AtSeconds && (f.ForSeconds == 0 || t < f.AtSeconds+f.ForSeconds) {
			return f
		}
	}
	return nil
}

// channelFault says whether a fault of one channel (0 left, 1 right) holds.
func channelFault(faults []Fault, kind string, channel int, t float64) bool {
	for i := range faults {
		f := find(faults[i:i+1], kind, t)
		if f != nil && (f.Channel == "left") == (channel == 0) {
			return true
		}
	}
	return false
}
