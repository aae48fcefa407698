#!/usr/bin/env python3
"""Prints mechanics.svg: stand, motor, coupling and blade of a jig, with dimensions in
millimetres, and how the coupling's slip torque is measured."""
from math import cos, radians, sin

from sheet import Sheet

s = Sheet(1360, 1150, "Mechanics of a jig", "Mechanics of a jig: stand, motor, slip coupling, blades, and the measurement of the slip torque")

# ---- the whole, 2.2 pixels a millimetre, heights from the tip of the blade

MM, TIP, AXIS, COLUMN = 2.2, 520, 400, 140


def up(mm):
    return TIP - MM * mm


def part(width, lo, hi, style="metal"):
    s.box(AXIS - MM * width / 2, up(hi), MM * width, MM * (hi - lo), style)


def whole():
    s.text(40, 40, "The whole, from the side (mm)", "head")
    part(4, 4, 95)
    s.shape([(AXIS - 4.4, up(4)), (AXIS - 2.6, TIP), (AXIS + 2.6, TIP), (AXIS + 4.4, up(4))], "metal", True)
    for width, lo, hi, style in ((12, 82, 97, "metal"), (26, 97, 100, "metal"), (18, 100, 102, "soft"), (18, 102, 104, "metal"),
                                 (18, 104, 106, "soft"), (26, 106, 108, "metal"), (12, 108, 119, "metal"), (5, 119, 130, "metal"),
                                 (28, 130, 162, "part"), (4, 162, 168, "metal"), (6, 168, 170.5, "soft")):
        part(width, lo, hi, style)
    s.box(AXIS - 24, up(174.5), 48, 5, "metal")  # the encoder's board
    s.text(AXIS, up(148), "motor", "title", "middle")
    # stand
    s.box(COLUMN, up(130), AXIS + 31 - COLUMN, 11, "metal")
    s.shape([(AXIS, up(190)), (AXIS, TIP + 36)], "axis")
    s.box(COLUMN - 13, up(185), 26, up(-50) - up(185), "metal")
    s.box(COLUMN - 24, up(137), 48, 34, "metal")
    s.box(COLUMN - 90, up(-50), 220, 22, "metal")
    s.text(COLUMN + 20, up(-50) + 16, "base, 1 kg or more", at="middle")
    # deck
    s.box(300, TIP + 62, 330, 14, "metal")
    s.text(465, TIP + 94, "the deck's chassis; the stand stands beside it", at="middle")
    s.box(350, TIP + 26, 130, 10, "metal")
    s.box(AXIS - 10, TIP - 1, 20, 12, "metal")
    s.box(AXIS - 3.4, TIP + 11, 6.8, 62, "metal")
    for n in range(4):
        s.shape([(AXIS - 10, TIP + 38 + 6 * n), (AXIS + 10, TIP + 41 + 6 * n)])
    s.box(455, TIP - 20, 40, 46, "part")
    s.text(475, TIP + 7, "head", at="middle")
    # dimensions
    s.rays(((495, TIP), (735, TIP)), ((AXIS + 31, up(130)), (665, up(130))), ((AXIS + 7, up(168)), (735, up(168))), ((AXIS + 13, up(82)), (595, up(82))))
    s.upright(588, up(82), TIP, "82")
    s.upright(658, up(130), TIP, "130")
    s.upright(728, up(168), TIP, "168")
    s.across(COLUMN, AXIS, up(183), "118")
    s.upright(COLUMN - 50, up(185), up(-50), "235", side=-1)
    s.rays(((COLUMN - 13, up(185)), (COLUMN - 58, up(185))))
    s.across(AXIS - MM * 14, AXIS + MM * 14, up(136), "28")
    s.call(470, up(180), (AXIS + 6, up(169)), "encoder magnet, on the rear shaft")
    s.call(470, up(157), (AXIS + 22, up(157)), "M2 screws from below the arm")
    s.call(330, up(113), (AXIS - 12, up(113)), "slip coupling", "end")
    s.call(340, up(60), (AXIS - 4, up(60)), ["blade shaft, Ø4 brass,", "slides 8 up and down"], "end")
    s.call(330, up(18), (AXIS - 3, up(2)), ["blade, rests by", "its own weight"], "end")
    s.call(540, TIP + 44, (AXIS + 9, TIP + 50), "azimuth screw and spring")
    s.lines(470, up(138) - 8, ["motor to head 100 or more,", "magnet to head 80 or more"], 17)


