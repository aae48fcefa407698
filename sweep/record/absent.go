package record

import (
	"encoding/json"
	"math"
	"reflect"
)

// What only a jig has is absent in a run by hand: degrees of screw, and tilt per turn. In JSON
// such a field is left out, not zero. A figure marked jig:"only" is then NaN in memory; each stands
// for itself: if a file lacks one, that one is NaN. The fields marked jig:"count" are those of the
// jig's count; they are zero in memory.

// absent reports whether a figure is one that only a jig has, in a run by hand.
func absent(x float64) bool { return math.IsNaN(x) }

// known returns nil for an absent figure.
func known(x float64) *float64 {
	if absent(x) {
		return nil
	}
	return &x
}

// OnlyJig reports whether a field is one that only a jig has, and whether it is NaN if absent.
func OnlyJig(f reflect.StructField) (only, isNaN bool) {
	tag := f.Tag.Get("jig")
	return tag != "", tag == "only" && f.Type.Kind() == reflect.Float64
}

// ByHand reports whether the entry shows that a person turned the screw.
func (e Entry) ByHand() bool {
	switch {
	case e.Found != nil:
		return e.Found.ByHand
	case e.Step != nil:
		return absent(e.Step.ScrewDeg)
	case e.Decision != nil:
		return absent(e.Decision.LowEdgeDeg)
	case e.Left != nil:
		return absent(e.Left.ScrewDeg)
	case e.End != nil:
		return absent(e.End.ScrewDeg)
	}
	return false
}

// ByHand reports whether a person turned the screw in a run. The state as found decides; a run
// without it shows that by its end.
func ByHand(entries []Entry) bool {
	byHand := false
	for _, e := range entries {
		if e.Found != nil {
			return e.Found.ByHand
		}
		byHand = byHand || e.End != nil && e.ByHand()
	}
	return byHand
}

// none hides a field of an embedded struct from JSON.
type none = *struct{}

type plainEstimate Estimate

// MarshalJSON leaves out the degrees of a run by hand.
func (e Estimate) MarshalJSON() ([]byte, error) {
	if !absent(e.Deg) {
		return json.Marshal(plainEstimate(e))
	}
	return json.Marshal(struct {
		plainEstimate
		Deg none `json:"deg,omitempty"`
	}{plainEstimate: plainEstimate(e)})
}

// UnmarshalJSON reads absent degrees as NaN.
func (e *Estimate) UnmarshalJSON(b []byte) error {
	p := plainEstimate{Deg: math.NaN()}
	err := json.Unmarshal(b, &p)
	*e = Estimate(p)
	return err
}

type plainPoint CurvePoint

// MarshalJSON leaves out the degrees of a run by hand.
func (c CurvePoint) MarshalJSON() ([]byte, error) {
	if !absent(c.ScrewDeg) {
		return json.Marshal(plainPoint(c))
	}
	return json.Marshal(struct {
		plainPoint
		ScrewDeg none `json:"screw_deg,omitempty"`
	}{plainPoint: plainPoint(c)})
}

// UnmarshalJSON reads absent degrees as NaN.
func (c *CurvePoint) UnmarshalJSON(b []byte) error {
	p := plainPoint{ScrewDeg: math.NaN()}
	err := json.Unmarshal(b, &p)
	*c = CurvePoint(p)
	return err
}

type plainStep Step

// MarshalJSON leaves out the degrees of a run by hand.
func (s Step) MarshalJSON() ([]byte, error) {
	if !absent(s.ScrewDeg) {
		return json.Marshal(plainStep(s))
	}
	return json.Marshal(struct {
		plainStep
		ScrewDeg none `json:"screw_deg,omitempty"`
		FromDeg  none `json:"from_deg,omitempty"`
		FromHome none `json:"from_home,omitempty"`
	}{plainStep: plainStep(s)})
}

// UnmarshalJSON reads absent degrees as NaN.
func (s *Step) UnmarshalJSON(b []byte) error {
	p := plainStep{ScrewDeg: math.NaN()}
	err := json.Unmarshal(b, &p)
	*s = Step(p)
	return err
}

type plainDecision Decision

