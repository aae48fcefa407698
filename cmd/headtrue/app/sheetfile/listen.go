package sheetfile

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/dsp/capture"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

// openClip opens a clip by its name in the record, as logbook.Book.OpenClip does.
type openClip func(name string) (*os.File, error)

// keptClip is a clip of a run, with its name and level.
type keptClip struct {
	name  string
	open  openClip
	gain  float64
	midDB float64 // level of the mid band, both channels together
}

// listenBeside copies the clips of a run beside a page. It turns the louder one down, so that
// their mid bands have the same level. The page reports a missing clip; only a failure to write
// is an error.
func listenBeside(ctx context.Context, open openClip, page string, entries []record.Entry) (sheet.Listen, error) {
	base := strings.TrimSuffix(page, filepath.Ext(page))
	var said []string
	var clips [2]*keptClip
	names, tone := clipsOf(entries)
	for i, which := range []string{"as found", "as left"} {
		c, err := findClip(ctx, open, names[i], entries)
		if ctx.Err() != nil {
			return sheet.Listen{}, ctx.Err()
		}
		if err != nil {
			said = append(said, fmt.Sprintf("No sound of the state %s: %v.", which, err))
		}
		clips[i] = c
	}
	if clips[0] != nil && clips[1] != nil {
		said = append(said, match(clips[0], clips[1], tone))
	}
	var files [2]string
	for i, end := range []string{"-before.wav", "-after.wav"} {
		if clips[i] == nil {
			continue
		}
		if err := clips[i].copyTo(ctx, base+end); err != nil {
			return sheet.Listen{}, fmt.Errorf("copy a clip beside the sheet: %w", err)
		}
		files[i] = (&url.URL{Path: filepath.Base(base + end)}).String()
	}
	return sheet.Listen{Before: files[0], After: files[1], Said: strings.Join(said, " ")}, nil
}

// clipsOf returns the names of the clips as found and as left; tone reports whether they hold a
// tone.
func clipsOf(entries []record.Entry) (names [2]string, tone bool) {
	for _, e := range entries {
		switch {
		case e.Found != nil:
			names[0] = e.Found.Clip
			tone = e.Found.BladeOff != nil && e.Found.BladeOff.ToneHz > 0
		case e.Left != nil:
			names[1] = e.Left.Clip
		}
	}
	return names, tone
}

func findClip(ctx context.Context, open openClip, name string, entries []record.Entry) (*keptClip, error) {
	if name == "" {
		return nil, errors.New("the run kept none")
	}
	if err := record.ValidClipName(name); err != nil {
		return nil, err
	}
	c := &keptClip{name: name, open: open, gain: 1}
	for _, e := range entries {
		if e.Clip != nil && e.Clip.Name == name && e.Clip.SHA256 != "" {
			if err := c.hasHash(e.Clip.SHA256); err != nil {
				return nil, err
			}
		}
	}
	meter := (*dsp.Meter)(nil)
	err := c.eachBlock(ctx, func(b audio.Block, rate int) error {
		if meter == nil {
			meter = dsp.NewMeter(rate, 0)
		}
		meter.Add(b)
		return nil
	})
	if errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("the clip %s is no longer in the logbook", name)
	}
	if err != nil {
		return nil, fmt.Errorf("the clip %s cannot be read (%w)", name, err)
	}
	if meter == nil {
		return nil, fmt.Errorf("the clip %s is empty", name)
	}
	r := meter.Reading()
	c.midDB = 10 * math.Log10(math.Pow(10, float64(r.Mid[0])/10)+math.Pow(10, float64(r.Mid[1])/10))
	return c, nil
}

func (c *keptClip) hasHash(want string) error {
	file, err := c.open(c.name)
	if errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("the clip %s is no longer in the logbook", c.name)
	}
	if err != nil {
		return err
	}
	defer file.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, file); err != nil {
		return fmt.Errorf("the clip %s cannot be read", c.name)
	}
	if hex.EncodeToString(sum.Sum(nil)) != want {
		return fmt.Errorf("the clip %s is not the one that the run recorded", c.name)
	}
	return nil
}

// match turns the louder of two clips down to the other, and returns a note of it.
func match(before, after *keptClip, tone bool) string {
	const leastDB = -100 // below it there is no mid band to match
	switch {
	case tone:
		return "Both as recorded: of a tone the level itself is what has changed."
	case before.midDB < leastDB || after.midDB < leastDB:
		return "Both as recorded: one of them has nothing in the mid band to match them by."
	}
	louder, which, byDB := before, "before", before.midDB-after.midDB
	if byDB < 0 {
		louder, which, byDB = after, "after", -byDB
	}
	if byDB < 0.05 {
		return fmt.Sprintf("Both as recorded: they are as loud from %.0f to %.0f Hz.", dsp.MidLowHz, dsp.MidHighHz)
	}
	louder.gain = math.Pow(10, -byDB/20)
	return fmt.Sprintf("The one %s is turned down by %.1f dB, so that both are as loud from %.0f to %.0f Hz.",
		which, byDB, dsp.MidLowHz, dsp.MidHighHz)
}

func (c *keptClip) copyTo(ctx context.Context, path string) error {
	var w *capture.WAVWriter
	err := c.eachBlock(ctx, func(b audio.Block, rate int) (err error) {
		if w == nil {
			if w, err = capture.CreateWAV(path, rate, false); err != nil {
				return err
			}
		}
		for i := range b.Left {
			b.Left[i], b.Right[i] = b.Left[i]*c.gain, b.Right[i]*c.gain
		}
		return w.Write(b)
	})
	if err != nil || w == nil {
		if w != nil {
			w.Abandon()
		}
		return err
	}
	return w.Close()
}

func (c *keptClip) eachBlock(ctx context.Context, to func(b audio.Block, rate int) error) error {
	file, err := c.open(c.name)
	if err != nil {
		return err
	}
	return eachBlock(ctx, file, to)
}

// eachBlock passes on a file of sound, block by block, and closes the file.
func eachBlock(ctx context.Context, file *os.File, to func(b audio.Block, rate int) error) error {
	src, err := capture.Opened(file)
	if err != nil {
		return err
	}
	defer src.Close()
	for {
		b, err := src.Next(ctx)
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := to(b, src.Rate()); err != nil {
			return err
		}
	}
}
