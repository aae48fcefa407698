"""Measures two channels with scipy, to hold the meter's figures against.

usage: check.py SAMPLES RATE TONE_HZ     (SAMPLES: float64, left and right by turns)

Prints JSON. Window, overlap and normalisation are scipy's; nothing is taken
from the Go code but the band limits.
"""
import json
import sys

import numpy as np
from scipy import optimize, signal

x = np.fromfile(sys.argv[1]).reshape(-1, 2).T
rate, tone = int(sys.argv[2]), float(sys.argv[3])
how = dict(fs=rate, window="hann", nperseg=1024, noverlap=512, detrend=False)

f, density = signal.welch(x, **how)
_, cross = signal.csd(x[0], x[1], **how)
_, coherence = signal.coherence(x[0], x[1], **how)


def level(low, high):
    """Level of a band re a full-scale sine; a bin at the edge by its share."""
    df = f[1]
    share = np.clip(np.minimum(high, f + df / 2) - np.maximum(low, f - df / 2), 0, None)
    return list(10 * np.log10(2 * (density * share).sum(axis=1)))


out = dict(
    mid=level(500, 2000), treble=level(6000, 14000),
    third_1k=level(1000 * 10**-0.05, 1000 * 10**0.05),
    cross_re=list(cross.real), cross_im=list(cross.imag), coherence=list(coherence),
    density=[list(d) for d in density], window=list(signal.get_window("hann", 1024)),
)

# The delay, in the time domain: the shift of left that leaves the least of
# right, with a free gain, both confined to 300 to 14000 Hz.
n = x.shape[1]
hz = np.fft.rfftfreq(n, 1 / rate)
left, right = np.fft.rfft(x[0]), np.fft.rfft(x[1])
inside = (hz > 300) & (hz < 14000)


def rest(p):
    r = (right - p[0] * left * np.exp(-2j * np.pi * hz * p[1] * 1e-6))[inside]
    return np.concatenate([r.real, r.imag]) / np.sqrt(n)


if tone == 0:
    start = min(((np.sum(rest([1, us]) ** 2), us) for us in range(-300, 301, 5)))[1]
    fit = optimize.least_squares(rest, [1, start], x_scale=[1, 1])
    cov = np.linalg.inv(fit.jac.T @ fit.jac) * 2 * fit.cost / (len(fit.fun) - 2)
    out.update(delay_us=fit.x[1], delay_sd_us=float(np.sqrt(cov[1, 1])))
else:
    t = np.arange(n) / rate

    def misses(p):
        w = 2 * np.pi * p[0] * t
        return np.concatenate([
            x[0] - p[1] * np.cos(w) - p[2] * np.sin(w),
            x[1] - p[3] * np.cos(w) - p[4] * np.sin(w),
        ])

    peak = hz[np.argmax(np.abs(left) ** 2 * (np.abs(hz / tone - 1) < 0.05))]
    def linear(f0):
        w = 2 * np.pi * f0 * t
        a = np.stack([np.cos(w), np.sin(w)], axis=1)
        s, _, _, _ = np.linalg.lstsq(a, x.T, rcond=None)
        return [f0, s[0, 0], s[1, 0], s[0, 1], s[1, 1]]
    fit = optimize.least_squares(misses, linear(peak), x_scale=[0.01, 0.1, 0.1, 0.1, 0.1])
    f0, a, b, c, d = fit.x
    phase = np.angle((c - 1j * d) * np.conj(a - 1j * b))
    out.update(
        tone_hz=f0, phase_deg=-float(np.degrees(phase)),
        tone=[20 * np.log10(np.hypot(a, b)), 20 * np.log10(np.hypot(c, d))],
    )

json.dump(out, sys.stdout)
