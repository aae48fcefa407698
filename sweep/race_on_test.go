//go:build race

package sweep

// raceDetector says that the tests run some ten times slower; tests over many
// seeds then take a few, since the plain run takes them all.
const raceDetector = true
