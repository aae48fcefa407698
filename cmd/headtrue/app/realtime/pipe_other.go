//go:build !linux

package realtime

import "os"

// shrinkPipe does nothing: this system gives no way to make a pipe smaller.
func shrinkPipe(*os.File) {}
