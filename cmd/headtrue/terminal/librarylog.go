package terminal

import (
	"bytes"
	"io"
)

// LibraryLog is the output of package log, in which only libraries write. It
// leaves out what the FLAC library logs: an appeal, at each frame of some rates
// that it reads well, to send in the file.
type LibraryLog struct{ To io.Writer }

// Write implements io.Writer.
func (l LibraryLog) Write(p []byte) (int, error) {
	if bytes.Contains(p, []byte(" frame.Frame.")) {
		return len(p), nil
	}
	return l.To.Write(p)
}
