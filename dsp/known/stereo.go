package known

// stereo is a piece of sound, left and right, of equal length.
type stereo [2][]float64

func newStereo(frames int) stereo {
	return stereo{make([]float64, frames), make([]float64, frames)}
}
