// Package firmware carries the image of the jig's controller that this folder's C
// sources make: core/ is portable, avr/ ports it to the ATmega328P, host/ runs the core
// as a process for tests. The Makefile builds all of it; "make image" renews jig.hex,
// and a test of the simulator fails where that is not what the sources make.
package firmware

import (
	_ "embed"
	"fmt"
	"strings"
)

// Image is what is flashed onto an ATmega328P at 16 MHz, in Intel hex.
//
//go:embed jig.hex
var Image []byte

// Name and version of the image, as it greets.
const (
	Name         = "headtrue"
	Major, Minor = 1, 3
)

// Version is the image's name and version in one text.
func Version() string { return fmt.Sprintf("%s %d.%d", Name, Major, Minor) }

// Older reports whether greeted, the name and version of a board's firmware, is an older
// version of this image. Firmware of another name is not comparable.
func Older(greeted string) bool {
	var major, minor int
	version, ours := strings.CutPrefix(greeted, Name+" ")
	if _, err := fmt.Sscanf(version, "%d.%d", &major, &minor); !ours || err != nil {
		return false
	}
	return major < Major || major == Major && minor < Minor
}

// Chip is what the image runs on, under the names that avrdude has for it and for
// boards whose boot loader speaks as the common ones do.
const (
	Chip       = "atmega328p"
	Programmer = "arduino"
	Baud       = 115200
)
