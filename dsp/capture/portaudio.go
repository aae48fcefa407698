//go:build cgo && portaudio

package capture

import (
	"errors"
	"fmt"
	"strings"
	"sync"

	"github.com/gordonklaus/portaudio"

	"headtrue/dsp/audio"
)

// portAudio guards the binding's global state, which has no lock. The device list is that
// of the first Initialize, until all users have terminated.
var portAudio sync.Mutex

func listPortAudio() ([]Input, error) {
	portAudio.Lock()
	defer portAudio.Unlock()
	if err := portaudio.Initialize(); err != nil {
		return nil, fmt.Errorf("PortAudio: %w", err)
	}
	devices, err := portaudio.Devices()
	var inputs []Input
	for _, d := range devices {
		if d.MaxInputChannels > 0 {
			inputs = append(inputs, Input{
				Name: "portaudio:" + deviceName(d), API: d.HostApi.Name, Device: d.Name,
				Channels: d.MaxInputChannels, Rate: int(d.DefaultSampleRate), Default: d == d.HostApi.DefaultInputDevice,
			})
		}
	}
	return inputs, errors.Join(err, portaudio.Terminate())
}

// deviceName returns host API and device, since names within one API may repeat.
func deviceName(d *portaudio.DeviceInfo) string { return d.HostApi.Name + "/" + d.Name }

func findDevice(name string) (*portaudio.DeviceInfo, error) {
	if name == "" {
		d, err := portaudio.DefaultInputDevice()
		if err != nil {
			return nil, fmt.Errorf("PortAudio has no default input: %w", err)
		}
		return d, nil
	}
	devices, err := portaudio.Devices()
	if err != nil {
		return nil, fmt.Errorf("PortAudio: %w", err)
	}
	var known []string
	for _, d := range devices {
		if d.MaxInputChannels == 0 {
			continue
		}
		if deviceName(d) == name {
			return d, nil
		}
		known = append(known, fmt.Sprintf("%q", deviceName(d)))
	}
	return nil, fmt.Errorf("no PortAudio input %q; there is: %s", name, strings.Join(known, ", "))
}

// openPortAudio records from an input. PortAudio's own thread calls the callback until
// Close stops it.
func openPortAudio(name string, rate int) (s audio.Source, err error) {
	portAudio.Lock()
	defer portAudio.Unlock()
	if err := portaudio.Initialize(); err != nil {
		return nil, fmt.Errorf("PortAudio: %w", err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, portaudio.Terminate())
		}
	}()
	d, err := findDevice(name)
	if err != nil {
		return nil, err
	}
	if d.MaxInputChannels < 2 {
		return nil, fmt.Errorf("PortAudio input %q: %w", name, needTwo(d.MaxInputChannels))
	}
	if rate == 0 {
		rate = int(d.DefaultSampleRate)
	}
	if err := CheckRate(rate); err != nil {
		return nil, fmt.Errorf("PortAudio input %q: %w", name, err)
	}
	l := newLive(rate)
	var p portaudio.StreamParameters
	p.Input = portaudio.StreamDeviceParameters{Device: d, Channels: 2, Latency: d.DefaultHighInputLatency}
	p.SampleRate, p.FramesPerBuffer, p.Flags = float64(rate), blockFrames, portaudio.ClipOff|portaudio.DitherOff
	// The samples are C memory, invalid after the callback returns: push copies them.
	stream, err := portaudio.OpenStream(p, func(in []float32, _ portaudio.StreamCallbackTimeInfo, flags portaudio.StreamCallbackFlags) {
		l.push(in, flags&portaudio.InputOverflow != 0)
	})
	if err != nil {
		return nil, fmt.Errorf("PortAudio input %q at %d Hz: %w", name, rate, err)
	}
	if err := stream.Start(); err != nil {
		return nil, errors.Join(fmt.Errorf("PortAudio input %q: %w", name, err), stream.Close())
	}
	l.release = func() error {
		portAudio.Lock()
		defer portAudio.Unlock()
		return errors.Join(stream.Abort(), stream.Close(), portaudio.Terminate())
	}
	return l, nil
}
