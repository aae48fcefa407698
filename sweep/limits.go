package sweep

// What bounds on a run of this package are computed from: how a programme's
// treble is taken to wander by itself, and the power that a tilt leaves of a
// frequency, (sin x / x)^2.
const (
	ProgrammeSlowDB      = programmeDriftDB
	ProgrammeSlowSeconds = programmeDriftSeconds
)

// AzimuthPower is the power that a tilt leaves of a frequency, 1 at no tilt.
func AzimuthPower(tiltArcmin, hz float64) float64 { return azimuthPower(tiltArcmin, hz) }