# ---- the coupling, 7 pixels a millimetre

C, X, TOP = 7, 960, 80


def coupling():
    def c(width, lo, hi, style="metal", hole=0):
        if hole == 0:
            s.box(X - C * width / 2, TOP + C * lo, C * width, C * (hi - lo), style)
            return
        for left in (-width / 2, hole / 2):
            s.box(X + C * left, TOP + C * lo, C * (width - hole) / 2, C * (hi - lo), style)

    s.text(800, 40, "Slip coupling, cut (mm)", "head")
    c(5, 0, 12)
    c(12, 3, 18, hole=5)
    c(18, 18, 20)
    c(18, 16, 18, "soft", hole=12.6)
    c(18, 20, 22, "soft", hole=6)
    c(26, 14, 16, hole=12.6)
    c(26, 22, 25)
    c(12, 25, 40, hole=4.2)
    c(4, 27, 50)
    for side in (-1, 1):
        x = X + side * C * 11
        s.box(x - 7, TOP + C * 6.5, 14, 11, "metal")
        s.box(x - 3.5, TOP + C * 8, 7, C * 18.5, "metal")
        for n in range(4):
            s.shape([(x - 9, TOP + C * (9 + 1.3 * n)), (x + 9, TOP + C * (9.6 + 1.3 * n))])
        s.box(X + side * C * 4.05 - C * 1.95, TOP + C * 28, C * 3.9, C * 8, "part")
    c(11.6, 31, 32.5)
    s.shape([(X, 66), (X, TOP + C * 53)], "axis")
    s.call(1090, 92, (X + 10, 88), "motor shaft Ø5, clamp screw M3")
    s.call(1090, 122, (X + C * 11 + 8, 135), ["two or three M2 screws with springs:", "their heads set the torque"])
    s.call(1090, TOP + C * 12, (X + C * 12.5, TOP + C * 15), ["pressure ring, bore 12.6; with the", "screws it turns with the lower hub"])
    s.call(1090, TOP + C * 18.6, (X + C * 8.5, TOP + C * 19), "disc of the upper hub, Ø18")
    s.call(1090, TOP + C * 22, (X + C * 8.5, TOP + C * 21), "two felt or leather rings, Ø18")
    s.call(1090, TOP + C * 26, (X + C * 12.4, TOP + C * 24.2), "lower hub with flange")
    s.call(1090, TOP + C * 31.7, (X + C * 5.4, TOP + C * 31.7), ["pin Ø1.5 through the blade", "shaft, in a slot 1.6 x 8"])
    s.call(1090, TOP + C * 44, (X + C * 1.9, TOP + C * 44), "blade shaft Ø4 in a bore Ø4.1")
    for lo, hi, words, x in ((3, 18, "15", 30), (14, 25, "", 60), (25, 40, "15", 30)):
        s.upright(X - C * 13 - x, TOP + C * lo, TOP + C * hi, words, side=-1)
    s.text(X - C * 13 - 66, TOP + C * 19.5 + 5, "11", at="end")
    for at, x in ((3, 36), (14, 66), (18, 36), (25, 66), (40, 36)):
        s.rays(((X - C * 6, TOP + C * at), (X - C * 13 - x, TOP + C * at)))
    s.across(X - C * 13, X + C * 13, TOP + C * 53, "26", above=False)
    s.rays(((X - C * 13, TOP + C * 25), (X - C * 13, TOP + C * 54)), ((X + C * 13, TOP + C * 25), (X + C * 13, TOP + C * 54)))
    s.lines(800, 505, [
        "The pin's play, 0.1 at 4 from the axis, is 1.4 degrees of backlash.",
        "Below the motor only brass, bronze, titanium, plastic; springs of bronze.",
    ], 19)


# ---- blades

