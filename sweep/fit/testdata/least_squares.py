"""Solve a problem with scipy.optimize.least_squares.

Reads lines of {"model": NAME, "x": [...], "y": [...], "start": [...]} from standard
input and answers each by {"params": [...], "covariance": [[...]], "rss": ...}; the
covariance is inv(J'J), for residuals of unit variance.
"""
import json
import sys

import numpy as np
from scipy.optimize import least_squares


def azimuth_db(x, centre, top, first_null, floor_db):
    """Power sinc^2 over a floor, in decibels; numpy's sinc is sin(pi x)/(pi x)."""
    power = np.sinc((x - centre) / first_null) ** 2
    return top + 10 * np.log10(power + 10 ** (floor_db / 10))


MODELS = {
    "azimuth": azimuth_db,
    "Eckerle4": lambda x, a, w, c: a / w * np.exp(-0.5 * ((x - c) / w) ** 2),
    "Misra1a": lambda x, a, b: a * (1 - np.exp(-b * x)),
    "Gauss2": lambda x, a, b, h1, c1, w1, h2, c2, w2: a * np.exp(-b * x)
    + h1 * np.exp(-((x - c1) / w1) ** 2)
    + h2 * np.exp(-((x - c2) / w2) ** 2),
}

for line in sys.stdin:
    asked = json.loads(line)
    x, y = np.array(asked["x"]), np.array(asked["y"])
    model = MODELS[asked["model"]]
    # The trust-region method: the one that takes central differences. Its own
    # step is 6e-6 absolute for parameters below 1, too coarse for one of 5e-4, so
    # the step is given relative to the parameter.
    found = least_squares(
        lambda p: y - model(x, *p),
        asked["start"],
        jac="3-point",
        diff_step=6e-6,
        method="trf",
        x_scale="jac",
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-15,
    )
    answer = {
        "params": found.x.tolist(),
        "covariance": np.linalg.inv(found.jac.T @ found.jac).tolist(),
        "rss": float(2 * found.cost),
    }
    print(json.dumps(answer), flush=True)
