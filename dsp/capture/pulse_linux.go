package capture

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"net"
	"sync/atomic"

	"github.com/jfreymuth/pulse/proto"

	"headtrue/dsp/audio"
	"headtrue/jig/fault"
)

const (
	pulseFragmentSeconds = 0.02
	pulseBufferSeconds   = 4 // buffer of the server for a slow reader
)

// pulseClient is a connection to the sound server. The library's goroutine reads it and
// calls handle, until the connection is closed.
type pulseClient struct {
	c    *proto.Client
	conn net.Conn
}

func dialPulse(handle func(message any)) (*pulseClient, error) {
	c, conn, err := proto.Connect("")
	if err != nil {
		return nil, fmt.Errorf("no PulseAudio server answers (is one running? PULSE_SERVER names another): %w", err)
	}
	c.Callback = handle
	name := proto.PropList{"application.name": proto.PropListString("headtrue")}
	if err := c.Request(&proto.SetClientName{Props: name}, &proto.SetClientNameReply{}); err != nil {
		return nil, errors.Join(fmt.Errorf("PulseAudio: %w", err), conn.Close())
	}
	return &pulseClient{c, conn}, nil
}

func listPulse(ctx context.Context) ([]Input, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	p, err := dialPulse(func(any) {})
	if err != nil {
		return nil, err
	}
	defer p.conn.Close()
	var sources proto.GetSourceInfoListReply
	if err := p.c.Request(&proto.GetSourceInfoList{}, &sources); err != nil {
		return nil, fmt.Errorf("PulseAudio: %w", err)
	}
	var usual proto.GetSourceInfoReply // there may be none
	_ = p.c.Request(&proto.GetSourceInfo{SourceIndex: proto.Undefined}, &usual)
	var inputs []Input
	for _, s := range sources {
		inputs = append(inputs, Input{
			Name: "pulse:" + s.SourceName, API: "PulseAudio", Device: s.SourceName, About: s.Device,
			Channels: int(s.Channels), Rate: int(s.Rate), Default: s.SourceName == usual.SourceName,
		})
	}
	return inputs, nil
}

// openPulse records from a source, by default the server's default one.
func openPulse(ctx context.Context, name string, rate int) (audio.Source, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	var opened atomic.Pointer[live]
	var samples []float32
	p, err := dialPulse(func(message any) {
		l := opened.Load()
		if l == nil {
			return // sound arrives only after the request below
		}
		defer fault.Recovered(l.stop)
		switch m := message.(type) {
		case *proto.DataPacket:
			samples = decodeFloats(samples[:0], m.Data)
			l.push(samples, false)
		case *proto.Overflow:
			l.push(nil, true)
		case *proto.RecordStreamKilled, *proto.ConnectionClosed:
			l.stop(audio.ErrStopped)
		}
	})
	if err != nil {
		return nil, err
	}
	var source proto.GetSourceInfoReply
	if err := p.c.Request(&proto.GetSourceInfo{SourceIndex: proto.Undefined, SourceName: name}, &source); err != nil {
		return nil, errors.Join(fmt.Errorf("PulseAudio source %q: %w", name, err), p.conn.Close())
	}
	if source.Channels < 2 {
		return nil, errors.Join(fmt.Errorf("PulseAudio source %q: %w", name, needTwo(int(source.Channels))), p.conn.Close())
	}
	if rate == 0 {
		rate = int(source.Rate)
	}
	if err := CheckRate(rate); err != nil {
		return nil, errors.Join(fmt.Errorf("PulseAudio source %q: %w", name, err), p.conn.Close())
	}
	l := newLive(rate)
	l.release = p.conn.Close
	opened.Store(l)
	if err := p.record(source, rate); err != nil {
		return nil, errors.Join(fmt.Errorf("PulseAudio source %q: %w", name, err), p.conn.Close())
	}
	return l, nil
}

func (p *pulseClient) record(source proto.GetSourceInfoReply, rate int) error {
	second := uint32(rate * 2 * 4)
	var reply proto.CreateRecordStreamReply
	return p.c.Request(&proto.CreateRecordStream{
		SourceIndex:        source.SourceIndex,
		SampleSpec:         proto.SampleSpec{Format: proto.FormatFloat32LE, Channels: 2, Rate: uint32(rate)},
		ChannelMap:         proto.ChannelMap{proto.ChannelLeft, proto.ChannelRight},
		BufferMaxLength:    pulseBufferSeconds * second,
		BufferFragSize:     uint32(pulseFragmentSeconds * float64(second)),
		AdjustLatency:      true,
		NoMove:             true,
		DirectOnInputIndex: proto.Undefined,
		ChannelVolumes:     proto.ChannelVolumes{uint32(proto.VolumeNorm), uint32(proto.VolumeNorm)},
		Properties:         proto.PropList{"media.name": proto.PropListString("headtrue")},
	}, &reply)
}

func decodeFloats(to []float32, b []byte) []float32 {
	for ; len(b) >= 4; b = b[4:] {
		to = append(to, math.Float32frombits(binary.LittleEndian.Uint32(b)))
	}
	return to
}
