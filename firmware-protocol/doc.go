// Package protocol is the language of the link between the program (the host) and the
// jig: frames, checksum and messages. LINK.md beside it is the specification; this
// package is its Go form, for the host, the jig in software and the tests of the
// firmware.
//
// It owns bytes and their meaning. It does not depend on ports, timeouts, retries or
// degrees of screw: positions here are microsteps of the motor, counted from the jig's
// own zero.
//
// All integers are little endian. A frame on the wire is
//
//	COBS(type u8, sequence u8, body, CRC-16 u16) 00
package protocol

// Version of the link. Peers with different majors do not communicate; a higher minor
// only adds content that an older peer may ignore.
const (
	Major = 1
	Minor = 4
)

// MaxPayload is the longest frame before byte stuffing, in bytes: type,
// sequence, body and checksum. MaxWire is the longest on the wire, with the
// stuffing byte and the closing zero.
const (
	MaxPayload = 64
	MaxWire    = MaxPayload + 2
)

// SilenceMillis is how long a host may be silent while the motor turns, in milliseconds.
const SilenceMillis = 500

// HoldSeconds is how long a standing motor holds without a frame from the host.
const HoldSeconds = 600

// Baud is the speed of the line in bits per second, 8 data bits, no parity, one
// stop bit.
const Baud = 115200
