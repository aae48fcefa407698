package main

import (
	"encoding/binary"
	"math"
	"os"
	"strconv"

	"github.com/rogpeppe/go-internal/testscript"
)

// tone FILE HZ SECONDS writes a WAV file, 16-bit at 48 kHz: a tone of -20 dBFS left and -21
// dBFS right, whose frequency deviates by a sine of 0.1 % peak at 4 Hz.
func tone(ts *testscript.TestScript, _ bool, args []string) {
	hz, err := strconv.ParseFloat(args[1], 64)
	ts.Check(err)
	seconds, err := strconv.ParseFloat(args[2], 64)
	ts.Check(err)
	var data []byte
	turns := 0.0
	for i := range int(seconds * 48000) {
		turns += hz / 48000 * (1 + 0.001*math.Sin(2*math.Pi*4*float64(i)/48000))
		for _, peak := range [2]float64{0.1, 0.1 * math.Pow(10, -1.0/20)} {
			sample := int16(math.Round(peak * (1<<15 - 1) * math.Sin(2*math.Pi*turns)))
			data = binary.LittleEndian.AppendUint16(data, uint16(sample))
		}
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), append(wavHeader(len(data)), data...), 0o644))
}
