// Package firmware carries the image of the jig's controller that this folder's C
// sources make: core/ is portable, avr/ ports it to the ATmega328P, host/ runs the core
// as a process for tests. The Makefile builds all of it; "make image" renews jig.hex,
// and a test of the simulator fails where that is not what the sources make.
package firmware

import _ "embed"

// Image is what is flashed onto an ATmega328P at 16 MHz, in Intel hex.
//
//go:embed jig.hex
var Image []byte

// Chip is what the image runs on, under the names that avrdude has for it and for
// boards whose boot loader speaks as the common ones do.
const (
	Chip       = "atmega328p"
	Programmer = "arduino"
	Baud       = 115200
)
