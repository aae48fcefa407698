#!/usr/bin/env python3
"""Prints wiring.svg: how board, driver, motor supply and inputs of a jig are joined."""
from sheet import Sheet

s = Sheet(1280, 1190, "Wiring of a jig", "Wiring of a jig: board, driver, motor supply with fuse and cut-off, inputs, encoder")

# ---- board and computer

s.box(460, 110, 200, 590, round=6)
s.lines(560, 136, ["ATmega328P board", ], style="title", at="middle")
s.text(560, 155, "16 MHz, 5 V, USB serial", at="middle")
s.text(560, 174, "label (port)", at="middle")
s.box(460, 20, 200, 52, round=6)
s.text(560, 42, "Computer", "title", "middle")
s.text(560, 60, "runs headtrue", at="middle")
s.wire("USB", (560, 72), (560, 110), style="power")
s.text(570, 96, "USB: link, 5 V of the logic")


def pin(side, y, label, port=""):
    x, inward, at = (460, 1, "start") if side == "left" else (660, -1, "end")
    s.circle(x, y, 3, "part")
    s.text(x + 8 * inward, y + 4, f"{label} ({port})" if port else label, "pin", at)


# ---- inputs

for y, name, note, label, port, net, style in (
        (210, "STOP button", "normally closed", "A0", "PC0", "stop", "part"),
        (280, "Limit, low end", "normally closed", "A1", "PC1", "low", "option"),
        (350, "Limit, high end", "normally closed", "A2", "PC2", "high", "option"),
        (420, "Stall, from the driver", "high when it stalls", "A3", "PC3", "stall", "option")):
    s.box(120, y - 26, 210, 52, style, 6)
    s.text(225, y - 4, name, "title", "middle")
    s.text(225, y + 15, note, at="middle")
    s.wire(net, (330, y), (460, y))
    pin("left", y, label, port)
    if net != "stall":
        s.wire("G", (120, y), (70, y))
s.box(120, 478, 210, 150, "option", 6)
s.lines(135, 500, ["Shaft encoder"], style="title")
s.lines(135, 518, ["AS5600 kind,", "on the motor's", "rear shaft;", "its DIR to", "its own GND"], 16)
for y, name, label, port in ((500, "SDA", "A4", "PC4"), (555, "5 V", "5V", ""), (610, "SCL", "A5", "PC5")):
    s.text(322, y + 4, name, "pin", "end")
    s.wire(name, (330, y), (460, y))
    pin("left", y, label, port)
for upper, lower, name, net in ((500, 555, "R7", "SDA"), (555, 610, "R8", "SCL")):
    end, other = (upper, "5 V") if net == "SDA" else (lower, "5 V")
    s.dot(395, end)
    s.wire(net, (395, end), (395, end + (10 if net == "SDA" else -10)))
    s.wire(other, (395, 555), (395, 555 + (-10 if net == "SDA" else 10)))
    s.resistor(395, (upper + lower) / 2, name, "4.7 kΩ", side=1)
s.dot(395, 555)
s.text(128, 622, "GND", "pin")
s.wire("G", (120, 618), (70, 618))
s.wire("G", (70, 210), (70, 665))
for y in (280, 350, 618):
    s.dot(70, y)
s.wire("G", (70, 665), (460, 665))
s.wire("G", (70, 665), (70, 690))
s.dot(70, 665)
s.ground(70, 690)
s.text(88, 702, "G")
pin("left", 665, "GND")

# ---- driver and its signals

s.box(930, 130, 230, 400, round=6)
s.text(1045, 156, "Step driver", "title", "middle")
for y, name in ((195, "STEP"), (230, "DIR"), (270, "L: logic"), (340, "ENABLE"), (430, "RESET"), (460, "SLEEP"), (495, "MS straps")):
    s.circle(930, y, 3, "part")
    s.text(938, y + 4, name, "pin")
s.wire("step", (660, 195), (930, 195))
pin("right", 195, "D6", "PD6")
s.wire("dir", (660, 230), (930, 230))
pin("right", 230, "D7", "PD7")
s.wire("board enable", (660, 340), (735, 340))
pin("right", 340, "D8", "PB0")
# the transistor, gate below
s.circle(757, 340, 30, "thin")
s.shape([(735, 340), (743, 340), (743, 347)], "wire")
s.shape([(771, 347), (771, 340), (779, 340)], "wire")
s.shape([(737, 348), (749, 348)], "wire")
s.shape([(751, 348), (763, 348)], "wire")
s.shape([(765, 348), (777, 348)], "wire")
s.shape([(739, 354), (775, 354)], "wire")
s.text(672, 304, "Q1, N channel")
s.text(738, 334, "s", "pin", "middle")
s.text(776, 334, "d", "pin", "middle")
s.text(763, 367, "g", "pin")
s.wire("enable", (779, 340), (930, 340))
s.wire("5V", (757, 354), (757, 410))
s.wire("5V", (660, 410), (757, 410))
pin("right", 410, "5V")
s.dot(710, 410)
s.wire("5V", (710, 410), (710, 425))
s.resistor(710, 442, "R5", "4.7 kΩ")
s.wire("G", (710, 459), (710, 475))
s.ground(710, 475)
s.text(726, 488, "G")
s.wire("5V", (757, 410), (790, 410))
s.dot(757, 410)
s.flag(790, 410, "5V")
s.dot(860, 340)
s.wire("enable", (860, 340), (860, 322))
s.resistor(860, 305, "R1", "10 kΩ")
s.wire("L", (860, 288), (860, 270), (930, 270))
s.wire("L", (860, 270), (830, 270))
s.dot(860, 270)
s.flag(830, 270, "L", left=True)
s.wire("S", (930, 430), (900, 430), (900, 445))
s.wire("S", (930, 460), (900, 460), (900, 445))
s.wire("S", (900, 445), (885, 445))
s.dot(900, 445)
s.flag(885, 445, "S", left=True)
s.wire("M", (930, 495), (885, 495))
s.flag(885, 495, "M", left=True)

