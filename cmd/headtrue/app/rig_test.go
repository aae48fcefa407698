package app

import (
	"context"
	"errors"
	"net"
	"strings"
	"testing"

	"headtrue/cmd/headtrue/settings"
	"headtrue/jig"
	"headtrue/sweep/record"
)

// Ctrl-C during the greeting of a silent jig is an interruption, not a fault of the port.
func TestInterruptedGreetingIsAnInterruption(t *testing.T) {
	near, far := net.Pipe()
	defer far.Close()
	ctx, cancel := context.WithCancel(context.Background())
	go func() { // ends with the line
		for buf := make([]byte, 64); ; {
			if _, err := far.Read(buf); err != nil {
				return
			}
			cancel() // the greeting has begun
		}
	}()
	err := (&Rig{}).openJig(ctx, near, JigProfile(settings.Default()))
	var f *Failure
	if !errors.As(err, &f) || f.Outcome != record.Interrupted || f.Do != "" {
		t.Errorf("got %v (%+v), want an interruption and no advice about the port", err, f)
	}
}

func TestAJigThatDoesNotAnswerIsSaidOnce(t *testing.T) {
	near, far := net.Pipe()
	far.Close()
	err := (&Rig{}).openJig(context.Background(), near, JigProfile(settings.Default()))
	var f *Failure
	if !errors.As(err, &f) || f.Outcome != record.NotReady || !errors.Is(err, jig.ErrLinkLost) {
		t.Fatalf("got %v, want it not ready and %v", err, jig.ErrLinkLost)
	}
	if n := strings.Count(err.Error(), "the jig: "); n != 1 {
		t.Errorf("%q says %d times that the jig was opened", err, n)
	}
}
