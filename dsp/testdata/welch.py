"""Welch's spectra by scipy and by numpy, to hold the meter's kernel against.

usage: welch.py SAMPLES SPECTRA REPEATS   (SAMPLES: float64, left and right by turns)

SPECTRA: as welch.c writes them, and after them the transform of the first 1024
samples, left + i right, by numpy. Prints the seconds of the fastest of the
repeats: scipy (welch and csd), then numpy (rfft of all frames at once).
"""
import sys
import time

import numpy as np
from scipy import signal

both = np.fromfile(sys.argv[1]).reshape(-1, 2)
x = np.ascontiguousarray(both.T)
how = dict(window="hann", nperseg=1024, noverlap=512, detrend=False)
hann = signal.get_window("hann", 1024)


def by_scipy():
    _, power = signal.welch(x, **how)
    _, cross = signal.csd(x[0], x[1], **how)
    return power[0], power[1], cross


def by_numpy():
    frames = np.lib.stride_tricks.sliding_window_view(x, 1024, axis=1)[:, ::512]
    z = np.fft.rfft(frames * hann)
    power = np.einsum("cfk,cfk->ck", z.real, z.real) + np.einsum("cfk,cfk->ck", z.imag, z.imag)
    return power[0], power[1], np.einsum("fk,fk->k", z[0].conj(), z[1])


def fastest(what):
    took = []
    for _ in range(int(sys.argv[3])):
        start = time.perf_counter()
        what()
        took.append(time.perf_counter() - start)
    return min(took)


left, right, cross = by_scipy()
count = (x.shape[1] - 512) // 512
once = np.full(513, 2.0)  # a one-sided density counts all bins twice but these
once[[0, -1]] = 1
scale = count * np.sum(hann**2) / once
first = np.fft.fft(both[:1024, 0] + 1j * both[:1024, 1])
np.concatenate([left * scale, right * scale, cross.real * scale, cross.imag * scale, first.view(float)]).tofile(sys.argv[2])
print(fastest(by_scipy), fastest(by_numpy))
