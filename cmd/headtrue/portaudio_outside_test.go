//go:build outside && unix && cgo && portaudio

package main

import "headtrue/dsp/capture/soundservertest"

// With PortAudio in the build every programme is heard through it.
func init() { liveInputs = []string{"portaudio:ALSA/" + soundservertest.Sink} }
