package logbook

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"headtrue/sweep/record"
)

// ClipOf returns the record's entry for a clip's file.
func ClipOf(path string) (record.Clip, error) {
	file, err := os.Open(path)
	if err != nil {
		return record.Clip{}, fmt.Errorf("keep a clip: %w", err)
	}
	defer file.Close()
	c, err := copyClip(io.Discard, file)
	if err != nil {
		return record.Clip{}, fmt.Errorf("keep a clip: %w", err)
	}
	return c, nil
}

// copyClip copies a clip and returns its name, hash and size.
func copyClip(to io.Writer, from *os.File) (record.Clip, error) {
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(to, sum), from)
	return record.Clip{Name: filepath.Base(from.Name()), SHA256: hex.EncodeToString(sum.Sum(nil)), Bytes: n}, err
}

// OpenClip opens a clip of sound by its name in a record. Records may come from anybody,
// so it refuses any name but that of a regular file in the logbook's folder. It follows
// no link and opens nothing that could block.
func (b *Book) OpenClip(name string) (*os.File, error) {
	is, err := b.clipInfo(name)
	if err != nil {
		return nil, err
	}
	file, err := b.root.OpenFile(name, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, err
	}
	// Between the two calls a link may have replaced the file.
	if opened, err := file.Stat(); err != nil || !os.SameFile(is, opened) {
		return nil, errors.Join(fmt.Errorf("the clip %s was exchanged while it was opened", name), err, file.Close())
	}
	return file, nil
}

// clipInfo describes the file of a clip in the folder if it is a regular file.
func (b *Book) clipInfo(name string) (fs.FileInfo, error) {
	if err := record.ValidClipName(name); err != nil {
		return nil, err
	}
	is, err := b.root.Lstat(name)
	if err != nil {
		return nil, err
	}
	if !is.Mode().IsRegular() {
		return nil, fmt.Errorf("the clip %s is no regular file", name)
	}
	return is, nil
}

// checkClip compares a clip's file with its record.
func (b *Book) checkClip(c record.Clip) error {
	file, err := b.OpenClip(c.Name)
	if err != nil {
		return asMissing(err)
	}
	defer file.Close()
	return copyRecorded(io.Discard, file, c)
}

// backUpClip copies a clip into another folder, in which it must be new. It copies a
// damaged clip too.
func (b *Book) backUpClip(to *os.Root, c record.Clip) error {
	from, err := b.OpenClip(c.Name)
	if err != nil {
		return asMissing(err)
	}
	defer from.Close()
	out, err := to.OpenFile(c.Name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return errors.New("another run has a clip of that name, which was copied")
	}
	if err != nil {
		return err
	}
	err = copyRecorded(out, from, c)
	return errors.Join(err, out.Sync(), out.Close())
}

func copyRecorded(to io.Writer, from *os.File, c record.Clip) error {
	now, err := copyClip(to, from)
	if err == nil && c.SHA256 != "" && (now.SHA256 != c.SHA256 || now.Bytes != c.Bytes) {
		return fmt.Errorf("the clip is not as it was recorded: %d bytes, then %d", now.Bytes, c.Bytes)
	}
	return err
}

func asMissing(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return errors.New("the clip is missing")
	}
	return err
}

// ownClip reports whether a clip belongs to a run by its name, RUN-as-found.wav. A number
// after RUN is part of the name of another run, begun in the same second.
func ownClip(run, name string) bool {
	rest, ok := strings.CutPrefix(name, run+"-")
	if number, _, more := strings.Cut(rest, "-"); more && len(number) == 3 && strings.Trim(number, "0123456789") == "" {
		return false
	}
	return ok
}

// ownClips returns the clips that may be removed with a run, with their sizes: regular
// files in the folder that bear its name.
func (b *Book) ownClips(rec Record) map[string]int64 {
	own := map[string]int64{}
	for _, c := range rec.Clips() {
		if is, err := b.clipInfo(c.Name); err == nil && ownClip(rec.Run, c.Name) {
			own[c.Name] = is.Size()
		}
	}
	return own
}

// removeClip removes a clip. A missing clip is no error.
func (b *Book) removeClip(name string) error {
	if _, err := b.clipInfo(name); err != nil {
		return ignoreMissing(err)
	}
	return ignoreMissing(b.root.Remove(name))
}

func ignoreMissing(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}
