#!/usr/bin/python3
"""Prints, as one table, how steady the treble of stereo WAVs is and how much
delay they hold between their channels.

    figures.py FILE.wav...

Cells: Hann frames of 1024 samples every 10 ms; the power of five of them, both
channels added, makes a cell of 50 ms. Ratio: 6-14 kHz over 500-2000 Hz in dB,
one number a cell. A cell 50 dB or more below the loudest has no ratio; the
line between its neighbours stands for it.

Fit: white noise plus first-order autoregressive noise with one time constant,
and with two, by Whittle's likelihood (Whittle 1953: sum of ln S + I/S over the
periodogram I, model spectrum S). 'gain' is twice the growth of the log
likelihood by the second constant: with two more parameters it exceeds 6.0 by
chance in 5 % of cases (chi-squared). Time constants are kept below a quarter
of the piece. The rms of means over 1 s and 5 s needs no model.

Channels: magnitude-squared coherence, mean over the bins of 4-14 kHz (Welch,
Hann, 4096 samples, half overlapped); correlation of the channels' samples, of
all and of 6-14 kHz; width, the power of left minus right over left plus right
in 6-14 kHz, dB.

Delays: per block of 100 ms the phase of the cross-spectrum, summed over each of
16 equal bands of 4-14 kHz, with the variance (1 - g)/(2 g B T) (coherence g of
the block in the band, bandwidth B, T = 100 ms: Gaussian noise; Carter 1987). A
line through zero is fitted by weighted least squares: its slope is the delay,
positive when right comes later. Blocks without three bands whose phase has a
standard error below 0.5 rad are left out. 'mean' weighs the blocks alike;
'scatter' is their rms about it, 'error' what noise alone would make of it,
'change' the chi-squared per block of the delays about their weighted mean, and
'misfit' the chi-squared per degree of freedom of the phases about each block's
line, median and 95th percentile. Sound without true delays has about 1 in both.

Bands: the third octaves of 4 to 16 kHz. 'level' is each one's power over that of
6-14 kHz, dB. A
head that goes to and fro between two flanks compares a stay of 0.8 s with those
1.6 s before and after: 'strays' are the rms of a stay's level less the mean of
those two, times the root of 2/3 (so that stays that know nothing of each other
have their own rms), and 'likeness' the correlations between bands 1 and 2, 1 and
3, to 1 and 7, then 2 and 3, to 6 and 7.
"""
import sys

import numpy as np
from scipy import optimize, signal

from measure import db, load, spectra

CELL_S = 0.050
BLOCK_S = 0.100
STAY_S = 0.8
BANDS = np.linspace(4000, 14000, 17)


def frames(rate, x):
    """Frequencies and the spectra of frames every 10 ms: channel, bin, frame."""
    hop = rate // 100
    freqs, _, z = signal.stft(x, fs=rate, window="hann", nperseg=1024, noverlap=1024 - hop, boundary=None, padded=False)
    return freqs, z


def within(freqs, low, high):
    return (freqs >= low) & (freqs < high)


def grouped(values, size):
    """The last axis cut into groups of that size: the groups' sums."""
    count = values.shape[-1] // size
    return values[..., : count * size].reshape(*values.shape[:-1], count, size).sum(axis=-1)


def ratios(freqs, z):
    """Treble over mid per cell in dB, and how many cells were too quiet."""
    power = grouped((np.abs(z) ** 2).sum(axis=0), round(CELL_S * 100))
    treble = power[within(freqs, 6000, 14000)].sum(axis=0)
    mid = power[within(freqs, 500, 2000)].sum(axis=0)
    heard = db(mid) > db(mid).max() - 50
    at = np.arange(len(mid))
    return np.interp(at, at[heard], (db(treble) - db(mid))[heard]), np.count_nonzero(~heard)


def means(values, seconds):
    size = round(seconds / CELL_S)
    return grouped(values, size) / size


