package sweep

import (
	"headtrue/dsp"
	"headtrue/sweep/record"
)

// mono is what ends a run whose sound has the same samples in both channels, or nil: one
// channel was sent to both, so that no delay between them can be heard.
func mono(raw dsp.Reading) error {
	if !sameChannels(raw) {
		return nil
	}
	return &stop{outcome: record.NotReady,
		say: "both channels carry the very same samples: somewhere the sound is made mono",
		do:  "set the input, and the sound system's mixer, to stereo"}
}

// sameChannels reports whether all but one sample in a hundred are alike. Of two inputs
// that carry the same sound at -60 dBFS, 16 bits, some in a hundred are alike by chance.
func sameChannels(raw dsp.Reading) bool { return raw.Same > 0.99 }
