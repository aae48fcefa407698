// Package study owns the statistics over many records: how well the gauge
// repeats and who or what makes it differ (gauge study, check standards,
// uncertainty budget), whether a row of results is steady (control charts, level
// shifts), and how a head that was set drifts afterwards.
//
// It is handed plain numbers and hands back plain numbers with a sentence. It is
// pure: no files, no clock, no database; it knows nothing of screws, tape, sound
// or of how records are kept, drawn or asked for.
//
// Units: tilts and their standard deviations are arcminutes, times are days,
// temperatures degrees Celsius, variances square arcminutes. Intervals are for
// 95 %. A quantity that cannot be negative but was estimated below zero is set
// to zero and says so.
package study
