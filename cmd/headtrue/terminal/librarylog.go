package terminal

import (
	"bytes"
	"io"
)

// LibraryLog is the output of package log, in which only libraries write. It omits a message
// that the FLAC library logs at each frame of some sample rates: a request to send in the
// file, although the library reads it well.
type LibraryLog struct{ To io.Writer }

// Write implements io.Writer.
func (l LibraryLog) Write(p []byte) (int, error) {
	if bytes.Contains(p, []byte(" frame.Frame.")) {
		return len(p), nil
	}
	return l.To.Write(p)
}
