package search

import (
	"headtrue/sweep/estimate"
	"headtrue/sweep/session"
)

// plannedSearch has a plan and nothing to hear or to turn.
func plannedSearch(p estimate.Plan) *Search {
	return &Search{Session: &session.Session{Plan: estimate.NewTask(p, 1)}}
}
