package barejig

import (
	"testing"
	"testing/synctest"
	"time"
)

// A button counts as held for 200 ms after the last renewal, and not at all once it is let go.
func TestAButtonMustBeRenewed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var b Button
		if b.held() != 0 {
			t.Error("held before anybody pressed it")
		}
		b.Hold(-1)
		for range 10 {
			time.Sleep(150 * time.Millisecond)
			if b.held() != -1 {
				t.Fatal("let go within 150 ms")
			}
			b.Hold(-1)
		}
		time.Sleep(RenewWithin + time.Millisecond)
		if b.held() != 0 {
			t.Error("still held 201 ms after the last renewal")
		}
		b.Hold(1)
		b.LetGo()
		if b.held() != 0 {
			t.Error("still held though it was let go")
		}
	})
}

func TestANudgeHasLimits(t *testing.T) {
	for _, c := range []struct {
		deg, degPerS float64
		right        bool
	}{{15, 30, true}, {720, 0.2, true}, {0, 30, false}, {721, 30, false}, {-15, 30, false}, {15, 0, false}, {15, 361, false}} {
		if err := CheckNudge(c.deg, c.degPerS); (err == nil) != c.right {
			t.Errorf("%g degrees at %g: %v", c.deg, c.degPerS, err)
		}
	}
}

// A button that is still held as the motor is stopped turns nothing: it must be let go first.
func TestAButtonHeldOverAStopTurnsNothing(t *testing.T) {
	var b Button
	b.Hold(1)
	if b.held() != 1 {
		t.Fatal("a button that is held turns nothing")
	}
	b.Stop()
	for range 3 {
		b.Hold(1)
		if b.held() != 0 {
			t.Fatal("a button that is still held turns after a stop")
		}
	}
	b.LetGo()
	if b.Hold(-1); b.held() != -1 {
		t.Error("a button that is pressed anew turns nothing")
	}
	b.Stop()
	if time.Sleep(RenewWithin + 50*time.Millisecond); b.held() != 0 {
		t.Error("a button that was stopped turns by itself")
	}
	if b.Hold(1); b.held() != 1 {
		t.Error("a button without renewals counts as let go")
	}
}
