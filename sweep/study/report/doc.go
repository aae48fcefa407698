// Package report is what the studies of package study have come to, as a front end shows
// it: plain data, which also is the result for machines, and the same as text for a
// terminal.
package report

import "time"

// AtMinute is a time by the clock of the bench, to the minute.
func AtMinute(t time.Time) string { return t.Local().Format("2006-01-02 15:04") }
