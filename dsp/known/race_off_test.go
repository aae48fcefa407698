//go:build !race

package known

const raceDetector = false