// MarshalJSON leaves out what a run by hand does not have.
func (d Decision) MarshalJSON() ([]byte, error) {
	if !absent(d.LowEdgeDeg + d.HighEdgeDeg + d.GearingArcminPerTurn + d.GearingSDArcminPerTurn + d.FoundHomeDeg) {
		return json.Marshal(plainDecision(d))
	}
	home := &d.FoundHomeOK
	if absent(d.FoundHomeDeg) {
		home = nil
	}
	return json.Marshal(struct {
		plainDecision
		LowEdgeDeg             *float64 `json:"low_edge_deg,omitempty"`
		HighEdgeDeg            *float64 `json:"high_edge_deg,omitempty"`
		GearingArcminPerTurn   *float64 `json:"gearing_arcmin_per_turn,omitempty"`
		GearingSDArcminPerTurn *float64 `json:"gearing_sd_arcmin_per_turn,omitempty"`
		FoundHomeDeg           *float64 `json:"found_home_deg,omitempty"`
		FoundHomeOK            *bool    `json:"found_home_ok,omitempty"`
	}{plainDecision(d), known(d.LowEdgeDeg), known(d.HighEdgeDeg), known(d.GearingArcminPerTurn),
		known(d.GearingSDArcminPerTurn), known(d.FoundHomeDeg), home})
}

// UnmarshalJSON reads what is absent in a run by hand as NaN.
func (d *Decision) UnmarshalJSON(b []byte) error {
	nan := math.NaN()
	p := plainDecision{LowEdgeDeg: nan, HighEdgeDeg: nan, GearingArcminPerTurn: nan, GearingSDArcminPerTurn: nan, FoundHomeDeg: nan}
	err := json.Unmarshal(b, &p)
	*d = Decision(p)
	return err
}

type plainFound Found

// MarshalJSON leaves out the jig's count in a run by hand.
func (f Found) MarshalJSON() ([]byte, error) {
	if !f.ByHand {
		return json.Marshal(plainFound(f))
	}
	return json.Marshal(struct {
		plainFound
		PositionMicrosteps none `json:"position_microsteps,omitempty"`
		Epoch              none `json:"epoch,omitempty"`
		BootCount          none `json:"boot_count,omitempty"`
		Memory             none `json:"memory,omitempty"`
		MicrostepsPerTurn  none `json:"microsteps_per_turn,omitempty"`
		SlackTakenUp       none `json:"slack_taken_up,omitempty"`
	}{plainFound: plainFound(f)})
}

type plainLeft Left

// MarshalJSON leaves out the degrees of a run by hand.
func (l Left) MarshalJSON() ([]byte, error) {
	if !absent(l.ScrewDeg + l.TravelDeg) {
		return json.Marshal(plainLeft(l))
	}
	return json.Marshal(struct {
		plainLeft
		ScrewDeg  *float64 `json:"screw_deg,omitempty"`
		TravelDeg *float64 `json:"travel_deg,omitempty"`
	}{plainLeft(l), known(l.ScrewDeg), known(l.TravelDeg)})
}

// UnmarshalJSON reads absent degrees as NaN.
func (l *Left) UnmarshalJSON(b []byte) error {
	nan := math.NaN()
	p := plainLeft{ScrewDeg: nan, TravelDeg: nan}
	err := json.Unmarshal(b, &p)
	*l = Left(p)
	return err
}

type plainEnd End

// MarshalJSON leaves out the degrees of a run by hand.
func (e End) MarshalJSON() ([]byte, error) {
	if !absent(e.ScrewDeg) {
		return json.Marshal(plainEnd(e))
	}
	return json.Marshal(struct {
		plainEnd
		ScrewDeg     none `json:"screw_deg,omitempty"`
		ScrewCertain none `json:"screw_certain,omitempty"`
	}{plainEnd: plainEnd(e)})
}

// UnmarshalJSON reads absent degrees as NaN.
func (e *End) UnmarshalJSON(b []byte) error {
	p := plainEnd{ScrewDeg: math.NaN()}
	err := json.Unmarshal(b, &p)
	*e = End(p)
	return err
}
