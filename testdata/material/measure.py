#!/usr/bin/python3
"""Prints what a stereo WAV offers to someone who judges head azimuth by it.

    measure.py FILE.wav...

Balance: level in 6-14 kHz against 500-2000 Hz, both channels together, in
frames of 50 ms (Hann, no overlap); its mean, its rms about the mean and its
correlation time (the integral of the autocorrelation up to its first zero).
Coherence: magnitude-squared, per third-octave band (IEC 61260-1, base ten),
from Hann segments of 4096 samples, half overlapped; the mean over the band's
bins, and the phase of the band's summed cross-spectrum (positive: right
channel later). Delay: least squares line through the phase of the
cross-spectrum between 1 and 12 kHz, weighted by coherence/(1 - coherence)
(Knapp & Carter 1976), positive when the right channel comes later; once
through the origin, and once with a free offset at 0 Hz.
"""
import sys

import numpy as np
from scipy import signal
from scipy.io import wavfile

FRAME_S = 0.050
QUIET_DBFS = -60.0  # a frame whose mid band is below this says nothing
SEGMENT = 4096


def load(path):
    rate, data = wavfile.read(path)
    if data.ndim != 2 or data.shape[1] != 2:
        sys.exit(f"measure.py: {path}: want two channels, found shape {data.shape}")
    scale = 1.0 if data.dtype.kind == "f" else float(np.iinfo(data.dtype).max) + 1
    return rate, data.T / scale


def db(power):
    return 10 * np.log10(np.maximum(power, 1e-20))


def band_power(spectrum, freqs, lo, hi):
    chosen = (freqs >= lo) & (freqs < hi)
    return spectrum[..., chosen].sum(axis=-1)


def balance(rate, x):
    n = int(FRAME_S * rate)
    window = signal.windows.hann(n, sym=False)
    frames = x[:, : x.shape[1] // n * n].reshape(2, -1, n)
    # Full-scale sine = 0 dBFS: one-sided power times 4 / (n sum w^2).
    power = (np.abs(np.fft.rfft(frames * window)) ** 2).sum(axis=0) * 2 / (n * (window**2).sum())
    freqs = np.fft.rfftfreq(n, 1 / rate)
    mid, treble = band_power(power, freqs, 500, 2000), band_power(power, freqs, 6000, 14000)
    loud = db(mid) > QUIET_DBFS
    ratio = db(treble) - db(mid)
    return ratio[loud], db(treble.mean()) - db(mid.mean()), np.count_nonzero(~loud), len(loud)


def correlation_time(values):
    d = values - values.mean()
    rho = np.correlate(d, d, "full")[len(d) - 1 :]
    rho = rho / rho[0]
    end = np.argmax(rho <= 0) if (rho <= 0).any() else len(rho)
    return FRAME_S * (1 + 2 * rho[1:end].sum())


def spectra(rate, x):
    """Frequencies, cross-spectrum, magnitude-squared coherence."""
    args = dict(fs=rate, window="hann", nperseg=SEGMENT, noverlap=SEGMENT // 2, detrend=False)
    freqs, s11 = signal.welch(x[0], **args)
    _, s22 = signal.welch(x[1], **args)
    _, s12 = signal.csd(x[1], x[0], **args)  # conj(R) L: phase +2 pi f d when R comes d later
    msc = np.abs(s12) ** 2 / np.maximum(s11 * s22, 1e-30)
    return freqs, s12, msc


def third_octaves():
    for number in range(-8, 13):
        centre = 1000 * 10 ** (number / 10)
        yield centre, centre * 10**-0.05, centre * 10**0.05


def phase_line(freqs, s12, msc, seconds):
    use = (freqs >= 1000) & (freqs <= 12000)
    f, phase = freqs[use], np.angle(s12[use])
    g = np.clip(msc[use], 1e-6, 0.9999)
    w = g / (1 - g)
    omega = 2 * np.pi * f
    through = (w * omega * phase).sum() / (w * omega**2).sum()
    # Knapp & Carter: var >= 1 / (2 T int (2 pi f)^2 g/(1-g) df)
    df = freqs[1] - freqs[0]
    bound = 1 / np.sqrt(2 * seconds * (w * omega**2).sum() * df)
    mean = (w * omega).sum() / w.sum()
    slope = (w * (omega - mean) * phase).sum() / (w * (omega - mean) ** 2).sum()
    offset = (w * phase).sum() / w.sum() - slope * mean
    # What the phase does beside the line, in radians, weighted.
    misfit = np.sqrt((w * (phase - through * omega) ** 2).sum() / w.sum())
    return through * 1e6, bound * 1e6, slope * 1e6, np.degrees(offset), np.degrees(misfit)


def report(path):
    rate, x = load(path)
    seconds = x.shape[1] / rate
    level, peak = db(2 * (x**2).mean(axis=1)), 20 * np.log10(np.abs(x).max())
    print(f"{path.split('/')[-1]}: {seconds:.1f} s at {rate} Hz, level {level[0]:.1f} {level[1]:.1f} dBFS, peak {peak:.1f} dBFS")
    ratio, pooled, quiet, frames = balance(rate, x)
    quarters = " ".join(f"{q.mean():.1f}" for q in np.array_split(ratio, 4))
    print(f"  balance 6-14k / 0.5-2k: pooled {pooled:.1f} dB, mean of frames {ratio.mean():.1f} dB, rms {ratio.std():.1f} dB, "
          f"correlation time {correlation_time(ratio):.2f} s, quarters {quarters} dB, {quiet} of {frames} frames quiet")
    freqs, s12, msc = spectra(rate, x)
    through, bound, slope, offset, misfit = phase_line(freqs, s12, msc, seconds)
    print(f"  delay 1-12k: {through:+.2f} us through the origin (bound {bound:.2f}), phase beside it {misfit:.1f} deg rms; "
          f"free line {slope:+.2f} us, {offset:+.1f} deg at 0 Hz")
    parts = [phase_line(*spectra(rate, part), part.shape[1] / rate)[0] for part in np.array_split(x, 8, axis=1)]
    print("  delay in each eighth: " + " ".join(f"{part:+.1f}" for part in parts) + " us")
    print("  band Hz   coherence  phase deg  delay us")
    for centre, lo, hi in third_octaves():
        bins = (freqs >= lo) & (freqs < hi)
        phase = np.angle(s12[bins].sum())
        print(f"  {centre:7.0f}   {msc[bins].mean():9.3f}  {np.degrees(phase):+9.1f}  {phase / (2 * np.pi * centre) * 1e6:+8.1f}")


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit("usage: measure.py FILE.wav...")
    for name in sys.argv[1:]:
        report(name)
