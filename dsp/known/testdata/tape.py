"""Makes a tape of a stereo WAV file with numpy and scipy.

usage: tape.py IN.wav OUT.wav START_S SECONDS SPEED WOW TILT_ARCMIN CHANNEL_US HISS_DB SEED

Reads IN from START_S on at SPEED (1.01 is fast) with a wow of WOW (peak,
relative: half at 0.5 Hz, the rest at 4 Hz), by a cubic spline through the sound
at eight times its rate; then azimuth loss sin(x)/x, x = pi w tan(tilt) f/v,
w = 0.6 mm, v = 47.6 mm/s, a delay of the right channel of 5.5 us per arcminute
and CHANNEL_US more, and white hiss HISS_DB under the programme in 6 to 14 kHz.
Writes 32-bit floating point. Nothing is taken from the Go code.
"""
import sys

import numpy as np
from scipy import interpolate, signal
from scipy.io import wavfile

source, out = sys.argv[1:3]
start, seconds, speed, wow, tilt, extra, hiss_db, seed = map(float, sys.argv[3:])
rate, x = wavfile.read(source)
x = x.astype(float) / 32768
FINER = 8

t = np.arange(int(seconds * rate)) / rate
at = speed * t + 0.5 * wow / (2 * np.pi * 0.5) * np.sin(2 * np.pi * 0.5 * t)
at += 0.5 * wow / (2 * np.pi * 4) * np.sin(2 * np.pi * 4 * t + 1)
first = max(0, int((start - 0.5) * rate))
part = x[first:int((start + at[-1] + 0.5) * rate)]
place = (start + at) * rate - first

random = np.random.default_rng(int(seed))
hz = np.fft.rfftfreq(len(t), 1 / rate)
inside = (hz >= 6000) & (hz < 14000)
loss = np.sinc(0.6 * np.tan(np.radians(tilt / 60)) * hz / 47.6)
tape = []
for channel, side in ((0, -0.5), (1, 0.5)):
    dense = signal.resample_poly(part[:, channel], FINER, 1, window=("kaiser", 12.0))
    played = interpolate.CubicSpline(np.arange(len(dense)) / FINER, dense)(place)
    spectrum = np.fft.rfft(played)
    treble = 2 * np.sum(np.abs(spectrum[inside]) ** 2) / len(t) ** 2
    late = side * (5.5 * tilt + extra) * 1e-6
    track = np.fft.irfft(spectrum * loss * np.exp(-2j * np.pi * hz * late), len(t))
    rms = np.sqrt(treble * 10 ** (-hiss_db / 10) / 8000 * rate / 2)
    tape.append(track + rms * random.standard_normal(len(t)))
wavfile.write(out, rate, np.stack(tape, axis=1).astype(np.float32))
