"""Measures speed and flutter of a tone with scipy, to hold the meter's figures against.

usage: check.py SAMPLES RATE NOMINAL_HZ     (SAMPLES: float64, left and right by turns)

Prints JSON. The sound is taken as a loop. Nothing comes from the Go code: the phase is
that of the analytic signal, and the weighting is the published table itself (AES6-2008,
Table 1, in dB, interpolated over the logarithm of the frequency), applied to a spectrum.
"""
import json
import sys

import numpy as np
from scipy import interpolate, signal

x = np.fromfile(sys.argv[1]).reshape(-1, 2).T
rate, nominal = int(sys.argv[2]), float(sys.argv[3])

phase = np.unwrap(np.angle(signal.hilbert(x))).mean(axis=0)
hz = np.diff(phase, append=phase[0]) * rate / (2 * np.pi)
hz[-1] = hz[:-1].mean()  # the loop's end: whole turns are missing
mean = hz.mean()
spectrum = np.fft.rfft(hz / mean - 1)
f = np.fft.rfftfreq(len(hz), 1 / rate)

table = np.array([
    (0.1, -48), (0.2, -30.6), (0.315, -19.7), (0.4, -15), (0.63, -8.4), (0.8, -6), (1, -4.2), (1.6, -1.8), (2, -0.9), (4, 0),
    (6.3, -0.9), (10, -2.1), (20, -5.9), (40, -10.4), (63, -14.2), (100, -17.3), (200, -23)])
inside = (f >= 0.1) & (f <= 200)
decibels = interpolate.PchipInterpolator(np.log(table[:, 0]), table[:, 1])
weight = np.zeros(len(f))
weight[inside] = 10 ** (decibels(np.log(f[inside])) / 20)
b, a = signal.butter(2, 0.2, "high", analog=True)
high = np.abs(signal.freqs(b, a, f)[1]) * (f <= 200)


def of(response):
    return 100 * np.fft.irfft(spectrum * response, len(hz))


weighted, unweighted = of(weight), of(high)
print(json.dumps(dict(
    speed=100 * (mean / nominal - 1), weighted_peak=np.percentile(np.abs(weighted), 95),
    weighted_rms=np.std(weighted), rms=np.std(unweighted))))