def model(parts, white, omega):
    """Spectrum of white noise and of (rms, time constant) autoregressive parts."""
    s = np.full(len(omega), white**2)
    for rms, tau in parts:
        phi = np.exp(-CELL_S / tau)
        s += rms**2 * (1 - phi**2) / np.abs(1 - phi * np.exp(-1j * omega)) ** 2
    return s


def fit(values, count):
    """White rms, the parts in order of their time constants, log likelihood."""
    d = values - values.mean()
    periodogram = np.abs(np.fft.rfft(d)[1:-1]) ** 2 / len(d)
    omega = 2 * np.pi * np.arange(1, len(periodogram) + 1) / len(d)
    longest = len(d) * CELL_S / 4

    def unpack(p):
        p = np.exp(p)
        return p[0], list(zip(p[1::2], p[2::2]))

    def loss(p):
        white, parts = unpack(p)
        s = model(parts, white, omega)
        return (np.log(s) + periodogram / s).sum()

    rms = d.std()
    starts = [[0.1], [0.4], [2]] if count == 1 else [[0.1, 1], [0.1, 5], [0.5, 5], [0.3, 1]]
    bounds = [(np.log(1e-3), np.log(50))] + [(np.log(1e-3), np.log(50)), (np.log(0.01), np.log(longest))] * count
    best = min(
        (optimize.minimize(loss, np.log([rms / 3] + [v for tau in taus for v in (rms / count, tau)]), method="L-BFGS-B", bounds=bounds)
         for taus in starts), key=lambda r: r.fun)
    white, parts = unpack(best.x)
    return white, sorted(parts, key=lambda part: part[1]), -best.fun


def phases(freqs, z, rate):
    """Phase and its variance for each band and block of 100 ms."""
    size = round(BLOCK_S * 100)
    left, right = z
    cross = grouped(np.conj(right) * left, size)  # phase +2 pi f d when right comes d later
    l, r = grouped(np.abs(left) ** 2, size), grouped(np.abs(right) ** 2, size)
    out = []
    for low, high in zip(BANDS, BANDS[1:]):
        bins = within(freqs, low, high)
        c, p, q = (v[bins].sum(axis=0) for v in (cross, l, r))
        g = np.clip(np.abs(c) ** 2 / np.maximum(p * q, 1e-30), 1e-6, 0.99999)
        out.append((np.angle(c), (1 - g) / (2 * g * (high - low) * BLOCK_S)))
    out = np.array(out)
    return out[:, 0], out[:, 1]


def delays(phase, variance):
    """Delay, its standard error (us) and misfit of each block that tells."""
    omega = np.pi * (BANDS[1:] + BANDS[:-1])[:, None] * 1e-6
    w = np.where(variance < 0.25, 1 / variance, 0)
    told = (w > 0).sum(axis=0) >= 3
    w, phase = w[:, told], phase[:, told]
    steep = (w * omega**2).sum(axis=0)
    delay = (w * omega * phase).sum(axis=0) / steep
    # The difference wraps, so that a block is judged by its nearest phases.
    off = np.angle(np.exp(1j * (phase - omega * delay)))
    return delay, steep**-0.5, (w * off**2).sum(axis=0) / ((w > 0).sum(axis=0) - 1)


def channels(rate, x):
    freqs, _, msc = spectra(rate, x)
    treble = signal.sosfilt(signal.butter(6, [6000, 14000], "bandpass", fs=rate, output="sos"), x)
    side, middle = ((treble[0] - treble[1]) ** 2).mean(), ((treble[0] + treble[1]) ** 2).mean()
    return (msc[within(freqs, 4000, 14000)].mean(), np.corrcoef(x)[0, 1], np.corrcoef(treble)[0, 1], db(side) - db(middle))


