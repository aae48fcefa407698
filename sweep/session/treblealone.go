package session

import (
	"headtrue/dsp"
	"headtrue/sweep/faults"
	"headtrue/sweep/record"
)

// JudgeReady is Judge before anything is turned. If the setup permits it, sound without a delay
// between the channels passes from then on; why then says what is missing.
func (c *Session) JudgeReady(r record.Reading, raw dsp.Reading) (why string, trouble error) {
	trouble = c.Judge(r, raw)
	if trouble == nil || !c.setup.TrebleMaySet {
		return "", trouble
	}
	c.TrebleAlone = true
	if c.Judge(r, raw) != nil { // another fault
		c.TrebleAlone = false
		return "", trouble
	}
	if dead := faults.DeadChannel(r.LevelDBFS); dead >= 0 {
		return "only the " + sideNames[1-dead] + " channel carries sound", nil
	}
	if faults.Same(raw) {
		return "both channels carry the same sound", nil
	}
	c.TrebleAlone = false // an inverted channel has a delay
	return "", trouble
}
