package sweep

import (
	"headtrue/sweep/estimate"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
)

// Inputs and outputs of a run; their declarations describe them.
type (
	Plan   = estimate.Plan
	Setup  = session.Setup
	Clip   = session.Clip
	Prompt = stream.Prompt
	Event  = stream.Event
)
