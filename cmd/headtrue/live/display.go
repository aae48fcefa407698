package live

import (
	"fmt"

	"headtrue/cmd/headtrue/app/listening"
	"headtrue/cmd/headtrue/terminal"
)

// Display shows updates on standard output.
type Display struct {
	terminal.Panel
	View
	next float64 // seconds from which on the next plain line is due
}

// Redraw shows an update in place of the last one.
func (d *Display) Redraw(u listening.Update) error { return d.Show(d.Lines(u)) }

// Plain shows an update in a line of its own, about once a second of sound.
func (d *Display) Plain(u listening.Update) error {
	if u.Seconds < d.next {
		return nil
	}
	d.next = u.Seconds + plainSeconds - renewSeconds/10 // updates do not fall on whole seconds
	_, err := fmt.Fprintln(d.To, Plain(u))
	return err
}

const plainSeconds = 1
