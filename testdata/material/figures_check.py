#!/usr/bin/python3
"""Holds figures.py against sound and numbers whose statistics are known.

Each bound is about four standard errors of the case, found by trial over seeds.
"""
import numpy as np

import figures

RATE, SECONDS = 48000, 40
rng = np.random.default_rng(1)


def near(what, got, want, tolerance):
    assert abs(got - want) <= tolerance, f"{what}: got {got:.3f}, want {want} within {tolerance}"


def autoregressive(n, rms, tau):
    phi = np.exp(-figures.CELL_S / tau)
    x = np.zeros(n)
    x[0] = rms * rng.normal()
    for i, step in enumerate(rng.normal(size=n - 1) * rms * np.sqrt(1 - phi**2), 1):
        x[i] = phi * x[i - 1] + step
    return x


def later(x, us):
    f = np.fft.rfftfreq(len(x), 1 / RATE)
    return np.fft.irfft(np.fft.rfft(x) * np.exp(-2j * np.pi * f * us * 1e-6), len(x))


def noise():
    return 0.1 * rng.normal(size=RATE * SECONDS)


def judged(left, right):
    """Mean delay, scatter, standard error and median misfit."""
    freqs, z = figures.frames(RATE, np.array([left, right]))
    delay, error, misfit = figures.delays(*figures.phases(freqs, z, RATE))
    return delay.mean(), delay.std(), np.sqrt((error**2).mean()), np.median(misfit)


def fits():
    n = 20000
    white, ((rms, tau),), one = figures.fit(rng.normal(size=n) + autoregressive(n, 3, 0.5), 1)
    near("white", white, 1, 0.1)
    near("rms", rms, 3, 0.25)
    near("time constant", tau, 0.5, 0.07)
    values = rng.normal(size=n) + autoregressive(n, 3, 0.3) + autoregressive(n, 2, 10)
    white, (fast, slow), two = figures.fit(values, 2)
    for what, got, want, tolerance in (("white", white, 1, 0.2), ("fast rms", fast[0], 3, 0.3), ("fast time", fast[1], 0.3, 0.06),
                                       ("slow rms", slow[0], 2, 0.5), ("slow time", slow[1], 10, 5)):
        near(what, got, want, tolerance)
    assert two > figures.fit(values, 1)[2] + 20, "two time constants: no better than one"


def ratio():
    """Treble 12 dB down, then 6 dB up: the means of the cells tell."""
    freqs, z = figures.frames(RATE, np.array([noise(), noise()]))
    flat = figures.ratios(freqs, z)[0].mean()
    near("white noise", flat, 10 * np.log10(8000 / 1500), 0.1)  # the bands' widths
    z[:, figures.within(freqs, 4000, 20000)] *= 2
    near("6 dB up", figures.ratios(freqs, z)[0].mean() - flat, 20 * np.log10(2), 0.01)


def delays():
    common = noise()
    for us in (0, 5, -20):
        mean, scatter, error, misfit = judged(common + 0.6 * noise(), later(common, us) + 0.6 * noise())
        near("delay", mean, us, 0.1)
        near("scatter over error", scatter / error, 1.05, 0.15)
        near("misfit", misfit, 1, 0.15)
    other = 0.5 * noise()
    mean, _, _, misfit = judged(common + other + 0.3 * noise(), later(common, 0) + later(other, 60) + 0.3 * noise())
    assert misfit > 3, f"a second source: misfit {misfit}"


def band_levels():
    """White noise: the bands' widths, and the scatter of its power; then one gain for all."""
    widths = np.diff(1000 * 10 ** np.linspace(0.55, 1.25, 8))
    freqs, z = figures.frames(RATE, np.array([noise(), noise()]))
    level, strays = figures.band_levels(freqs, z)
    for k in range(7):
        near("level", level[k], 10 * np.log10(widths[k] / 8000), 0.25)  # whole bins
        # two channels, B T independent powers each
        near("scatter", strays[k].std(), 10 / np.log(10) / np.sqrt(2 * widths[k] * figures.STAY_S), 0.02)
    z *= 10 ** (0.25 * rng.normal(size=z.shape[-1]))
    _, strays = figures.band_levels(freqs, z)
    near("likeness", np.corrcoef(strays)[0, 6], 1, 0.1)


for check in (fits, ratio, delays, band_levels):
    check()
