//go:build !(cgo && portaudio)

package capture

import (
	"errors"

	"headtrue/dsp/audio"
)

func listPortAudio() ([]Input, error) { return nil, nil }

func openPortAudio(string, int) (audio.Source, error) {
	return nil, errors.New("this build has no PortAudio: build with cgo and the tag portaudio " +
		"(go build -tags portaudio), with the system package portaudio19-dev (Debian), portaudio (Homebrew) " +
		"or mingw-w64-portaudio (MSYS2) installed; or pipe raw PCM in")
}
