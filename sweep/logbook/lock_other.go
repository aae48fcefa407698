//go:build !unix

package logbook

import "os"

// Windows locks would keep readers out: there a run never counts as being written,
// and SQLite's own locks alone keep apart two processes that open a new logbook.

func lockWaiting(*os.File) error { return nil }

func locked(*os.File) bool { return false }

func lockedNow(*os.File) bool { return false }
