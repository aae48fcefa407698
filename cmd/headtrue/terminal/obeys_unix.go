//go:build unix

package terminal

import "os"

// obeys reports whether a terminal obeys control sequences.
func obeys(*os.File) bool {
	kind := os.Getenv("TERM")
	return kind != "" && kind != "dumb"
}
