package main

import (
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"
	"github.com/rogpeppe/go-internal/testscript"
)

const noiseFrames = 6 * 48000

// noise FILE FRAMES [LEVEL] writes white noise, 16-bit at 48 kHz, with the right channel
// FRAMES later than the left. A level of -20 dBFS is an rms of 0.1/sqrt(2) of full scale, a
// full-scale sine being 0 dBFS; LEVEL 0 writes silence. A .wav file gets a header, any other
// is raw.
func noise(ts *testscript.TestScript, _ bool, args []string) {
	later, err := strconv.Atoi(args[1])
	ts.Check(err)
	level := 0.1 / math.Sqrt2
	if len(args) > 2 {
		level = 0
	}
	random := rand.New(rand.NewPCG(1, 2))
	sound := make([]int16, noiseFrames+100)
	for i := range sound {
		sound[i] = int16(math.Round(random.NormFloat64() * level * (1 << 15)))
	}
	var data []byte
	for i := 50; i < noiseFrames+50; i++ {
		data = binary.LittleEndian.AppendUint16(data, uint16(sound[i]))
		data = binary.LittleEndian.AppendUint16(data, uint16(sound[i-later]))
	}
	if strings.HasSuffix(args[0], ".wav") {
		data = append(wavHeader(len(data)), data...)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), data, 0o644))
}

// onechannel FILE changes the header of a .wav file to one channel.
func oneChannel(ts *testscript.TestScript, _ bool, args []string) {
	const channels, frameBytes = 22, 32 // their positions in the header
	data := []byte(ts.ReadFile(args[0]))
	data[channels], data[frameBytes] = 1, 2
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), data, 0o644))
}

// flacNoise FILE RATE LATER writes white noise of -20 dBFS, 16-bit, with the right channel one
// frame later than the left: three seconds in blocks of 960 frames. The headers of the file
// and of its blocks give RATE; those of the blocks from frame 44160 on give LATER.
func flacNoise(ts *testscript.TestScript, _ bool, args []string) {
	const blockFrames, before = 960, 46
	rate, rateErr := strconv.ParseUint(args[1], 10, 32)
	later, laterErr := strconv.ParseUint(args[2], 10, 32)
	f, err := os.Create(ts.MkAbs(args[0]))
	ts.Check(errors.Join(rateErr, laterErr, err))
	e, err := flac.NewEncoder(f, &meta.StreamInfo{BlockSizeMin: blockFrames, BlockSizeMax: blockFrames,
		SampleRate: uint32(rate), NChannels: 2, BitsPerSample: 16})
	ts.Check(err)
	random, sound := rand.New(rand.NewPCG(1, 2)), make([]int32, blockFrames+1)
	for block := range 3 * rate / blockFrames {
		header := frame.Header{HasFixedBlockSize: true, BlockSize: blockFrames, SampleRate: uint32(rate),
			Channels: frame.ChannelsLR, BitsPerSample: 16, Num: block}
		if block >= before {
			header.SampleRate = uint32(later)
		}
		for i := 1; i < len(sound); i++ {
			sound[i] = int32(math.Round(random.NormFloat64() * 0.1 / math.Sqrt2 * (1 << 15)))
		}
		channels := []*frame.Subframe{}
		for _, samples := range [][]int32{sound[1:], sound[:blockFrames]} {
			channels = append(channels, &frame.Subframe{SubHeader: frame.SubHeader{Pred: frame.PredVerbatim}, Samples: samples, NSamples: blockFrames})
		}
		ts.Check(e.WriteFrame(&frame.Frame{Header: header, Subframes: channels}))
		sound[0] = sound[blockFrames]
	}
	ts.Check(e.Close())
}

// turnBit FILE BYTE inverts one bit of a file.
func turnBit(ts *testscript.TestScript, _ bool, args []string) {
	data := []byte(ts.ReadFile(args[0]))
	at, err := strconv.Atoi(args[1])
	ts.Check(err)
	data[at] ^= 1
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), data, 0o644))
}

func wavHeader(bytes int) []byte {
	h := []byte("RIFF")
	h = binary.LittleEndian.AppendUint32(h, uint32(36+bytes))
	h = append(h, "WAVEfmt "...)
	for _, v := range []any{uint32(16), uint16(1), uint16(2), uint32(48000), uint32(48000 * 4), uint16(4), uint16(16)} {
		h, _ = binary.Append(h, binary.LittleEndian, v)
	}
	h = append(h, "data"...)
	return binary.LittleEndian.AppendUint32(h, uint32(bytes))
}
