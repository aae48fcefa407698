package sweep

import (
	"headtrue/sweep/estimate"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
)

// What a run is handed, and what it hands out; described where they are declared.
type (
	Plan   = estimate.Plan
	Setup  = session.Setup
	Clip   = session.Clip
	Prompt = stream.Prompt
	Event  = stream.Event
)
