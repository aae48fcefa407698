package terminal

import (
	"bytes"
	"log"
	"testing"
)

// Messages of other libraries are shown; measure.txt tests the one that is omitted.
func TestLibraryLogShowsTheRest(t *testing.T) {
	var shown bytes.Buffer
	l := log.New(LibraryLog{&shown}, "", log.LstdFlags)
	l.Print("frame.Frame.parseHeader: please send this file")
	l.Print("a frame is missing")
	if lines := bytes.Count(shown.Bytes(), []byte("\n")); lines != 1 || !bytes.HasSuffix(shown.Bytes(), []byte(" a frame is missing\n")) {
		t.Errorf("shown: %q", &shown)
	}
}
