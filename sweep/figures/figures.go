// Package figures computes the figures of a run that people and programs read: one function
// for the screen, the sheet, JSON and lists, so that all show the same. It also writes them in
// words: an uncertainty for people is an interval of 95 %, a turn of the screw is a part of a
// turn.
//
// The package is pure: entries in, numbers and words out. It reads no settings and draws
// nothing.
package figures

import (
	"math"

	"headtrue/sweep/record"
)

// Figures are the main figures of a run; nil means that the figure is unknown, or one that a run
// by hand does not have. Standard uncertainties have sd in their names.
type Figures struct {
	FoundOffArcmin   *float64 `json:"found_off_arcmin"`
	FoundOffSDArcmin *float64 `json:"found_off_sd_arcmin" help:"tilt of the head from the optimum as found, and its standard uncertainty"`
	LeftOffArcmin    *float64 `json:"left_off_arcmin"`
	LeftOffSDArcmin  *float64 `json:"left_off_sd_arcmin" help:"the same as left, as heard with the motor off and the blade away"`
	TrebleGainDB     *float64 `json:"treble_gain_db"`
	TrebleGainSDDB   *float64 `json:"treble_gain_sd_db" help:"treble as left less treble as found, and its standard uncertainty: of a tone its level, of a programme against the mid band"`
	OptimumDeg       *float64 `json:"optimum_deg"`
	OptimumSDArcmin  *float64 `json:"optimum_sd_arcmin" help:"place of the optimum in degrees of screw (null in a run by hand), and its standard uncertainty as tilt"`
	Gearing          *float64 `json:"gearing_arcmin_per_turn"`
	GearingSD        *float64 `json:"gearing_sd_arcmin_per_turn" help:"tilt per turn of the screw, positive if forward makes the right channel later, and its standard uncertainty"`
	BacklashDeg      *float64 `json:"backlash_deg"`
	BacklashSDDeg    *float64 `json:"backlash_sd_deg" help:"backlash between jig and screw, and its standard uncertainty"`
	SpeedPercent     *float64 `json:"speed_error_percent"`
	SpeedSDPercent   *float64 `json:"speed_error_sd_percent" help:"speed of the tape by the tone, positive if fast, and its standard uncertainty"`
	FlutterPercent   *float64 `json:"flutter_weighted_percent"`
	FlutterSeconds   *float64 `json:"flutter_seconds" help:"weighted peak flutter of the tone by IEC 60386 (2-sigma), and the sound that counts for it: 10 s are needed"`
	TapeSeconds      *float64 `json:"tape_seconds" help:"tape used"`
}

// Of returns the figures of a run from its entries; the last entry of a kind counts.
func Of(entries []record.Entry) Figures {
	var found *record.Found
	var decision *record.Decision
	var left *record.Left
	var tape *float64
	for _, e := range entries {
		switch {
		case e.Found != nil:
			found = e.Found
		case e.Decision != nil:
			decision = e.Decision
		case e.Left != nil:
			left = e.Left
		}
		if e.TapeSeconds > 0 { // the seconds begin anew after the ready step
			tape = &e.TapeSeconds
		}
	}
	f := From(found, decision, left)
	f.TapeSeconds = tape
	return f
}

// From returns the figures of the parts of a run, each of which may be nil.
func From(found *record.Found, decision *record.Decision, left *record.Left) Figures {
	var f Figures
	if d := decision; d != nil {
		if d.FoundOffArcmin != nil {
			f.FoundOffArcmin, f.FoundOffSDArcmin = d.FoundOffArcmin, known(d.FoundOffSDArcmin)
		}
		if d.Optimum.OK {
			f.OptimumDeg, f.OptimumSDArcmin = ofJig(&d.Optimum.Deg), known(d.Optimum.SDArcmin)
		}
		if g := ofJig(&d.GearingArcminPerTurn); g != nil && *g != 0 {
			f.Gearing, f.GearingSD = g, known(d.GearingSDArcminPerTurn)
		}
		if d.BacklashSDDeg > 0 {
			f.BacklashDeg, f.BacklashSDDeg = &d.BacklashDeg, &d.BacklashSDDeg
		}
	}
	if left == nil {
		return f
	}
	if left.OffArcmin != nil {
		f.LeftOffArcmin, f.LeftOffSDArcmin = left.OffArcmin, known(left.OffSDArcmin)
	}
	if r := left.Running; r != nil {
		f.SpeedPercent, f.FlutterPercent, f.FlutterSeconds = r.SpeedErrorPercent, r.FlutterWeightedPercent, &r.FlutterSeconds
		if r.SpeedErrorPercent != nil {
			f.SpeedSDPercent = known(r.SpeedErrorSDPercent)
		}
	}
	if found != nil && found.BladeOff != nil && left.Released != nil {
		was, is := found.BladeOff, left.Released
		gain, sd := is.TrebleDB-was.TrebleDB, math.Hypot(is.TrebleSDDB, was.TrebleSDDB)
		f.TrebleGainDB, f.TrebleGainSDDB = &gain, known(sd)
	}
	return f
}

// ChangeArcmin is the tilt as left less the tilt as found; nil if either is unknown.
func (f Figures) ChangeArcmin() *float64 {
	if f.FoundOffArcmin == nil || f.LeftOffArcmin == nil {
		return nil
	}
	change := *f.LeftOffArcmin - *f.FoundOffArcmin
	return &change
}

// ofJig returns nil for a figure that only a jig has, of a run by hand.
func ofJig(x *float64) *float64 {
	if math.IsNaN(*x) {
		return nil
	}
	return x
}

// known returns nil for an uncertainty that is unknown.
func known(sd float64) *float64 {
	if !(sd > 0 && sd < unknownSD) { // also true for NaN
		return nil
	}
	return &sd
}

// unknownSD is the standard deviation that stands for "unknown" in a record.
const unknownSD = 1e6
