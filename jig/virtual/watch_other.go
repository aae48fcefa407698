//go:build unix && !linux

package virtual

import "os"

// watch reports whether a host has opened the slave anew, from reads of the master that
// found no host. It may miss a host that follows another at once.
type watch struct{ left bool }

func newWatch(string) *watch { return &watch{left: true} }

func (w *watch) vacant() { w.left = true }

func (w *watch) reopened(*os.File) bool {
	again := w.left
	w.left = false
	return again
}

func (w *watch) close() {}
