package virtual

import protocol "headtrue/firmware-protocol"

// State is what a jig keeps while no program uses it and its motor stands: its non-volatile
// memory, where its shaft is, and the faults that have not come yet.
type State struct {
	Boot, Epoch      uint16
	Position         int32
	Memory           protocol.Memory
	Window           protocol.Window
	Settings         protocol.Settings
	Shaft, Travelled int64 // microsteps
	Slip             int64 // microsteps still to be lost
	Faults           []Fault
}

// State returns the present state.
func (v *Jig) State() State {
	v.mu.Lock()
	defer v.mu.Unlock()
	return State{
		Boot: v.nv.boot, Epoch: v.nv.epoch, Position: v.nv.position, Memory: v.nv.memory, Window: v.nv.window, Settings: v.nv.settings,
		Shaft: v.shaft, Travelled: v.travelled, Slip: v.slip, Faults: append([]Fault{}, v.faults...),
	}
}

// Resume returns a jig in a state, with its supply on all the time. Its clock begins anew, and
// with it the time of the faults that come at a time.
func Resume(o Options, s State) *Jig {
	v := New(o)
	v.nv = memory{boot: s.Boot, epoch: s.Epoch, position: s.Position, memory: s.Memory, window: s.Window, settings: s.Settings}
	if s.Settings.Microsteps == 0 { // of a version without settings
		v.nv.settings = v.opt.unsettled()
	}
	v.target = s.Position
	v.shaft, v.travelled, v.slip = s.Shaft, s.Travelled, s.Slip
	v.faults = append([]Fault{}, s.Faults...)
	return v
}
