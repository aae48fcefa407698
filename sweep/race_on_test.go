//go:build race

package sweep

// raceDetector is true if the tests run some ten times slower; tests over many seeds then
// take a few, because the plain run takes them all.
const raceDetector = true
