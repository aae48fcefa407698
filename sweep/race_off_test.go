//go:build !race

package sweep

const raceDetector = false
