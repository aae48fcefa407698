// Package cautions holds what a person must read before a jig turns anything, and asks for the
// word that it may.
package cautions

import (
	"fmt"
	"strings"
)

// Act is what a command does at the bench. Each has its own cautions.
type Act int

// Acts. Align and Restore turn the screw while a tape plays, ByHand turns it while a key is
// held down; Check and Test turn the motor with the blade off the screw, Check while a tape
// plays. With Screwdriver a person turns the screw, without a jig, while a tape plays.
const (
	Align Act = 1 << iota
	Restore
	ByHand
	Check
	Test
	Screwdriver
)

const (
	turnsScrew = Align | Restore | ByHand | Screwdriver
	playsTape  = Align | Restore | Check | Screwdriver
	hasMotor   = Align | Restore | ByHand | Check | Test
	anything   = hasMotor | Screwdriver
)

// list has the cautions and the acts that each concerns.
var list = []struct {
	of   Act
	text string
}{
	{anything, "An open deck can have mains on open parts, and its capacitors hold charge after it is switched off. Where local rules reserve such work for a qualified person, let one do it. Keep off a chassis that may be live."},
	{hasMotor, "Have a switch at hand that cuts the motor's supply. STOP (Ctrl-C) is software and no substitute for it."},
	{turnsScrew | Check, "Keep magnetised screwdrivers away from the head."},
	{Screwdriver, "Use an insulated screwdriver that fits the slot, and touch nothing else with it."},
	{playsTape, "Keep fingers, hair and sleeves clear of the blade and the moving tape."},
	{ByHand | Test, "Keep fingers, hair and sleeves clear of the blade."},
	{playsTape, "Turn loudspeakers and headphones down."},
	{Check | Test, "The blade must be off the screw: the motor turns."},
	{turnsScrew, "Take the sealing lacquer off the screw first, and never force a screw at its end."},
	{Align | Screwdriver, "Practise on a tape you can spare: wide turns can crease a good one."},
}

// wideDeg is the turn to either side above which there is one more caution.
const wideDeg = 120

// Before returns the cautions before an act, one a line. mostDeg is how far the screw may turn
// to either side.
func Before(a Act, mostDeg float64) string {
	var b strings.Builder
	b.WriteString("Before the motor is turned:\n")
	if a&turnsScrew != 0 {
		b.Reset()
		b.WriteString("Before the screw is turned:\n")
	}
	for _, c := range list {
		if c.of&a != 0 {
			b.WriteString("  - " + c.text + "\n")
		}
	}
	if a&turnsScrew != 0 && mostDeg > wideDeg {
		fmt.Fprintf(&b, "  - The window is wide: the screw may turn %.0f degrees either way (%.1f turns). Make sure that it can.\n", mostDeg, mostDeg/360)
	}
	return b.String()
}

// ToConfirm lists what no check of the bench can see.
var ToConfirm = []string{
	"noise reduction is off, tone controls are neutral, balance is in the middle",
	"head and tape path are clean and demagnetised",
	"loudspeakers are down, fingers clear, the motor's supply can be cut by hand",
}
