package known

// stereo is a piece of sound, left and right, of equal length.
type stereo [2][]float64

func newStereo(frames int) stereo {
	return stereo{make([]float64, frames), make([]float64, frames)}
}

// drop removes the first frames; the rest keeps its memory.
func (s *stereo) drop(frames int) {
	for c := range s {
		left := copy(s[c], s[c][frames:])
		s[c] = s[c][:left]
	}
}
