package cautions

import (
	"context"
	"errors"
	"strings"
	"testing"
)

// Each act has the cautions that concern it: with the blade off, nothing is said of a screw.
func TestEachActHasItsOwnCautions(t *testing.T) {
	for _, c := range []struct {
		of            Act
		says, saysNot []string
	}{
		{Align, []string{"Before the screw", "lacquer", "spare", "loudspeakers", "may turn 300 degrees", "mains"}, []string{"blade must be off"}},
		{Restore, []string{"Before the screw", "lacquer", "loudspeakers", "may turn 300 degrees"}, []string{"spare"}},
		{ByHand, []string{"Before the screw", "lacquer", "mains"}, []string{"loudspeakers", "tape"}},
		{Check, []string{"Before the motor", "loudspeakers", "blade must be off", "mains"}, []string{"lacquer", "spare", "window", "300"}},
		{Test, []string{"Before the motor", "blade must be off"}, []string{"lacquer", "loudspeakers", "tape", "window"}},
	} {
		text := Before(c.of, 300)
		for _, says := range c.says {
			if !strings.Contains(text, says) {
				t.Errorf("act %d does not say %q:\n%s", c.of, says, text)
			}
		}
		for _, says := range c.saysNot {
			if strings.Contains(text, says) {
				t.Errorf("act %d says %q:\n%s", c.of, says, text)
			}
		}
	}
	for _, what := range ToConfirm {
		if strings.Contains(what, "screw") || strings.Contains(what, "lacquer") {
			t.Errorf("a check asks to confirm %q, and its blade is off the screw", what)
		}
	}
}

func TestOnlyYesGoesOn(t *testing.T) {
	for _, c := range []struct {
		answers  string // one a word
		asked    int
		accepted bool
	}{
		{"yes", 1, true}, {"YES", 1, true}, {"_Yes_", 1, true},
		{"no", 1, false}, {"_NO", 1, false},
		{"y yes", 2, true}, {"y _ yes", 3, true}, {"yes! no", 2, false},
		{"y y y yes", 3, false}, {"ja yess _ yes", 3, false},
	} {
		asked := 0
		ask := func(_ context.Context, question string) (string, error) {
			if asked > 0 && !strings.Contains(question, "Type yes to go on, or no to end") {
				t.Errorf("%q: asked again by %q", c.answers, question)
			}
			asked++
			return strings.ReplaceAll(strings.Fields(c.answers)[asked-1], "_", " "), nil
		}
		if err := Accept(t.Context(), ask, "Go on?"); (err == nil) != c.accepted || asked != c.asked {
			t.Errorf("%q: %v after %d questions, want %d", c.answers, err, asked, c.asked)
		}
	}
	gone := errors.New("nobody answers")
	if err := Accept(t.Context(), func(context.Context, string) (string, error) { return "yes", gone }, "Go on?"); !errors.Is(err, gone) {
		t.Errorf("without an answer: %v", err)
	}
}
