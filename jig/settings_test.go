package jig_test

import (
	"errors"
	"testing"

	protocol "headtrue/firmware-protocol"
	"headtrue/jig"
	"headtrue/jig/virtual"
)

func TestConfigure(t *testing.T) {
	v := virtual.New(virtual.Options{})
	j := open(t, v, profile())
	s, err := j.Settings(t.Context())
	if err != nil || s.Identity != 0 || s.Microsteps != 16 {
		t.Fatalf("settings of a new jig: %s, %v", s, err)
	}
	s.Identity, s.Microsteps, s.Fitted = 5, 8, s.Fitted|protocol.FittedSupply
	var refused *jig.RefusedError
	if err := j.Configure(t.Context(), s); !errors.As(err, &refused) || refused.Code != protocol.IsEnergised {
		t.Errorf("configured with the motor on: %v", err)
	}
	if err := errors.Join(j.Release(t.Context()), j.Configure(t.Context(), s)); err != nil {
		t.Fatal(err)
	}
	if got, err := j.Settings(t.Context()); got != s || err != nil {
		t.Errorf("settings %s, %v; want %s", got, err, s)
	}
	if st, err := j.Status(t.Context()); err != nil || st.Memory != jig.Unknown {
		t.Errorf("%+v, %v; want an unknown position", st, err)
	}
	// another profile is refused, unless the microsteps are to be corrected
	if _, err := jig.Open(t.Context(), virtual.Pipe(t.Context(), v), profile()); !errors.Is(err, jig.ErrMismatch) {
		t.Errorf("opened with another profile: %v", err)
	}
	again, err := jig.Open(t.Context(), virtual.Pipe(t.Context(), v), profile(), jig.Unmatched())
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	v.CutSupply(true)
	if err := again.Energise(t.Context()); !errors.As(err, &refused) || refused.Code != jig.NoSupply {
		t.Errorf("energised without a supply: %v", err)
	}
	if st, err := again.Status(t.Context()); err != nil || !st.NoSupply {
		t.Errorf("%+v, %v; want no supply", st, err)
	}
}

// A jig from before link 1.4 answers that the request is unknown to it.
func TestSettingsOfAnOlderJig(t *testing.T) {
	j, jigEnd := byHand(t)
	asked := make(chan error, 1)
	go func() { _, err := j.Settings(t.Context()); asked <- err }()
	f := jigEnd.next(t, protocol.TypeSettings)
	reply := protocol.Frame{Type: f.Type | protocol.ReplyBit, Seq: f.Seq, Body: protocol.Reply{Code: protocol.UnknownType, Status: statusAt(1, 0)}.Append(nil)}
	if _, err := jigEnd.Write(reply.Append(nil)); err != nil {
		t.Fatal(err)
	}
	if err := <-asked; !errors.Is(err, jig.ErrNoSettings) {
		t.Errorf("%v; want %v", err, jig.ErrNoSettings)
	}
}
