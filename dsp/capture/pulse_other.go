//go:build !linux

package capture

import (
	"context"
	"errors"

	"headtrue/dsp/audio"
)

func listPulse(context.Context) ([]Input, error) { return nil, nil }

func openPulse(context.Context, string, int) (audio.Source, error) {
	return nil, errors.New("PulseAudio inputs are for Linux builds: build with the tag portaudio, or pipe raw PCM in")
}
