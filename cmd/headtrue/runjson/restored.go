package runjson

import (
	"headtrue/cmd/headtrue/app"
	"headtrue/sweep"
	"headtrue/sweep/figures"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
	"headtrue/sweep/tape"
)

// Restored is the JSON of restore.
type Restored struct {
	Run          string         `json:"run"`
	Restored     string         `json:"restored" help:"name of this run, and of the run that was undone"`
	Outcome      record.Outcome `json:"outcome" help:"how the run ended, see headtrue help exit-codes"`
	ScrewDeg     *float64       `json:"screw_deg"`
	ScrewCertain bool           `json:"screw_certain" help:"place of the jig now, degrees from as found (null if a person turned the screw), and whether it is certain, by the count or by the sound"`
	Stamp        figures.Stamp  `json:"stamp" help:"the result as on the sheet: RESTORED, IN DOUBT or NOT SET"`
	figures.Figures
	LeftAt
	Say string `json:"say"`
	Do  string `json:"do" help:"the outcome in words, and what to do about it"`
}

// Proved is the JSON of proof.
type Proved struct {
	Run           string         `json:"run"`
	ProofOf       string         `json:"proof_of" help:"name of this run, and of the run that set the head"`
	Outcome       record.Outcome `json:"outcome" help:"how the run ended, see headtrue help exit-codes"`
	OffArcmin     *float64       `json:"off_arcmin"`
	OffSDArcmin   *float64       `json:"off_sd_arcmin" help:"tilt of the head from the optimum now, and its standard uncertainty (as left_off_arcmin)"`
	MovedArcmin   *float64       `json:"moved_arcmin"`
	MovedSDArcmin *float64       `json:"moved_sd_arcmin" help:"its movement since it was left, and its standard uncertainty"`
	figures.Figures
	Say string `json:"say"`
	Do  string `json:"do" help:"the outcome in words, and what to do about it"`
}

// RestoredFrom returns the JSON of a restore from its end and its entries.
func RestoredFrom(j *app.Job, end record.End, entries []record.Entry) Restored {
	r := Restored{Run: j.Run(), Restored: j.Past.Run, Outcome: end.Outcome, ScrewCertain: end.ScrewCertain,
		Figures: figures.Of(entries), LeftAt: LeftAtOf(end), Say: end.Say, Do: end.Do}
	if !j.ByHand {
		r.ScrewDeg = &end.ScrewDeg
	}
	r.Stamp, _ = sheet.StampOf(entries)
	return r
}

// ProvedFrom returns the JSON of a proof from its end and its record.
func ProvedFrom(j *app.Job, end record.End, rec logbook.Record) Proved {
	p := Proved{Run: rec.Run, ProofOf: j.AsLeft.Run, Outcome: end.Outcome, Figures: figures.Of(rec.Entries), Say: end.Say, Do: end.Do}
	if left := rec.Left(); left != nil {
		moved, sd := sweep.Moved(tape.StereoCassette, *left.Released, j.AsLeft.Left)
		p.OffArcmin, p.OffSDArcmin, p.MovedArcmin, p.MovedSDArcmin = left.OffArcmin, &left.OffSDArcmin, &moved, &sd
	}
	return p
}