def blades():
    s.text(800, 570, "Blades, from the front and below (mm)", "head")
    for n, name in enumerate(("slot", "cross, type H", "hexagon socket")):
        x = 850 + 150 * n
        s.text(x, 598, name, "title", "middle")
        s.box(x - 22, 610, 44, 40, "metal")
        s.circle(x, 745, 22, "part")
        if n == 0:
            s.shape([(x - 22, 650), (x - 20, 662), (x - 20, 690), (x + 20, 690), (x + 20, 662), (x + 22, 650)], "metal", True)
            s.box(x - 20, 742, 40, 6, "soft")
            s.across(x - 20, x + 20, 782, "w", above=False)
            s.text(x + 30, 750, "t")
        elif n == 1:
            s.shape([(x - 22, 650), (x - 7, 686), (x, 690), (x + 7, 686), (x + 22, 650)], "metal", True)
            s.box(x - 3, 727, 6, 36, "soft")
            s.box(x - 18, 742, 36, 6, "soft")
            s.box(x - 2.3, 742.7, 4.6, 4.6, "soft")
        else:
            s.box(x - 13, 650, 26, 40, "metal")
            s.shape([(x + 15 * sin(radians(60 * k)), 745 + 15 * cos(radians(60 * k))) for k in range(6)], "soft", True)
            s.across(x - 13, x + 13, 782, "s", above=False)
    s.table(800, 815, [70, 110, 100, 150], [
        ("screw", "slot w x t", "cross", "hexagon s"),
        ("M2", "3.2 x 0.45", "size 0", "1.5 (0.9)"),
        ("M2.5", "3.8 x 0.55", "size 1", "2.0 (1.3)"),
        ("M3", "4.5 x 0.7", "size 1", "2.5 (1.5)"),
    ])
    s.lines(800, 935, [
        "w is less than the head; t is 0.05 to 0.1 less than the slot. In brackets:",
        "screws without a head. A hexagon outside is turned by a sleeve: s 4, 5, 5.5.",
        "Faces parallel, no chamfer: a wedge climbs out. Measure your screw first.",
        "Slot and hexagon by ISO 1207 and 4762, 4026, from memory; cross by ISO 7045."], 19)


# ---- slip torque

def slip():
    y, x = 890, 140
    s.text(40, 690, "Slip torque, by a lever and a kitchen scale", "head")
    s.lines(40, 718, [
        "T = m g L, with g = 9.81 m/s². Clamp the lever to the lower hub, lay its tip on the scale,",
        "level, at a right angle, and set the scale to zero. The greatest m before it slips counts:",
        "51 g at 100 mm are 0.05 N·m. Ten slips first, then five readings; keep the largest."], 20)
    s.circle(x, y, 56, "metal")
    s.circle(x, y, 30, "part")
    s.shape([(x, y - 12), (x + 310, y - 12), (x + 310, y + 30), (x + 304, y + 42), (x + 298, y + 30), (x + 298, y + 12), (x, y + 12)], "part", True)
    s.circle(x, y, 4)
    s.box(x + 250, y + 42, 108, 10, "metal")
    s.box(x + 235, y + 52, 138, 60, "part")
    s.text(x + 304, y + 88, "scale: m", "title", "middle")
    s.shape([(x - 74 * cos(radians(a)), y - 74 * sin(radians(a))) for a in range(40, 136, 5)])
    s.arrow(x + 54, y - 54, 0.71, 0.71)
    s.text(x + 70, y - 52, "turn the upper hub slowly by hand, until it slips")
    s.rays(((x, y), (x, y + 145)), ((x + 304, y + 42), (x + 304, y + 145)))
    s.across(x, x + 304, y + 138, "L = 100")
    s.rays(((80, y + 76), (x - 20, y + 22)))
    s.lines(45, y + 92, ["lower hub,", "axis level"], 16)
    s.table(528, y + 10, [65, 95, 85], [
        ("screw", "slips at", "m at L"),
        ("M2", "0.05 N·m", "51 g"),
        ("M2.5", "0.10 N·m", "102 g"),
        ("M3", "0.17 N·m", "173 g"),
    ])


whole()
coupling()
blades()
slip()
s.text(40, 1110, "Nobody has built one to this drawing and reported back yet. Dimensions are a start; what is said in words must hold.")

if __name__ == "__main__":
    print(s.svg(), end="")
