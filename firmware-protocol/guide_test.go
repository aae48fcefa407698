package protocol_test

import (
	"cmp"
	"fmt"
	"math"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
)

// The drawings of the guide are what their scripts make: the scripts refuse wires that touch.
func TestDrawingsAreWhatTheirScriptsMake(t *testing.T) {
	for _, name := range []string{"wiring", "mechanics"} {
		made, err := exec.Command(cmp.Or(os.Getenv("PYTHON"), "python3"), "-B", "drawings/"+name+".py").Output()
		if err != nil {
			t.Fatalf("%s.py: %v", name, err)
		}
		stored, err := os.ReadFile(name + ".svg")
		if err != nil {
			t.Fatal(err)
		}
		if string(made) != string(stored) {
			t.Errorf("%s.svg differs from what drawings/%s.py prints: make it again", name, name)
		}
	}
}

const (
	gravity = 9.81 // m/s²
	vcc     = 5.0
	low     = 0.3 * vcc // ATmega328P data sheet 8271H, page 300
	high    = 0.6 * vcc
	leak    = 1e-6  // A, the same sheet
	senseTo = 100e3 // ohm, R2
	series  = 100e3 // ohm, R6
	bleed   = 4.7e3 // ohm, R4 and R5
	storage = 100e-6
)

// divider is the sense of the motor supply with a resistor R3.
type divider float64

// at is the motor supply at which the pin, with its leakage to or from it, is at a voltage.
func (r3 divider) at(pin, leakage float64) float64 {
	ratio := float64(r3) / (senseTo + float64(r3))
	return (pin + leakage*(series+senseTo*ratio)) / ratio
}

func (r3 divider) present() float64 { return r3.at(high, leak) }
func (r3 divider) gone() float64    { return r3.at(low, -leak) }

// fall is the time in which C1, at a multiple of its value, falls through R4.
func fall(from, to, tolerance float64) float64 {
	return bleed * storage * tolerance * math.Log(from/to)
}

func tiltArcmin(pitch, lever float64) float64 { return math.Atan(pitch/lever) * 180 / math.Pi * 60 }

func grams(torque, lever float64) float64 { return torque / (gravity * lever) * 1000 }

// press is the force that two felt rings need for a torque.
func press(torque float64) float64 { return torque / (2 * 0.3 * (9 + 6.3) / 2 / 1000) }

// magnetMicrotesla is the field of the encoder's magnet on its axis.
func magnetMicrotesla(mm float64) float64 {
	return 2e-7 * magnetMoment() / math.Pow(mm/1000, 3) * 1e6
}

func magnetMoment() float64 { return 1.2 * math.Pi * 9 * 2.5 * 1e-9 / (4e-7 * math.Pi) }

// screwTorque is the power-screw formula of the guide, in mN·m, for newtons and millimetres.
func screwTorque(force, pitch, diameter, friction float64) float64 {
	return force * (pitch/(2*math.Pi) + friction*diameter/(2*math.Cos(math.Pi/6)))
}

