package main

import (
	"context"
	"errors"
	"net"
	"strings"
	"testing"

	"headtrue/cmd/headtrue/settings"
	"headtrue/jig"
)

// Ctrl-C while a jig is greeted that does not answer is an interruption and no
// fault of the port.
func TestInterruptedGreetingIsAnInterruption(t *testing.T) {
	near, far := net.Pipe()
	defer far.Close()
	ctx, cancel := context.WithCancel(context.Background())
	go func() { // ends with the line
		for buf := make([]byte, 64); ; {
			if _, err := far.Read(buf); err != nil {
				return
			}
			cancel() // the greeting is under way
		}
	}()
	err := (&rig{}).openJig(ctx, near, jigProfile(settings.Default()))
	var f *failure
	if !errors.As(err, &f) || f.code != 14 || f.do != "" {
		t.Errorf("got %v (%+v), want code 14 and no advice about the port", err, f)
	}
}

func TestAJigThatDoesNotAnswerIsSaidOnce(t *testing.T) {
	near, far := net.Pipe()
	far.Close()
	err := (&rig{}).openJig(context.Background(), near, jigProfile(settings.Default()))
	var f *failure
	if !errors.As(err, &f) || f.code != 13 || !errors.Is(err, jig.ErrLinkLost) {
		t.Fatalf("got %v, want code 13 and %v", err, jig.ErrLinkLost)
	}
	if n := strings.Count(err.Error(), "the jig: "); n != 1 {
		t.Errorf("%q says %d times that the jig was opened", err, n)
	}
}
