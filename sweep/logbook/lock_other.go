//go:build !unix

package logbook

import "os"

// Windows locks would keep readers out, and its folders cannot be synced: the
// reserved name alone keeps two processes apart there.

func lock(*os.File) error { return nil }

func locked(*os.File) bool { return false }

func syncFolder(string) error { return nil }