// Each figure of the guide that follows from others is computed here from its inputs, and the
// guide must say what comes out.
func TestFiguresOfTheGuide(t *testing.T) {
	guide := flat(t, "BUILD-A-JIG.md")
	geared := 32 * 2 * 63.684
	for _, want := range []string{
		// how fine
		fmt.Sprintf("atan(0.45/10) = %.1f' a turn, so a microstep is %.1f'/3200 = %.3f'", tiltArcmin(.45, 10), tiltArcmin(.45, 10), tiltArcmin(.45, 10)/3200),
		fmt.Sprintf("360/3200 = %.4f degrees", 360.0/3200),
		fmt.Sprintf("each pulse turns %.1f degrees instead of %.4f, so that the blade turns %d times", 360.0/200, 360.0/3200, 3200/200),
		// the sense of the motor supply
		row("12 V", "47 kΩ", volts(divider(47e3).present()), volts(divider(47e3).gone()), seconds(fall(12, divider(47e3).gone(), 1.2))),
		row("24 V", "22 kΩ", volts(divider(22e3).present()), volts(divider(22e3).gone()), seconds(fall(24, divider(22e3).gone(), 1.2))),
		fmt.Sprintf("take %.1f W and bring C1 from 24 V to %.1f V in %.0f ms", .2*.2*10, divider(22e3).gone(),
			storage/2*(24*24-math.Pow(divider(22e3).gone(), 2))/(.2*.2*10)*1000),
		fmt.Sprintf("up to %.2f s more at 24 V (from 8.2 V), and up to %.2f s at 12 V (from 8.0 V)", fall(8.2, divider(22e3).gone(), 1.2), fall(8, divider(47e3).gone(), 1.2)),
		fmt.Sprintf("R6 lets %.0f uA at most into a board without supply; R5 takes those with %.2f V", (5.6-.6)/series*1e6, (5.6-.6)/series*bleed),
		fmt.Sprintf("the chip is good for %.1f V and more", 2.7+(16.0-10)/(20-10)*(4.5-2.7)),
		// current
		row("A4988", "VREF = 8 I R", fmt.Sprintf("%.2f V at 0.1 Ω, %.2f V at 0.068 Ω", 8*.2*.1, 8*.2*.068)),
		row("DRV8825", "VREF = 5 I R", fmt.Sprintf("%.2f V at 0.1 Ω", 5*.2*.1)),
		row("TMC2209", "VREF = 2.5 V · I (R + 0.02 Ω) / 0.325 V", fmt.Sprintf("%.2f V at 0.11 Ω", 2.5*.2*(.11+.02)/.325)),
		// torque
		fmt.Sprintf("5 N on M2 at u = 0.2 is %.1f mN·m", screwTorque(5, .4, 1.74, .2)),
		fmt.Sprintf("wants a force of %.0f, %.0f or %.0f N", press(.05), press(.10), press(.17)),
		fmt.Sprintf("0.05 N·m is %.0f g, 0.10 N·m is %.0f g, 0.17 N·m is %.0f g", grams(.05, .1), grams(.10, .1), grams(.17, .1)),
		// magnets and mechanics
		fmt.Sprintf("m = %.3f A·m²: %.1f mT at 30 mm, %.0f uT at 60 mm, %.0f uT at 100 mm, %.0f uT at the 168 mm", magnetMoment(), magnetMicrotesla(30)/1000, magnetMicrotesla(60), magnetMicrotesla(100), magnetMicrotesla(168)),
		fmt.Sprintf("99 mm of brass, 4 mm thick, weigh %.0f g", math.Pi*.2*.2*9.9*8.5),
		fmt.Sprintf("0.1 mm of play 4 mm from the axis, %.1f degrees", math.Atan(.1/4)*180/math.Pi),
		// the geared motor
		fmt.Sprintf("32 · 2 · 63.684 = %.1f half steps a turn of the screw, %.3f' each", geared, tiltArcmin(.45, 10)/geared),
		fmt.Sprintf("60 degrees/s are %.0f half steps/s.", geared/6),
		fmt.Sprintf("680/0.1 = %.0f half steps/s², %.0f degrees/s² at the screw", 680/.1, 680/.1*360/geared),
		// the line and the clock
		fmt.Sprintf("117,%d baud where 115,200 are meant (16 MHz over 136), %.1f %%", 16_000_000/136-117_000, (16e6/136/115200-1)*100),
		fmt.Sprintf("%.1f million motions until the 100,000 writes", 42*100_000/2/1e6), // MEMORY_SLOTS of memory.h, each byte twice in a round
		fmt.Sprintf("71 min %.0f s", math.Pow(2, 32)/1e6-71*60),
	} {
		if !strings.Contains(guide, want) {
			t.Errorf("the guide does not say %q", want)
		}
	}
	for _, torque := range []string{"0.05 N·m", "0.10 N·m", "0.17 N·m"} {
		var nm float64
		if _, err := fmt.Sscan(torque, &nm); err != nil {
			t.Fatal(err)
		}
		if drawing := flat(t, "mechanics.svg"); !strings.Contains(drawing, fmt.Sprintf(">%.0f g<", grams(nm, .1))) || !strings.Contains(drawing, ">"+torque+"<") {
			t.Errorf("mechanics.svg does not have %s as %.0f g", torque, grams(nm, .1))
		}
	}
}

// The formula of the TMC2209 gives the currents of its data sheet's table (rev. 1.03, page 49).
func TestCurrentOfTheTMC2209(t *testing.T) {
	for ohm, want := range map[float64]float64{1: .23, .82: .27, .75: .30, .68: .33, .5: .44, .47: .47, .39: .56, .33: .66, .27: .79,
		.22: .96, .18: 1.15, .15: 1.35, .12: 1.64, .1: 1.92, .075: 2.4} {
		peak := .325 / (ohm + .02)                                              // at VREF = 2.5 V
		if rms := peak / math.Sqrt2; math.Abs(rms-want) > max(.006, .01*want) { // its figures are rounded
			t.Errorf("%v ohm: %.3f A rms; the data sheet has %.2f", ohm, rms, want)
		}
	}
}

// The coupling's torques are half of the softest class; the sum of the prices is that of its rows.
func TestTablesOfTheGuide(t *testing.T) {
	guide := flat(t, "BUILD-A-JIG.md")
	threads := regexp.MustCompile(`\| M[\d.]+ \| ([\d.]+) N·m \| [\d.]+ N·m \| ([\d.]+) N·m \|`).FindAllStringSubmatch(guide, -1)
	if len(threads) != 3 {
		t.Fatalf("%d threads", len(threads))
	}
	for _, row := range threads {
		var class, slip float64
		_, _ = fmt.Sscan(row[1], &class)
		_, _ = fmt.Sscan(row[2], &slip)
		if slip <= 0 || slip > class/2 {
			t.Errorf("%s: slips at more than half", row[0])
		}
	}
	var least, most int
	prices := regexp.MustCompile(`\| (\d+)(?: to (\d+))? \|`).FindAllStringSubmatch(guide, -1)
	for _, p := range prices {
		var lo, hi int
		_, _ = fmt.Sscan(p[1], &lo)
		_, _ = fmt.Sscan(cmp.Or(p[2], p[1]), &hi)
		least, most = least+lo, most+hi
	}
	if want := fmt.Sprintf("That is %d to %d in all.", least, most); len(prices) < 15 || !strings.Contains(guide, want) {
		t.Errorf("%d prices; the guide does not say %q", len(prices), want)
	}
}

func volts(v float64) string     { return fmt.Sprintf("%.1f V", v) }
func seconds(s float64) string   { return fmt.Sprintf("%.2f s", s) }
func row(cells ...string) string { return "| " + strings.Join(cells, " | ") + " |" }
func flat(t *testing.T, file string) string {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(string(text)), " ")
}
