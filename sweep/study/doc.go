// Package study computes the statistics of many records: how well the gauge repeats and
// what makes it differ (gauge study, check standards, uncertainty budget), whether a
// series of results is steady (control charts, level shifts), and how a head drifts after
// it was set.
//
// It takes plain numbers and returns plain numbers with a sentence. It computes only: no
// files, no clock, no database. It does not depend on screws, tape or sound, nor on how
// records are stored, drawn or requested.
//
// Units: tilts and their standard deviations are arcminutes, times are days, temperatures
// degrees Celsius, variances square arcminutes. Intervals are 95 %. A quantity that
// cannot be negative but was estimated below zero is set to zero and marked.
package study