def ratio_row(name, ratio, quiet):
    white1, ((rms1, tau1),), like1 = fit(ratio, 1)
    white2, (fast, slow), like2 = fit(ratio, 2)
    low, high = np.percentile(ratio, [5, 95])
    return [name, f"{ratio.mean():.1f}", f"{ratio.std():.1f}", f"{low:.0f} to {high:.0f}",
            f"{means(ratio, 1).std():.1f}, {means(ratio, 5).std():.1f}", f"{white1:.1f}", f"{rms1:.1f}, {tau1:.2f} s",
            f"{white2:.1f}", f"{fast[0]:.1f}, {fast[1]:.2f} s", f"{slow[0]:.1f}, {slow[1]:.1f} s", f"{max(0, 2 * (like2 - like1)):.0f}", str(quiet)]


def channel_row(name, rate, x, freqs, z):
    msc, all_r, treble_r, width = channels(rate, x)
    delay, error, misfit = delays(*phases(freqs, z, rate))
    w = error**-2
    change = (w * (delay - (w * delay).sum() / w.sum()) ** 2).sum() / (len(delay) - 1)
    return [name, f"{msc:.2f}", f"{all_r:.2f}", f"{treble_r:.2f}", f"{width:+.1f}", f"{delay.mean():+.2f}", f"{delay.std():.2f}",
            f"{np.sqrt((error**2).mean()):.2f}", f"{change:.1f}", f"{np.median(misfit):.1f}, {np.percentile(misfit, 95):.1f}",
            f"{100 * len(delay) * BLOCK_S * rate / x.shape[1]:.0f}"]


def table(head, rows):
    print("| " + " | ".join(head) + " |")
    print("|---|" + "---:|" * (len(head) - 1))
    for row in rows:
        print("| " + " | ".join(row) + " |")


def band_levels(freqs, z):
    """Level of each band over the treble, and what strays from stay to stay: band, stay."""
    power = (np.abs(z) ** 2).sum(axis=0)
    edges = 1000 * 10 ** np.linspace(0.55, 1.25, 8)
    per_band = np.array([power[within(freqs, low, high)].sum(axis=0) for low, high in zip(edges, edges[1:])])
    level = db(per_band.mean(axis=-1)) - db(power[within(freqs, 6000, 14000)].sum(axis=0).mean())
    stay, apart = round(STAY_S * 100), round(2 * STAY_S * 100)
    summed = np.cumsum(np.pad(per_band, ((0, 0), (1, 0))), axis=1)
    stays = db((summed[:, stay:] - summed[:, :-stay]) / stay)
    strays = stays[:, apart:-apart] - (stays[:, : -2 * apart] + stays[:, 2 * apart :]) / 2
    return level, strays * np.sqrt(2 / 3)


def band_row(name, freqs, z):
    level, strays = band_levels(freqs, z)
    likeness = np.corrcoef(strays)[np.triu_indices(7, 1)]
    return [name, *(" ".join(f"{v:{how}}" for v in values) for values, how in
                    ((level, ".1f"), (strays.std(axis=1), ".1f"), (likeness, ".2f")))]


RATIO_HEAD = ["ratio, dB", "mean", "rms", "5 to 95 %", "rms of 1 s, 5 s means", "one constant: white", "rms, time",
              "two: white", "fast", "slow", "gain", "quiet cells"]
CHANNEL_HEAD = ["channels", "coherence", "correlation", "in the treble", "width, dB", "delay, us: mean", "scatter", "error", "change",
                "misfit", "blocks, %"]
BAND_HEAD = ["bands", "level, dB", "strays, dB", "likeness"]


def main(paths):
    ratio_rows, channel_rows, band_rows = [], [], []
    for path in paths:
        rate, x = load(path)
        freqs, z = frames(rate, x)
        name = "`" + path.split("/")[-1].removesuffix(".wav") + "`"
        ratio_rows.append(ratio_row(name, *ratios(freqs, z)))
        channel_rows.append(channel_row(name, rate, x, freqs, z))
        band_rows.append(band_row(name, freqs, z))
    table(RATIO_HEAD, ratio_rows)
    print()
    table(CHANNEL_HEAD, channel_rows)
    print()
    table(BAND_HEAD, band_rows)


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit("usage: figures.py FILE.wav...")
    main(sys.argv[1:])
