// Package production looks at many units that are set one after the other: whether
// each has passed, why not, what is still to be done, and what that comes to in a
// shift.
//
// A batch is known by the name that its runs carry. All that is said of it follows
// from those runs alone, so that nothing else has to be kept in step with the
// logbook, and work goes on after whatever has interrupted it. A unit is set by runs
// of align; a proof listens to it again after the lacquer; a person may take it out.
//
// It is pure: record entries in, judgements, counts and text out. Offsets and
// uncertainties are arcminutes of tilt, play is degrees of screw. It measures
// nothing, and knows no limits but those that each run was begun with.
package production