# ---- motor

s.box(930, 580, 230, 60, round=6)
s.text(1045, 605, "Stepper", "title", "middle")
s.text(1045, 624, "200 steps a turn, bipolar", at="middle")
for n, x in enumerate((960, 1000, 1090, 1130)):
    s.wire(f"winding {n}", (x, 530), (x, 580), style="power")
    s.text(x, 524, ("1A", "1B", "2A", "2B")[n], "pin", "middle")
s.text(1045, 552, "a winding", at="middle")
s.text(1045, 568, "each pair", at="middle")

# ---- motor supply

s.box(60, 770, 180, 130, round=6)
s.text(150, 800, "Motor supply", "title", "middle")
s.lines(150, 822, ["12 or 24 V DC,", "current limited,", "apart from the deck"], 17, at="middle")
s.text(234, 794, "+", "title", "end")
s.text(234, 884, "-", "title", "end")
s.wire("raw", (240, 790), (290, 790), style="power")
s.box(290, 779, 60, 22)
s.shape([(290, 790), (350, 790)], "wire")
s.text(320, 772, "F1 1 A, slow", at="middle")
s.wire("fused", (350, 790), (400, 790), style="power")
s.box(400, 764, 150, 52, "cut")
s.text(475, 786, "S1 CUT-OFF", "title", "middle")
s.text(475, 804, "within reach", at="middle")
s.wire("VM", (550, 790), (1200, 790), (1200, 220), (1160, 220), style="power")
s.wire("G", (240, 880), (1240, 880), (1240, 180), (1160, 180), style="power")
s.text(1152, 184, "GND", "pin", "end")
s.text(1152, 224, "VM", "pin", "end")
s.text(560, 906, "return of the motor supply: its own thick wire from the driver's GND, not through the board")
for x, what in ((990, "R4"), (1100, "C1")):
    s.dot(x, 790)
    s.dot(x, 880)
    s.wire("VM", (x, 790), (x, 818 if what == "R4" else 828))
    s.wire("G", (x, 880), (x, 852 if what == "R4" else 838))
s.resistor(990, 835, "R4", "4.7 kΩ, 0.5 W", side=-1)
s.shape([(1084, 828), (1116, 828)], "power")
s.shape([(1084, 838), (1116, 838)], "power")
s.text(1074, 826, "+", "title", "middle")
s.lines(1122, 828, ["C1 100 µF,", "50 V, at the", "driver"], 16)
s.wire("G", (1240, 880), (1240, 905))
s.dot(1240, 880)
s.ground(1240, 905)
s.text(1222, 916, "G", at="end")
# the sense of the supply
s.dot(790, 790)
s.wire("VM", (790, 790), (790, 767))
s.resistor(790, 750, "R2", "100 kΩ", side=-1)
s.wire("sense", (790, 733), (790, 660))
s.wire("sense", (790, 660), (742, 660))
s.resistor(725, 660, "R6", "100 kΩ", level=True)
s.wire("D5", (708, 660), (660, 660))
pin("right", 660, "D5", "PD5")
s.dot(790, 660)
s.wire("sense", (790, 660), (850, 660))
s.dot(850, 660)
s.wire("sense", (850, 660), (850, 680))
s.resistor(850, 697, "R3", "see below")
s.wire("G", (850, 714), (850, 735))
s.ground(850, 735)
s.text(866, 748, "G")
s.wire("sense", (850, 660), (950, 660), (950, 680))
s.shape([(938, 700), (962, 700), (950, 680)], "part", True)
s.shape([(934, 684), (938, 680), (962, 680), (966, 676)], "line")
s.wire("G", (950, 700), (950, 735))
s.ground(950, 735)
s.text(966, 748, "G")
s.lines(972, 692, ["Z1 5.6 V", "Zener diode"], 16)

# ---- what depends on the driver

s.lines(40, 952, [
    "A black dot joins wires. No two wires of this drawing cross. A flag goes on at each flag of its name. G is one net: join it at the driver's GND.",
    "Dashed parts may be left out. R3 is 47 kΩ for a 12 V supply and 22 kΩ for 24 V."], 19)
s.table(40, 990, [150, 270, 330, 250, 200], [
    ("driver chip", "L: logic supply of the driver", "S: RESET and SLEEP", "M: 1/16 step", "M left open"),
    ("A4988", "VDD, from 5V of the board", "join both, and to VDD", "MS1, MS2, MS3 to L", "full steps: 16 x"),
    ("DRV8825", "V3P3OUT, made by the chip", "both to 5V of the board, not to L", "MODE2 to L, others open", "full steps: 16 x"),
    ("TMC2209", "VIO, from 5V of the board", "it has none", "MS1 and MS2 to L", "1/8 steps: 2 x"),
])
s.lines(40, 1112, [
    "Q1: 2N7000 or the like (s source, d drain, g gate). It lets D8 pull ENABLE down and keeps a board without USB from pulling at it: then R1 holds ENABLE high, and the motor is off.",
    "R5 empties the board's 5V once USB is out. R4 empties C1 once the cut-off is used. R6 lets less than 0.1 mA into a board without supply.",
    "If a module brings V3P3OUT to no pin, use any 3.3 V regulator that is fed from VM behind the cut-off."], 19)

if __name__ == "__main__":
    print(s.svg(), end="")
