package protocol

import "fmt"

// Fitted are bits, one for each input that a jig has.
type Fitted uint8

// Bits of Fitted. All but the last are the features of the greeting.
const (
	FittedStop    = Fitted(FeatureStopInput)
	FittedLimits  = Fitted(FeatureLimits)
	FittedStall   = Fitted(FeatureStallDetect)
	FittedEncoder = Fitted(FeatureEncoder)
	FittedSupply  = Fitted(FeatureSupplySense)
	// FittedEncoderBack: the encoder's angle falls while the count grows.
	FittedEncoderBack Fitted = 1 << 5

	fittedAll Fitted = 1<<6 - 1
)

// Settings are what a jig was told about its own make. It keeps them without power.
type Settings struct {
	// Identity is a random number that tells this jig from others; 0 if nothing was ever
	// stored.
	Identity uint32
	Fitted   Fitted
	// Reversed: the motor turns the other way for a growing count.
	Reversed bool
	// Microsteps is the number of microsteps per full step, as the driver's straps have it.
	Microsteps uint16
	// MaxSpeed is the greatest speed in microsteps per second; 0 is the most that the
	// firmware allows.
	MaxSpeed uint16
	// CurrentMilliamps is the current of a winding, as the driver is set.
	CurrentMilliamps uint16
}

const settingsLen = 12

// Append appends the body of Configure, 12 bytes.
func (s Settings) Append(b []byte) []byte {
	b = append(le.AppendUint32(b, s.Identity), byte(s.Fitted))
	b = le.AppendUint16(appendBool(b, s.Reversed), s.Microsteps)
	return le.AppendUint16(le.AppendUint16(b, s.MaxSpeed), s.CurrentMilliamps)
}

// ParseSettings reads the body of Configure. ok is false if a byte has a value that means
// nothing.
func ParseSettings(b []byte) (s Settings, ok bool, err error) {
	if err = need(b, settingsLen); err != nil {
		return s, false, err
	}
	s = Settings{
		Identity: le.Uint32(b), Fitted: Fitted(b[4]), Reversed: b[5] != 0, Microsteps: le.Uint16(b[6:]),
		MaxSpeed: le.Uint16(b[8:]), CurrentMilliamps: le.Uint16(b[10:]),
	}
	return s, s.Identity != 0 && s.Fitted <= fittedAll && b[5] <= 1, nil
}

// StoredSettings follow the status in the replies to Settings and Configure.
type StoredSettings struct {
	Settings
	// Stored is false while they are still being written.
	Stored bool
}

// Append appends 13 bytes.
func (s StoredSettings) Append(b []byte) []byte { return appendBool(s.Settings.Append(b), s.Stored) }

// ParseSettingsReply reads the body of a reply to Settings or Configure. If a jig refuses
// the request as unknown, the settings are zero.
func ParseSettingsReply(body []byte) (Reply, StoredSettings, error) {
	r, err := ParseReply(body)
	if err != nil || r.Code == UnknownType {
		return r, StoredSettings{}, err
	}
	b := body[1+statusLen:]
	if err := need(b, settingsLen+1); err != nil {
		return r, StoredSettings{}, err
	}
	s, _, err := ParseSettings(b)
	return r, StoredSettings{s, b[settingsLen] != 0}, err
}

// String returns settings in words.
func (s Settings) String() string {
	return fmt.Sprintf("identity %08x, fitted %02x, %s, %d microsteps a step, speed %d, %d mA",
		s.Identity, uint8(s.Fitted), choose(s.Reversed, "reversed", "not reversed"), s.Microsteps, s.MaxSpeed, s.CurrentMilliamps)
}

// String returns settings in words, with whether they are stored.
func (s StoredSettings) String() string {
	return s.Settings.String() + ", " + choose(s.Stored, "stored", "being written")
}
