package main

import "headtrue/sweep/record"

// leftAt is where a run that has set no head has left the screw, for machines.
type leftAt struct {
	ScrewOffDeg    *float64 `json:"screw_off_deg"`
	ScrewOffSDDeg  *float64 `json:"screw_off_sd_deg"`
	PutBack        bool     `json:"put_back"`
	RestoreCommand *string  `json:"restore_command"`
}

func leftAtOf(end record.End) leftAt {
	s := leftAt{ScrewOffDeg: end.ScrewOffDeg, PutBack: end.PutBack}
	if end.ScrewOffDeg != nil {
		s.ScrewOffSDDeg = &end.ScrewOffSDDeg
	}
	if end.RestoreCommand != "" {
		s.RestoreCommand = &end.RestoreCommand
	}
	return s
}
