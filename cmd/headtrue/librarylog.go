package main

import (
	"bytes"
	"io"
)

// libraryLog is the output of package log, in which only libraries write. It
// leaves out what the FLAC library logs: an appeal, at each frame of some rates
// that it reads well, to send in the file.
type libraryLog struct{ to io.Writer }

func (l libraryLog) Write(p []byte) (int, error) {
	if bytes.Contains(p, []byte(" frame.Frame.")) {
		return len(p), nil
	}
	return l.to.Write(p)
}
