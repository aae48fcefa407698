package protocol

import "fmt"

// EncoderState is the jig's state of the encoder on its shaft.
type EncoderState uint8

// States of the encoder.
const (
	EncoderNone     EncoderState = 0
	EncoderOK       EncoderState = 1
	EncoderNoMagnet EncoderState = 2
	EncoderSilent   EncoderState = 3
)

func (s EncoderState) String() string {
	return name(s, "no encoder", "encoder ok", "encoder without its magnet", "encoder does not answer")
}

// AnglesPerTurn is the number of angles that an encoder distinguishes in a turn.
const AnglesPerTurn = 4096

// Inspection follows the status in the reply to Inspect: the jig's data beyond its
// status.
type Inspection struct {
	Encoder EncoderState
	// Angle is the angle of the shaft, in AnglesPerTurn of a turn; only with EncoderOK.
	Angle uint16
	// Overruns are lost received bytes, Dropped are lost frames, since the start.
	Overruns, Dropped uint16
}

const inspectionLen = 7

// ShaftDegrees returns the angle of the shaft in degrees, if the encoder sees it.
func (i Inspection) ShaftDegrees() (deg float64, seen bool) {
	return float64(i.Angle) * 360 / AnglesPerTurn, i.Encoder == EncoderOK
}

// Append appends the inspection's 7 bytes.
func (i Inspection) Append(b []byte) []byte {
	b = le.AppendUint16(append(b, byte(i.Encoder)), i.Angle)
	return le.AppendUint16(le.AppendUint16(b, i.Overruns), i.Dropped)
}

// ParseInspection reads the body of a reply to Inspect. If a jig refuses the request as
// unknown, the inspection is zero.
func ParseInspection(body []byte) (Reply, Inspection, error) {
	r, err := ParseReply(body)
	if err != nil || r.Code == UnknownType {
		return r, Inspection{}, err
	}
	b := body[1+statusLen:]
	if err := need(b, inspectionLen); err != nil {
		return r, Inspection{}, err
	}
	return r, Inspection{
		Encoder: EncoderState(b[0]), Angle: le.Uint16(b[1:]),
		Overruns: le.Uint16(b[3:]), Dropped: le.Uint16(b[5:]),
	}, nil
}

// String returns an inspection in words.
func (i Inspection) String() string {
	return fmt.Sprintf("%s, angle %d, overruns %d, dropped %d", i.Encoder, i.Angle, i.Overruns, i.Dropped)
}
