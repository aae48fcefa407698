package jigtest

import (
	"io"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
)

// patience is the longest time a jig may take to answer; then the test fails.
const patience = 3 * time.Second

// Client is a bare host: it sends only what a test orders, repeats nothing and checks
// nothing else.
type Client struct {
	// Events are the events that came before the last reply.
	Events []protocol.Event

	t      testing.TB
	line   io.ReadWriteCloser
	frames chan protocol.Frame
	seq    uint8
}

// NewClient reads frames from line until the line is closed, at the latest at the end of
// the test.
func NewClient(t testing.TB, line io.ReadWriteCloser) *Client {
	t.Helper()
	c := &Client{t: t, line: line, frames: make(chan protocol.Frame, 1024)}
	done := make(chan struct{})
	go func() { // ends with the line
		defer close(done)
		defer close(c.frames)
		var frames protocol.Splitter
		buf := make([]byte, 256)
		for {
			n, err := line.Read(buf)
			frames.Feed(buf[:n], func(f protocol.Frame, err error) {
				if err == nil {
					c.frames <- f
				}
			})
			if err != nil {
				return
			}
		}
	}()
	t.Cleanup(func() { _ = line.Close(); <-done })
	c.Raw([]byte{0})
	return c
}

// Raw writes bytes as they are.
func (c *Client) Raw(wire []byte) {
	c.t.Helper()
	if _, err := c.line.Write(wire); err != nil {
		c.t.Fatalf("writing to the jig: %v", err)
	}
}

// Next makes a request under a new sequence number, without sending it.
func (c *Client) Next(t protocol.Type, body []byte) protocol.Frame {
	c.seq++
	return protocol.Frame{Type: t, Seq: c.seq, Body: body}
}

// Send sends a request under a new sequence number and returns the frame.
func (c *Client) Send(t protocol.Type, body []byte) protocol.Frame {
	c.t.Helper()
	f := c.Next(t, body)
	c.Raw(f.Append(nil))
	return f
}

// Reply waits for the next reply, which must be the one to f. It keeps the events that
// came before.
func (c *Client) Reply(f protocol.Frame) (protocol.Reply, []byte) {
	c.t.Helper()
	c.Events = nil
	timer := time.NewTimer(patience)
	defer timer.Stop()
	for {
		select {
		case got, ok := <-c.frames:
			if !ok {
				c.t.Fatalf("the line ended before the reply to type %02x sequence %d", f.Type, f.Seq)
			}
			if got.Type == protocol.TypeEvent {
				e, err := protocol.ParseEvent(got.Body)
				if err != nil {
					c.t.Fatalf("event cannot be read: %v", err)
				}
				c.Events = append(c.Events, e)
				continue
			}
			if got.Type != f.Type|protocol.ReplyBit || got.Seq != f.Seq {
				c.t.Fatalf("a reply of type %02x sequence %d came, expected one to type %02x sequence %d",
					got.Type, got.Seq, f.Type, f.Seq)
			}
			r, err := protocol.ParseReply(got.Body)
			if err != nil {
				c.t.Fatalf("reply cannot be read: %v", err)
			}
			return r, got.Body
		case <-timer.C:
			c.t.Fatalf("no reply to type %02x sequence %d within %v", f.Type, f.Seq, patience)
		}
	}
}

// Ask sends a request and waits for its reply.
func (c *Client) Ask(t protocol.Type, body []byte) protocol.Reply {
	c.t.Helper()
	r, _ := c.Reply(c.Send(t, body))
	return r
}

// Must is Ask for a request that must succeed.
func (c *Client) Must(t protocol.Type, body []byte) protocol.Status {
	c.t.Helper()
	return c.Refuse(protocol.OK, t, body)
}

// Refuse is Ask for a request that must get the code.
func (c *Client) Refuse(code protocol.Code, t protocol.Type, body []byte) protocol.Status {
	c.t.Helper()
	r := c.Ask(t, body)
	if r.Code != code {
		c.t.Fatalf("request %02x got %q, want %q; %+v", t, r.Code, code, r.Status)
	}
	return r.Status
}

// Status asks for the status.
func (c *Client) Status() protocol.Status {
	c.t.Helper()
	return c.Must(protocol.TypeStatus, nil)
}

// FirstStep asks for the status and the time of the first step.
func (c *Client) FirstStep() protocol.StatusReply {
	c.t.Helper()
	_, body := c.Reply(c.Send(protocol.TypeStatus, nil))
	r, err := protocol.ParseStatusReply(body)
	if err != nil || r.Code != protocol.OK {
		c.t.Fatalf("status: %q, %v", r.Code, err)
	}
	if without := len(r.Reply.Append(nil)); len(body) < without+4 {
		c.t.Fatalf("status of %d bytes: the time of the first step is not behind it", len(body))
	}
	return r
}

// Greet greets the jig.
func (c *Client) Greet() (protocol.Status, protocol.Greeting) {
	c.t.Helper()
	_, body := c.Reply(c.Send(protocol.TypeHello, protocol.Hello{Major: protocol.Major, Minor: protocol.Minor}.Append(nil)))
	r, g, err := protocol.ParseGreeting(body)
	if err != nil || r.Code != protocol.OK {
		c.t.Fatalf("greeting: %q, %v", r.Code, err)
	}
	return r.Status, g
}
