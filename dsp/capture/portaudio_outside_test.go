//go:build outside && cgo && portaudio

package capture

import "headtrue/dsp/capture/soundservertest"

func init() { liveInputs = append(liveInputs, "portaudio:ALSA/"+soundservertest.Sink) }
