"""Measures sound made by the virtual bench, with scipy and on its own terms.

usage: measure.py WHAT SOUNDS FILE [ARGUMENT...]

FILE is stereo 32-bit float at 48 kHz, interleaved, and holds that many sounds
of one length, one after the other. The result, one for each sound, is JSON.
"""
import json
import sys

import numpy as np
from scipy import linalg, signal

RATE = 48000


def tones(x, *hz):
    """Level in dB re full scale and phase in degrees of each frequency, left
    and right, by least squares on all of them and an offset together."""
    t = np.arange(len(x)) / RATE
    columns = [f(2 * np.pi * float(h) * t) for h in hz for f in (np.cos, np.sin)]
    a = np.column_stack(columns + [np.ones(len(x))])
    out = []
    for k in linalg.lstsq(a, x)[0].T:
        z = k[0:-1:2] - 1j * k[1:-1:2]
        out.append([[20 * np.log10(max(abs(v), 1e-12)), np.degrees(np.angle(v))] for v in z])
    return out


def band(x, low, high):
    """Mean-square power between two frequencies per channel (Welch)."""
    f, p = signal.welch(x, RATE, "hann", 4096, axis=0)
    inside = (f >= float(low)) & (f < float(high))
    return list(p[inside].sum(axis=0) * (f[1] - f[0]))


def strongest(x):
    """Frequency of the strongest line on the left, in Hz, and the greatest
    other line, in dB against it."""
    w = signal.get_window("blackmanharris", len(x))
    s = np.abs(np.fft.rfft(x[:, 0] * w))
    k = int(np.argmax(s))
    a, b, c = np.log(s[k - 1:k + 2])
    at = (k + 0.5 * (a - c) / (a - 2 * b + c)) * RATE / len(x)
    rest = s.copy()
    rest[max(0, k - 12):k + 13] = 0
    rest[:12] = 0
    return [at, 20 * np.log10(rest.max() / s[k])]


def envelope(x, hz, width):
    """The tone at hz of one channel as a complex envelope, 1000 values a
    second, the ends left out."""
    turns = np.exp(-2j * np.pi * hz * np.arange(len(x)) / RATE)
    taps = signal.firwin(2401, width, fs=RATE)
    return signal.upfirdn(taps, x * turns, down=48)[60:-60]


# AES6-2008, Table 1 (= IEC 60386): Hz, dB.
AES6 = np.array([
    (0.1, -48), (0.2, -30.6), (0.315, -19.7), (0.4, -15.0), (0.63, -8.4), (0.8, -6.0), (1, -4.2),
    (1.6, -1.8), (2, -0.9), (4, 0), (6.3, -0.9), (10, -2.1), (20, -5.9), (40, -10.4), (63, -14.2),
    (100, -17.3), (200, -23.0)])


def flutter(x, hz):
    """Weighted rms of the speed of the left channel, in percent, and its mean
    error in percent, from a tone recorded at hz."""
    z = envelope(x[:, 0], float(hz), 400)
    speed = np.gradient(np.unwrap(np.angle(z))) * 1000 / (2 * np.pi * float(hz))
    mean = speed.mean()
    s = np.fft.rfft(speed - mean)
    f = np.fft.rfftfreq(len(speed), 1e-3)
    db = np.interp(np.log10(np.maximum(f, 1e-3)), np.log10(AES6[:, 0]), AES6[:, 1], left=-80, right=-60)
    weighted = np.fft.irfft(s * 10 ** (db / 20), len(speed))
    return [100 * weighted.std(), 100 * mean]


def phase_between(x, hz):
    """Left minus right phase of a tone in degrees, 1000 values a second."""
    left, right = (envelope(x[:, c], float(hz), 100) for c in (0, 1))
    return np.degrees(np.unwrap(np.angle(left / right)))


def wander(x, hz, low, high):
    """Rms of the tilt in arcmin (5.5 us each) from the phase between the
    channels of a tone, the share of its power between low and high, and the
    ratio of the power densities of that band's lower and upper half."""
    tilt = phase_between(x, hz) / 360 / float(hz) * 1e6 / 5.5
    f, p = signal.welch(tilt - tilt.mean(), 1000, "hann", 32768)
    low, high = float(low), float(high)
    middle = (low + high) / 2
    inside = (f >= low - 0.06) & (f <= high + 0.06)
    lower, upper = p[(f > low) & (f < middle)].mean(), p[(f > middle) & (f < high)].mean()
    return [tilt.std(), p[inside].sum() / p.sum(), lower / upper]


def levels(x, *hz):
    """Rms in dB of the level of each tone on the left as it trembles (0.2-10 Hz),
    and the correlation of that between the channels."""
    out = []
    for h in hz:
        db = [20 * np.log10(np.abs(envelope(x[:, c], float(h), 100))) for c in (0, 1)]
        out.append([db[0].std(), np.corrcoef(db)[0, 1]])
    return out


def balance(x):
    """Rms of the treble (6-14 kHz) against the middle (500-2000 Hz) in dB in
    windows of 0.5 s, the lag in s at which its correlation falls below 1/e,
    the coherence of the channels, 6-14 kHz, and the greatest sample."""
    sos = [signal.butter(4, b, "bandpass", fs=RATE, output="sos") for b in ((6000, 14000), (500, 2000))]
    n = RATE // 2
    power = []
    for s in sos:
        y = signal.sosfilt(s, x, axis=0)
        y = y[: len(y) // n * n].reshape(-1, n, 2)
        power.append((y ** 2).mean(axis=(1, 2)))
    db = 10 * np.log10(power[0] / power[1])
    d = db - db.mean()
    r = np.correlate(d, d, "full")[len(d) - 1:] / (d @ d)
    lag = 0.5 * int(np.argmax(r < 1 / np.e))
    f, c = signal.coherence(x[:, 0], x[:, 1], RATE, nperseg=2048)
    inside = (f > 6000) & (f < 14000)
    return [db.std(), lag, c[inside].mean(), float(np.abs(x).max()), db.mean()]


if __name__ == "__main__":
    what, sounds, path, *rest = sys.argv[1:]
    data = np.fromfile(path, "<f4").astype(float).reshape(int(sounds), -1, 2)
    json.dump([globals()[what](sound, *rest) for sound in data], sys.stdout)
