package session

import (
	"errors"
	"io/fs"
	"syscall"

	"headtrue/sweep/record"
)

func (c *Session) OpenClip(name string) error {
	if c.setup.Clip == nil {
		return nil
	}
	clip, err := c.setup.Clip(name)
	if err == nil {
		c.clip = clip
	}
	return notSaved("a clip", err)
}

func (c *Session) CloseClip() (string, error) {
	if c.clip == nil {
		return "", nil
	}
	clip := c.clip
	c.clip = nil
	return clip.Name(), notSaved("a clip", clip.Close())
}

// notSaved returns the Stop for a record or clip that could not be written, or nil if err is
// nil.
func notSaved(what string, err error) error {
	if err == nil {
		return nil
	}
	return &Stop{
		Outcome: record.NotSaved,
		Say:     what + " could not be written: " + err.Error(),
		Do:      WhatToDoUnsaved(err) + "; what was measured before is kept",
		Cause:   err,
	}
}

// WhatToDoUnsaved returns the remedy for a write error, by its cause.
func WhatToDoUnsaved(err error) string {
	switch {
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), errors.Is(err, syscall.EFBIG):
		return "make room on the disk, or name a folder on another with --logbook"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return "see that this user may write into the folder of the logbook, or name another with --logbook"
	case errors.Is(err, syscall.EIO):
		return "save what is on this disk, which fails, and name a folder on another with --logbook"
	}
	return "see the message, or name another folder with --logbook"
}

// DropClip forgets an open clip without closing it: later sound belongs to no clip.
func (c *Session) DropClip() { c.clip = nil }
