#!/usr/bin/env python3
"""Prints ramp.h: the intervals of an even acceleration from rest.

Step n comes when x = a t^2 / 2 = n, at t = sqrt(2 n / a); the n-th interval is the
time from there to the next step. Times are rounded, not intervals, so that nothing
adds up."""
import pathlib, re, sys
from math import isqrt

config = (pathlib.Path(__file__).parent / "config.h").read_text()
value = lambda name: int(re.search(rf"#define {name} (\d+)", config)[1])
hz, speed, accel = value("TICK_HZ"), value("MAX_SPEED"), value("ACCEL")
steps = speed * speed // (2 * accel)
# the nearest whole number to hz sqrt(2 n / a), without floating point
ticks = [(isqrt(8 * n * hz * hz // accel) + 1) // 2 for n in range(steps + 1)]
intervals = [after - before for before, after in zip(ticks, ticks[1:])]
if max(intervals) > 0xFFFF:
    sys.exit("the first interval is too long for 16 bits")
print("/* Made by ramp.py of config.h. */")
print("#ifndef RAMP_H\n#define RAMP_H\n")
print("/* what it was made for */")
print(f"#define RAMP_TICK_HZ {hz}UL\n#define RAMP_MAX_SPEED {speed}U\n#define RAMP_ACCEL {accel}UL\n")
print(f"#define RAMP_STEPS {steps}U\n")
print("#define RAMP_INTERVALS \\")
rows = [", ".join(map(str, intervals[i:i + 12])) for i in range(0, steps, 12)]
print(", \\\n".join("    " + row for row in rows))
print("\n#endif")
