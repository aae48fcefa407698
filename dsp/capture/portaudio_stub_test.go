//go:build !(cgo && portaudio)

package capture

import (
	"context"
	"strings"
	"testing"
)

func TestWithoutPortAudioTheErrorNamesTagAndPackage(t *testing.T) {
	_, err := Open(context.Background(), "portaudio:ALSA/deck", 48000)
	if err == nil || !strings.Contains(err.Error(), "-tags portaudio") || !strings.Contains(err.Error(), "portaudio19-dev") {
		t.Errorf("error %v", err)
	}
}
