package jig

import (
	"context"
	"errors"
	"fmt"
	"time"

	protocol "headtrue/firmware-protocol"
)

// Settings are what a jig was told about its own make, and keeps without power.
type Settings = protocol.Settings

// Fitted are bits, one for each input that a jig has.
type Fitted = protocol.Fitted

// ErrNoSettings: the firmware is from before link 1.4 and keeps no settings.
var ErrNoSettings = errors.New("its firmware keeps no settings")

// Unmatched opens a jig whose microsteps are not those of its profile, to correct them.
func Unmatched() Option { return func(j *Jig) { j.unmatched = true } }

// Settings asks for the settings. Errors: ErrNoSettings, and those of the link.
func (j *Jig) Settings(ctx context.Context) (Settings, error) {
	s, err := j.settings(ctx, "asking for its settings", protocol.TypeSettings, nil)
	return s.Settings, err
}

func (j *Jig) settings(ctx context.Context, what string, t protocol.Type, body []byte) (protocol.StoredSettings, error) {
	a, err := j.link.request(ctx, t, body, nil, j.timeout, replyTries)
	if err != nil {
		return protocol.StoredSettings{}, fmt.Errorf("%s: %w", what, err)
	}
	r, s, err := protocol.ParseSettingsReply(a.body)
	switch {
	case err != nil:
		return s, fmt.Errorf("%s: %w", what, err)
	case r.Code == protocol.UnknownType:
		return s, fmt.Errorf("%s: %w", what, ErrNoSettings)
	case r.Code != protocol.OK:
		return s, &RefusedError{Request: what, Code: r.Code, Status: j.known()}
	}
	return s, nil
}

// Configure stores settings and returns when they are written. The motor must be off. Other
// microsteps or another direction make the position unknown and close the window. What the
// jig greeted holds no longer: open it anew.
func (j *Jig) Configure(ctx context.Context, want Settings) error {
	const looks, each = 20, 50 * time.Millisecond
	_, err := j.settings(ctx, "to store settings", protocol.TypeConfigure, want.Append(nil))
	for range looks {
		if err != nil {
			return err
		}
		var got protocol.StoredSettings
		if got, err = j.settings(ctx, "asking for its settings", protocol.TypeSettings, nil); err == nil && got.Stored {
			if got.Settings != want {
				return fmt.Errorf("the jig has stored %s; ordered were %s", got.Settings, want)
			}
			return nil
		}
		j.clock.Wait(ctx, nil, j.clock.Now().Add(each))
	}
	return fmt.Errorf("to store settings: %w that they are written", ErrNoAnswer)
}
