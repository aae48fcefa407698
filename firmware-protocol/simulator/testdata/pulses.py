#!/usr/bin/env python3
"""Reads the VCD file of a move and holds its pulses against the profile:

pulses.py FILE STEPS SPEED ACCEL

From rest, step n comes at sqrt(2 n / a) after the first interval has begun; at speed v
the interval is 1/v; the way down is the way up, backwards. Prints what it finds, in
microseconds and in microsteps per second, and ends with 1 where a pulse is more than
5 us beside its place, the speed is above what was ordered, or the acceleration, by a
line through the speeds, is not that of the formula within 1 %."""
import re
import sys
from math import sqrt

import numpy as np


def read(path):
    """Times of rising steps in us, and their directions."""
    text = open(path).read()
    unit_us = float(re.search(r"\$timescale (\d+) ps", text)[1]) * 1e-6
    names = dict(re.findall(r"\$var wire 1 (\S) (\S+)", text))
    times, ups, now, up = [], [], 0, 0
    for line in text.split("$enddefinitions $end")[1].split():
        if line[0] == "#":
            now = int(line[1:]) * unit_us
        elif names[line[1]] == "up":
            up = int(line[0])
        elif names[line[1]] == "step" and line[0] == "1":
            times.append(now)
            ups.append(up)
    return np.array(times), np.array(ups)


def main():
    path, steps, speed, accel = sys.argv[1], *map(float, sys.argv[2:])
    times, ups = read(path)
    bad = []
    if len(times) != steps or len(set(ups)) != 1:
        bad.append(f"{len(times)} pulses in directions {set(ups)}, {steps:.0f} in one were ordered")
    # The steps of a ramp whose intervals are longer than that of the speed.
    ramp = 0
    while 2 * ramp + 2 <= steps and sqrt(2 * (ramp + 1) / accel) - sqrt(2 * ramp / accel) > 1 / speed:
        ramp += 1
    up = np.array([1e6 * sqrt(2 * n / accel) for n in range(1, ramp + 1)])
    off = times[:ramp] - times[0] - (up - up[0])
    down = times[-1] - times[::-1][:ramp]  # backwards from the last pulse
    # the last interval is that from rest to the first step
    last = 1e6 * np.array([sqrt(2 * n / accel) for n in range(0, ramp)])
    off_down = down - last
    cruise = np.diff(times[ramp:len(times) - ramp])
    # the timer counts in half microseconds, and is set so that it is not too fast
    interval = np.ceil(2e6 / speed) / 2
    place = times[ramp] + interval * np.arange(len(cruise) + 1) - times[ramp:len(times) - ramp]
    jitter = max(np.ptp(off), np.ptp(off_down), np.ptp(place) if len(place) else 0)
    fastest = 1e6 / np.min(np.convolve(np.diff(times), np.ones(200) / 200, "valid"))
    speeds = 1e6 / np.diff(times[:ramp])
    middles = (times[:ramp - 1] + times[1:ramp]) / 2 * 1e-6
    slope = np.polyfit(middles[20:], speeds[20:], 1)[0]
    print(f"pulses {len(times)}, ramp {ramp}, beside their places by at most {jitter:.2f} us, "
          f"fastest {fastest:.1f}, acceleration {slope:.0f} of {accel:.0f}")
    if jitter >= 5:
        bad.append(f"a pulse is {jitter:.2f} us beside its place")
    if fastest > speed * 1.0005:
        bad.append(f"speed {fastest:.1f}, {speed:.0f} was ordered")
    if abs(slope / accel - 1) > 0.01:
        bad.append(f"acceleration {slope:.0f}, {accel:.0f} was said")
    for why in bad:
        print("WRONG:", why)
    sys.exit(1 if bad else 0)


main()
