package search

import (
	"headtrue/sweep/estimate"
	"headtrue/sweep/session"
)

// plannedSearch has a plan, but no sound and no jig.
func plannedSearch(p estimate.Plan) *Search {
	return New(&session.Session{Plan: estimate.NewTask(p, 1)})
}
