package cues

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"net"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/jfreymuth/pulse/proto"

	"headtrue/jig/fault"
	"headtrue/sweep/cue"
)

const (
	// bufferSeconds is the sound that waits in the server: with less the cues break up on a
	// busy machine.
	bufferSeconds = 0.02
	// requestSeconds is the least that the server asks for.
	requestSeconds = 0.005
	frameBytes     = 4
	// stallSeconds without a request mean that the output has failed.
	stallSeconds = 2
)

// pulseOutput plays through the sound server. The library's goroutine reads the connection and
// answers the server's requests, until the connection is closed.
type pulseOutput struct {
	client *proto.Client
	conn   net.Conn
	fill   func(out []float32)
	failed func(error)
	index  atomic.Uint32 // of the stream, plus one; 0 before it is made
	closed atomic.Bool
	alive  *time.Timer // fires if the server asks for nothing
	once   sync.Once
	frames []float32
	bytes  []byte
}

// openOutput opens the sink of an order. failed is called at most once, from another goroutine.
func openOutput(o Order, fill func(out []float32), failed func(error)) (output, error) {
	server, sink, _ := strings.Cut(o.Output, ":")
	if o.Output != "" && server != "pulse" {
		return nil, fmt.Errorf("cue output %q: must be pulse:NAME, or pulse: for the default output", o.Output)
	}
	if evidentlySame(o.Input, o.Output) {
		return nil, ErrSameDevice
	}
	client, conn, err := proto.Connect("")
	if err != nil {
		return nil, fmt.Errorf("cue output: no PulseAudio server answers (is one running? PULSE_SERVER names another): %w", err)
	}
	p := &pulseOutput{client: client, conn: conn, fill: fill, failed: failed}
	client.Callback = p.message
	if err := p.open(sink, o.Input); err != nil {
		p.closed.Store(true)
		return nil, errors.Join(err, conn.Close())
	}
	return p, nil
}

// evidentlySame reports whether the names alone say that the output plays into the input.
func evidentlySame(input, output string) bool {
	return strings.HasPrefix(output, "pulse:") && output != "pulse:" && input == output+".monitor"
}

func (p *pulseOutput) open(sink, input string) error {
	name := proto.PropList{"application.name": proto.PropListString("headtrue")}
	if err := p.client.Request(&proto.SetClientName{Props: name}, &proto.SetClientNameReply{}); err != nil {
		return fmt.Errorf("PulseAudio: %w", err)
	}
	var info proto.GetSinkInfoReply
	if err := p.client.Request(&proto.GetSinkInfo{SinkIndex: proto.Undefined, SinkName: sink}, &info); err != nil {
		return fmt.Errorf("PulseAudio sink %q (pactl list short sinks shows them): %w", sink, err)
	}
	if source, isPulse := strings.CutPrefix(input, "pulse:"); isPulse {
		var from proto.GetSourceInfoReply // there may be none; the run then reports it
		_ = p.client.Request(&proto.GetSourceInfo{SourceIndex: proto.Undefined, SourceName: source}, &from)
		if from.SourceName != "" && from.SourceName == info.MonitorSourceName {
			return ErrSameDevice
		}
	}
	return p.play(info)
}

// play makes the stream. The server asks for sound at once.
func (p *pulseOutput) play(sink proto.GetSinkInfoReply) error {
	var reply proto.CreatePlaybackStreamReply
	second := float64(cue.Rate * frameBytes)
	p.alive = time.AfterFunc(time.Hour, func() { p.fails(fmt.Errorf("the cue output has taken no sound for %d s", stallSeconds)) })
	err := p.client.Request(&proto.CreatePlaybackStream{
		SinkIndex:             sink.SinkIndex,
		SampleSpec:            proto.SampleSpec{Format: proto.FormatFloat32LE, Channels: 1, Rate: cue.Rate},
		ChannelMap:            proto.ChannelMap{proto.ChannelMono},
		BufferMaxLength:       uint32(4 * bufferSeconds * second),
		BufferTargetLength:    uint32(bufferSeconds * second),
		BufferMinimumRequest:  uint32(requestSeconds * second),
		BufferPrebufferLength: 0, // after a late answer it goes on at once
		ChannelVolumes:        proto.ChannelVolumes{uint32(proto.VolumeNorm)},
		AdjustLatency:         true,
		NoMove:                true, // it might be moved into the run's own input
		Properties:            proto.PropList{"media.name": proto.PropListString("cues")},
	}, &reply)
	if err != nil {
		p.alive.Stop()
		return fmt.Errorf("PulseAudio sink %q: %w", sink.SinkName, err)
	}
	p.alive.Reset(stallSeconds * time.Second)
	p.index.Store(reply.StreamIndex + 1)
	return p.send(reply.StreamIndex, int(reply.BufferTargetLength))
}

// message handles what the server sends.
func (p *pulseOutput) message(message any) {
	defer fault.Recovered(p.fails)
	switch m := message.(type) {
	case *proto.Request:
		if p.index.Load() != m.StreamIndex+1 {
			return // play answers the first request, which comes with the reply
		}
		p.alive.Reset(stallSeconds * time.Second)
		if err := p.send(m.StreamIndex, int(m.Length)); err != nil {
			p.fails(err)
		}
	case *proto.PlaybackStreamKilled, *proto.ConnectionClosed:
		p.fails(errors.New("the sound server has ended the cue output"))
	}
}

// send makes and sends bytes of sound.
func (p *pulseOutput) send(index uint32, bytes int) error {
	n := bytes / frameBytes
	if cap(p.frames) < n {
		p.frames, p.bytes = make([]float32, n), make([]byte, n*frameBytes)
	}
	frames := p.frames[:n]
	p.fill(frames)
	for i, v := range frames {
		binary.LittleEndian.PutUint32(p.bytes[i*frameBytes:], math.Float32bits(v))
	}
	return p.client.Send(index, p.bytes[:n*frameBytes])
}

// fails reports the first failure, unless the output was closed.
func (p *pulseOutput) fails(err error) {
	if !p.closed.Load() {
		p.once.Do(func() { p.failed(err) })
	}
}

// Close ends the sound without playing the rest of the buffer.
func (p *pulseOutput) Close() error {
	p.closed.Store(true)
	p.alive.Stop()
	return p.conn.Close()
}
