package main

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
)

const noiseFrames = 6 * 48000

// noise FILE FRAMES [LEVEL] writes white noise, 16-bit at 48 kHz, whose right
// channel comes so many frames later than the left. A level of -20 dBFS is an
// rms of 0.1/sqrt(2) of full scale, a full-scale sine being 0 dBFS; LEVEL 0
// writes silence. A .wav file gets a header, any other is raw.
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

// onechannel FILE makes a .wav file say that it has one channel.
func oneChannel(ts *testscript.TestScript, _ bool, args []string) {
	const channels, frameBytes = 22, 32 // where they stand in the header
	data := []byte(ts.ReadFile(args[0]))
	data[channels], data[frameBytes] = 1, 2
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
