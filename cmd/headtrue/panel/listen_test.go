package panel

import (
	"testing"
	"time"
)

// Listening makes room for a work, does not begin anew in its place, and begins again after it.
func TestListeningMakesRoom(t *testing.T) {
	p := serve(t, func(o *Order) { o.Silent = false })
	f := join(t, p)
	for range 5 {
		f.wait("state", 5*time.Second, func(m map[string]any) bool { return m["doing"] == listen })
		f.must("nudge", nil)
		f.wait("state", 10*time.Second, func(m map[string]any) bool { return m["question"] != nil })
		f.send(map[string]any{"type": "stop"})
		f.wait("state", 5*time.Second, func(m map[string]any) bool { return m["doing"] != "nudge" })
	}
	heard := f.wait("live", 5*time.Second, func(map[string]any) bool { return true })["heard"].(map[string]any)
	if _, there := heard["level_dbfs"].([]any); !there {
		t.Errorf("nothing is heard: %v", heard)
	}
}
