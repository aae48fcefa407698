"""The output of a bent gap of uneven sensitivity, by scipy's quadrature and on its
own terms: no strips, no closed form.

Each line of standard input: a list of {"bow_um", "taper_percent", "skew_arcmin", "contact_db",
"width_mm", "centres_mm", "tilts_arcmin", "hz"}; skew_arcmin is the right gap's
azimuth less the left one's, contact_db the dB per arcmin at 10 kHz. Standard output,
for each: {"level_db": [[left, right], ...] for each tilt, against a straight gap in
line, contact left out; "late_us": how much later the right channel is at each tilt;
"brightest_arcmin", "along_arcmin"}.
"""
import json
import sys

import numpy as np
from scipy import integrate, optimize

SPEED = 47.6  # mm/s
ARCMIN = np.pi / (180 * 60)


def gap(case, side):
    """Place y in mm off the middle, sensitivity, and lateness in mm at a tilt of the
    right (side 1) or left gap (side -1), each over s from -1 to 1."""
    middle, half = side * case["centres_mm"] / 2, case["width_mm"] / 2
    low = 1 - case["taper_percent"] / 100
    skew = side * case["skew_arcmin"] / 2

    def sensitivity(s):
        return (1 + (low - 1) * (s + 1) / 2) / ((1 + low) / 2)

    def late(s, tilt):
        return (middle * np.tan(tilt * ARCMIN) + s * half * np.tan((tilt + skew) * ARCMIN)
                + case["bow_um"] / 1000 * s ** 2)

    return sensitivity, late


def output(case, side, tilt):
    sensitivity, late = gap(case, side)
    k = 2 * np.pi * case["hz"] / SPEED
    parts = [integrate.quad(lambda s: 0.5 * sensitivity(s) * f(k * late(s, tilt)), -1, 1, epsabs=1e-10, limit=200)[0]
             for f in (np.cos, np.sin)]
    return parts[0] - 1j * parts[1]


def brightest(case):
    def lost(tilt):
        contact = 10 ** (case["contact_db"] * tilt * case["hz"] / 1e4 / 10)
        return -contact * sum(abs(output(case, side, tilt)) ** 2 for side in (-1, 1))

    return optimize.minimize_scalar(lost, bounds=(-8, 8), method="bounded", options={"xatol": 1e-6}).x


def along(case):
    """The tilt at which the least-squares line through the gap is no later at one
    edge than at the other, mean of both gaps."""
    s = np.linspace(-1, 1, 20001)
    tilts = []
    for side in (-1, 1):
        _, late = gap(case, side)
        tilts.append(optimize.brentq(lambda tilt: np.polyfit(s, late(s, tilt) - side * case["centres_mm"] / 2 * np.tan(tilt * ARCMIN), 1)[0], -30, 30))
    return float(np.mean(tilts))


def answer(case):
    both = [[output(case, side, tilt) for side in (-1, 1)] for tilt in case["tilts_arcmin"]]
    return {
        "level_db": [[20 * np.log10(abs(z)) for z in pair] for pair in both],
        "late_us": [np.angle(l / r) / (2 * np.pi * case["hz"]) * 1e6 for l, r in both],
        "brightest_arcmin": brightest(case), "along_arcmin": along(case),
    }


if __name__ == "__main__":
    for line in sys.stdin:
        print(json.dumps([answer(case) for case in json.loads(line)]), flush=True)
