//go:build !linux

package realtime

import "os"

// shrinkPipe does nothing: this system cannot make a pipe smaller.
func shrinkPipe(*os.File) {}
