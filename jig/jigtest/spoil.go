package jigtest

import "io"

// Spoil maps the n-th frame of a line, counted from 0, to the bytes that arrive instead,
// any number of frames. The frame has its closing zero. An empty frame (a lone zero)
// counts too.
type Spoil func(n int, frame []byte) []byte

// Drop loses the n-th frame if lost returns true.
func Drop(lost func(n int) bool) Spoil {
	return func(n int, frame []byte) []byte {
		if lost(n) {
			return nil
		}
		return frame
	}
}

// Double sends the n-th frame twice if doubled returns true.
func Double(doubled func(n int) bool) Spoil {
	return func(n int, frame []byte) []byte {
		if doubled(n) {
			return append(append([]byte{}, frame...), frame...)
		}
		return frame
	}
}

// Garble inverts bits of one byte of the n-th frame if garbled returns true.
func Garble(garbled func(n int) bool) Spoil {
	return func(n int, frame []byte) []byte {
		if garbled(n) && len(frame) > 2 {
			frame = append([]byte{}, frame...)
			frame[len(frame)/2] ^= 0x24
		}
		return frame
	}
}

// Cut ends the n-th frame early, without its closing zero, if cut returns true.
func Cut(cut func(n int) bool) Spoil {
	return func(n int, frame []byte) []byte {
		if cut(n) {
			return frame[:len(frame)/2]
		}
		return frame
	}
}

// SpoilLine passes everything through rwc, but applies toJig to frames from the host and
// toHost to frames to it. nil changes nothing. One goroutine may read and one write.
func SpoilLine(rwc io.ReadWriteCloser, toJig, toHost Spoil) io.ReadWriteCloser {
	return &spoilt{ReadWriteCloser: rwc, out: spoiler{spoil: toJig}, in: spoiler{spoil: toHost}}
}

type spoilt struct {
	io.ReadWriteCloser
	out, in spoiler
	ready   []byte // spoilt, not yet read
}

func (s *spoilt) Write(b []byte) (int, error) {
	if wire := s.out.feed(b); len(wire) > 0 {
		if _, err := s.ReadWriteCloser.Write(wire); err != nil {
			return 0, err
		}
	}
	return len(b), nil
}

func (s *spoilt) Read(b []byte) (int, error) {
	buf := make([]byte, 256)
	for len(s.ready) == 0 {
		n, err := s.ReadWriteCloser.Read(buf)
		s.ready = append(s.ready, s.in.feed(buf[:n])...)
		if err != nil && len(s.ready) == 0 {
			return 0, err
		}
	}
	n := copy(b, s.ready)
	s.ready = s.ready[n:]
	return n, nil
}

// spoiler cuts one direction into frames.
type spoiler struct {
	spoil Spoil
	n     int
	frame []byte
}

func (s *spoiler) feed(b []byte) []byte {
	if s.spoil == nil {
		return b
	}
	var out []byte
	for _, c := range b {
		s.frame = append(s.frame, c)
		if c == 0 {
			out = append(out, s.spoil(s.n, s.frame)...)
			s.n++
			s.frame = s.frame[:0]
		}
	}
	return out
}
