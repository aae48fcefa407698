package logbook

import (
	"os"
	"path/filepath"
)

// reserveBytes of the disk are reserved for the end of a run, several times what saving
// it needs. They are in the file that marks the run as being written.
const reserveBytes = 256 << 10

func (r *Run) reservePath() string { return filepath.Join(r.book.dir, runningFolder, r.name) }

// setAside reserves the space for the end. Without it the run is still recorded.
func (r *Run) setAside() {
	file, err := os.OpenFile(r.reservePath(), os.O_WRONLY, 0)
	if err != nil {
		return
	}
	defer file.Close()
	noise := make([]byte, reserveBytes)
	for i := range noise {
		noise[i] = byte(i * 7) // a file of zeros takes no room on some disks
	}
	_, _ = file.Write(noise)
}

// giveUpReserve frees that space and reports whether there was any.
func (r *Run) giveUpReserve() bool {
	info, err := os.Stat(r.reservePath())
	return err == nil && info.Size() > 0 && os.Truncate(r.reservePath(), 0) == nil
}
