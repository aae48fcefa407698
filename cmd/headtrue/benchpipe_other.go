//go:build !linux

package main

import "os"

// shrinkPipe does nothing: this system gives no way to make a pipe smaller.
func shrinkPipe(*os.File) {}
