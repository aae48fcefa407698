//go:build race

package known

// raceDetector is true if memory accesses are watched, at many times the cost.
const raceDetector = true
