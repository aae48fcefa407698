package figures

import (
	"fmt"
	"math"
	"strings"
)

// Coverage is the ratio of the interval that people read to the standard uncertainty: 2 gives
// about 95 % (JCGM 100:2008, G.6.6).
const Coverage = 2

// PlusMinus shows an interval of 95 % in a unit, such as " ±0.4'"; it is empty if the standard
// uncertainty is unknown.
func PlusMinus(sd *float64, unit string) string {
	if sd == nil {
		return ""
	}
	u := Coverage * *sd
	return fmt.Sprintf(" ±%.*f%s", decimals(u), u, unit)
}

// SayHead says where the head was found and where it stands now, as a part of a sentence.
func (f Figures) SayHead() string {
	was := ""
	if f.FoundOffArcmin != nil {
		was = "it was " + Arcmin(f.FoundOffArcmin) + " off and "
	}
	if f.LeftOffArcmin != nil {
		return was + "is now " + Arcmin(f.LeftOffArcmin) + " off," + PlusMinus(f.LeftOffSDArcmin, "'") + " (95 %)"
	}
	return was + "now stands at the optimum," + PlusMinus(f.OptimumSDArcmin, "'") + " (95 %)"
}

// SayTreble says how much the treble has gained, as a part of a sentence; toneHz is the tone's
// nominal frequency, and 0 means a programme. It is empty if the gain is unknown.
func (f Figures) SayTreble(toneHz float64) string {
	if f.TrebleGainDB == nil {
		return ""
	}
	what, more, less := "the treble", "stronger", "weaker"
	if toneHz > 0 {
		what, more, less = Kilohertz(toneHz), "louder", "softer"
	}
	if *f.TrebleGainDB < 0 {
		more = less
	}
	return fmt.Sprintf("%s is %.1f dB %s", what, math.Abs(*f.TrebleGainDB), more)
}

// SayRunning says how the tape ran, in two sentences; it is empty if the run had no tone.
func (f Figures) SayRunning() (speed, flutter string) {
	if f.FlutterSeconds == nil {
		return "", ""
	}
	speed, flutter = "not measured", fmt.Sprintf("not measured: %.0f s of a steady tone with the screw at rest, 10 s are needed", math.Floor(*f.FlutterSeconds))
	if f.SpeedPercent != nil {
		speed = Signed(f.SpeedPercent, 2, " %") + PlusMinus(f.SpeedSDPercent, " %")
	}
	if f.FlutterPercent != nil {
		flutter = fmt.Sprintf("%.2f %% weighted peak (IEC 60386), from %.0f s", *f.FlutterPercent, math.Floor(*f.FlutterSeconds))
	}
	return speed, flutter
}

// Kilohertz shows a frequency, such as 10 kHz or 315 Hz.
func Kilohertz(hz float64) string {
	if hz < 1000 {
		return fmt.Sprintf("%.4g Hz", hz)
	}
	return fmt.Sprintf("%.4g kHz", hz/1000)
}

// decimals keeps two digits of an uncertainty below 1, and one of a larger one.
func decimals(u float64) int {
	switch {
	case u < 0.095:
		return 2
	case u < 9.95:
		return 1
	}
	return 0
}

// Arcmin shows a tilt without sign, such as 19.7'; -, if unknown.
func Arcmin(tilt *float64) string {
	if tilt == nil {
		return "-"
	}
	return fmt.Sprintf("%.1f'", math.Abs(*tilt))
}

// Signed shows a number with its sign and a unit; zero has no sign, and unknown is -.
func Signed(x *float64, decimals int, unit string) string {
	if x == nil {
		return "-"
	}
	s := fmt.Sprintf("%+.*f", decimals, *x)
	if strings.Trim(s, "+-0.") == "" {
		s = s[1:]
	}
	return s + unit
}

// Turn describes an angle of the screw as a hand would turn it: as a number of eighths of a
// turn, with the degrees; without the sign.
func Turn(deg float64) string {
	deg = math.Abs(deg)
	eighths := int(math.Round(deg / 45))
	rounded := fmt.Sprintf("%.0f degrees", deg)
	if deg < 1.5 {
		rounded = "1 degree"
	}
	if deg < 30 {
		return rounded
	}
	about := ""
	if math.Abs(deg-45*float64(eighths)) > 5 {
		about = "about "
	}
	return fmt.Sprintf("%s%s (%s)", about, turns(eighths/8, parts[eighths%8]), rounded)
}

// turns names whole turns and a part of one, which may be empty.
func turns(whole int, part string) string {
	switch {
	case whole == 0:
		return part + " of a turn"
	case whole == 1 && part == "":
		return "one turn"
	case part == "":
		return fmt.Sprintf("%d turns", whole)
	case whole == 1:
		return "one turn and " + part
	}
	return fmt.Sprintf("%d turns and %s", whole, part)
}

var parts = [8]string{"", "an eighth", "a quarter", "three eighths", "half", "five eighths", "three quarters", "seven eighths"}
