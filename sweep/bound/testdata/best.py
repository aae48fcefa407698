"""Generalised least squares by numpy and scipy: the standard deviation of the
best estimate of a constant in wander and white noise. The covariance is that of
the process in time, in closed form, averaged over pairs of cells; the package
integrates over frequency. Answers each list of cases, a line, by a list of figures."""

import json
import sys

import numpy as np
from scipy import linalg, special


def correlation(case, lag):
    low, high = case["low_hz"], case["high_hz"]
    lag = np.abs(lag)
    if case["one_over_f"]:
        small = lag < 1e-9
        at = np.where(small, 1.0, lag)
        out = special.sici(2 * np.pi * high * at)[1] - special.sici(2 * np.pi * low * at)[1]
        return np.where(small, 1.0, out / np.log(high / low))
    return (high * np.sinc(2 * high * lag) - low * np.sinc(2 * low * lag)) / (high - low)


def best(case):
    n, seconds = case["cells"], case["seconds"]
    cell = seconds / n
    nodes, weights = np.polynomial.legendre.leggauss(8)
    apart = (nodes[:, None] - nodes[None, :]) * cell / 2
    weight = weights[:, None] * weights[None, :] / 4
    lags = np.arange(n) * cell
    column = np.array([np.sum(weight * correlation(case, lag + apart)) for lag in lags])
    c = linalg.toeplitz(column) * case["rms"] ** 2 + np.eye(n) * case["noise"] ** 2 * n
    ones = np.ones(n)
    return float(1 / np.sqrt(ones @ linalg.cho_solve(linalg.cho_factor(c), ones)))


for line in sys.stdin:
    print(json.dumps([best(case) for case in json.loads(line)]), flush=True)
