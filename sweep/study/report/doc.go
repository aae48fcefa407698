// Package report is the form of the results of package study for a front end: plain data,
// also used as the result for machines, and the same as text for a terminal.
package report

import "time"

// AtMinute returns a time by the clock of the bench, to the minute.
func AtMinute(t time.Time) string { return t.Local().Format("2006-01-02 15:04") }

// OnDay returns the day of a time by the clock of the bench.
func OnDay(t time.Time) string { return t.Local().Format("2006-01-02") }
