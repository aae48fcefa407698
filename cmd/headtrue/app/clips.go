package app

import (
	"path/filepath"

	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// clip is a stretch of sound kept as a file.
type clip struct {
	*capture.WAVWriter
	path string
	run  *logbook.Run
}

// Close completes the file and records its hash.
func (c *clip) Close() error {
	if err := c.WAVWriter.Close(); err != nil {
		return err
	}
	kept, err := logbook.ClipOf(c.path)
	if err != nil {
		return err
	}
	return c.run.Append(record.Entry{Kind: record.KindClip, Clip: &kept})
}

func (c *clip) Add(b audio.Block) error { return c.Write(b) }

// Name is the file's name without its folder, as the record keeps it.
func (c *clip) Name() string { return filepath.Base(c.path) }
