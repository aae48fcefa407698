package app

import (
	"context"
	"fmt"
	"strings"

	"headtrue/sweep/record"
)

// cautions are what a person must know before a screw is turned in an open deck.
const cautions = `Before the screw is turned:
  - An open deck can have mains on open parts, and its capacitors hold charge
    after it is switched off. Where local rules reserve such work for a
    qualified person, let one do it. Keep off a chassis that may be live.
  - Have a switch at hand that cuts the motor's supply. STOP (Ctrl-C) is
    software and no substitute for it.
  - Keep magnetised screwdrivers away from the head, and fingers, hair and
    sleeves clear of the blade and the moving tape.
  - Turn loudspeakers and headphones down.
  - Take the sealing lacquer off the screw first, and never force a screw at
    its end.
  - Practise on a tape you can spare: wide turns can crease a good one.
`

// Confirm lists what no program can check; headtrue check shows it.
var Confirm = []string{
	"the lacquer is off the azimuth screw, and it turns freely",
	"the blade is at the azimuth screw; height and opposing screws are left alone",
	"noise reduction is off, tone controls are neutral, balance is in the middle",
	"head and tape path are clean and demagnetised",
	"loudspeakers are down, fingers clear, the motor's supply can be cut by hand",
	"the tape may be used for this: a spare one for a first try",
}

// wideWindowDeg is the window above which the cautions include a warning.
const wideWindowDeg = 120

// askCautions shows the cautions and asks once, before a real screw moves. If nobody can be
// asked it refuses, unless --yes has accepted them beforehand.
func (j *Job) askCautions(ctx context.Context, news string) (record.Cautions, error) {
	var b strings.Builder
	b.WriteString(cautions)
	if wide := j.Settings.WindowDeg; wide > wideWindowDeg {
		fmt.Fprintf(&b, "  - The window is wide: the screw may turn %.0f degrees either way (%.1f turns).\n    Make sure that it can.\n",
			wide, wide/360)
	}
	ask := j.front.Ask
	if ask == nil || j.Accepted {
		j.front.Note("%s", b.String())
	}
	if j.Accepted {
		return record.Cautions{Asked: true, Answer: "yes, by --yes"}, nil
	}
	if ask == nil {
		return record.Cautions{}, Wrong("nobody can be asked about the cautions: run in a terminal, or accept them with --yes")
	}
	question := "Go on?"
	if news != "" {
		question = "Go on in spite of what the last run left?"
	}
	answer, err := ask(ctx, b.String()+"\n"+question+" Type yes: ")
	if err != nil {
		return record.Cautions{}, NotBegun("%w", err)
	}
	if !strings.EqualFold(answer, "yes") && !strings.EqualFold(answer, "y") {
		return record.Cautions{}, NotBegun("the answer was %q", answer)
	}
	return record.Cautions{Asked: true, Answer: answer}, nil
}
