package sweep

// AzimuthPower is the power that a tilt leaves of a frequency, 1 at no tilt; what
// bounds on a run of this package are computed from.
func AzimuthPower(tiltArcmin, hz float64) float64 { return azimuthPower(tiltArcmin, hz) }
