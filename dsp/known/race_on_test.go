//go:build race

package known

// raceDetector is on where memory accesses are watched, at many times the cost.
const raceDetector = true
