package exchange

import (
	"encoding/binary"
	"errors"
)

// errThrift is returned for a structure with inconsistent lengths.
var errThrift = errors.New("its lengths do not fit what is there")

// Types of the Thrift compact protocol (Apache Thrift, thrift-compact-protocol.md).
const (
	thriftStop = iota
	thriftTrue
	thriftFalse
	thriftByte
	thriftInt16
	thriftInt32
	thriftInt64
	thriftDouble
	thriftBinary
	thriftList
	thriftSet
	thriftMap
	thriftStruct
)

// thriftWalk walks over one structure and reads only its lengths, so that the later
// decoder never allocates more than the file holds.
type thriftWalk struct {
	text    []byte
	at      int
	structs int // number still allowed
}

// wholeStruct returns the size of a structure at the beginning of a text, in bytes;
// structs is the most structures it may hold.
func wholeStruct(text []byte, structs int) (bytes int, err error) {
	w := &thriftWalk{text: text, structs: structs}
	err = w.fields(0)
	return w.at, err
}

func (w *thriftWalk) fields(depth int) error {
	if w.structs--; w.structs < 0 || depth > 16 {
		return errThrift
	}
	for {
		b, err := w.byte()
		if err != nil || b == thriftStop {
			return err
		}
		if b>>4 == 0 { // the number of the field follows
			if _, err := w.number(); err != nil {
				return err
			}
		}
		if t := b & 0xf; t != thriftTrue && t != thriftFalse {
			if err := w.value(t, depth); err != nil {
				return err
			}
		}
	}
}

func (w *thriftWalk) value(kind byte, depth int) error {
	switch kind {
	case thriftTrue, thriftFalse, thriftByte:
		return w.skip(1)
	case thriftInt16, thriftInt32, thriftInt64:
		_, err := w.number()
		return err
	case thriftDouble:
		return w.skip(8)
	case thriftBinary:
		n, err := w.number()
		if err != nil {
			return err
		}
		return w.skip(n)
	case thriftList, thriftSet:
		return w.list(depth)
	case thriftStruct:
		return w.fields(depth + 1)
	}
	return errThrift // such files have no maps
}

func (w *thriftWalk) list(depth int) error {
	head, err := w.byte()
	n := uint64(head >> 4)
	if err == nil && n == 15 {
		n, err = w.number()
	}
	if err != nil || n > uint64(len(w.text)-w.at) {
		return errThrift
	}
	for range n {
		if err := w.value(head&0xf, depth); err != nil {
			return err
		}
	}
	return nil
}

func (w *thriftWalk) byte() (byte, error) {
	if w.at >= len(w.text) {
		return 0, errThrift
	}
	w.at++
	return w.text[w.at-1], nil
}

func (w *thriftWalk) number() (uint64, error) {
	x, n := binary.Uvarint(w.text[w.at:])
	if n <= 0 {
		return 0, errThrift
	}
	w.at += n
	return x, nil
}

func (w *thriftWalk) skip(n uint64) error {
	if n > uint64(len(w.text)-w.at) {
		return errThrift
	}
	w.at += int(n)
	return nil
}
