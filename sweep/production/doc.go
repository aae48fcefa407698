// Package production reports on many units that are set one after the other: whether each
// has passed, why not, what is still to do, and the totals of a shift.
//
// A batch is identified by the name in its runs. Its state follows from those runs alone,
// so nothing else must be kept consistent with the logbook, and work continues after any
// interruption. Runs of align set a unit; a proof measures it again after the lacquer; a
// person may take it out.
//
// It computes only: record entries in, judgements, counts and text out. Offsets and
// uncertainties are arcminutes of tilt, backlash is degrees of screw. It measures
// nothing, and uses only the limits with which each run was begun.
package production
