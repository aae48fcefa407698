package panel

import (
	"testing"
	"time"
)

// yes are the answers of a person who goes along.
var yes = map[string]string{"cautions": "yes", "part": ""}

// A whole alignment with a jig, as a page sees it: cautions first, then the person's parts, the
// curve point by point, the decision, the motor at rest, and the result.
func TestAnAlignmentWithAJig(t *testing.T) {
	p := serve(t, nil)
	f := join(t, p)
	f.must("align", map[string]any{"unit": "D-1"})
	s := f.wait("state", 20*time.Second, func(m map[string]any) bool { return m["question"] != nil })
	q := s["question"].(map[string]any)
	if q["kind"] != "cautions" {
		t.Fatalf("the first question is %v", q)
	}
	if m := f.newest("motor"); m["energised"] == true {
		t.Errorf("before the cautions are answered: %v", m)
	}
	end := f.answers(60*time.Second, yes)
	if end["error"] != nil {
		t.Fatalf("it ended with %v", end["error"])
	}
	r := f.wait("result", time.Second, func(m map[string]any) bool { return true })
	result := r["result"].(map[string]any)
	if result["outcome"] != "aligned" || r["good"] != true || result["left_off_arcmin"] == nil || result["found_off_arcmin"] == nil {
		t.Errorf("result %v", r)
	}
	if m := f.wait("motor", 2*time.Second, func(m map[string]any) bool { return m["jig"] == false }); m["moving"] == true {
		t.Errorf("afterwards: %v", m)
	}
	steps := 0
	f.mu.Lock()
	for _, m := range f.all {
		if list, ok := m["steps"].([]any); ok {
			if int(number(m, "from")) != steps {
				t.Errorf("steps from %v after %d", m["from"], steps)
			}
			steps += len(list)
		}
	}
	f.mu.Unlock()
	if steps < 20 || f.newest("decision") == nil || f.newest("checks") == nil || f.newest("live") == nil {
		t.Errorf("%d steps, decision %v, checks %v", steps, f.newest("decision") != nil, f.newest("checks") != nil)
	}
}
