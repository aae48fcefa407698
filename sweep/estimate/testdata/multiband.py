"""Least determinant criterion of bands that stray together, by scipy.

Reads lines of {"tilts", "levels", "weight", "start", "start_sd", "low", "high", "pieces",
"stray_db", "alike", "readings", "floor_db", "floor_sd_db"} and answers each by the centre, its
standard deviation by the profile and the floors.
"""
import json
import sys

import numpy as np
from scipy.optimize import minimize

SPEED, WIDTH, ARCMIN = 47.6, 0.6, np.pi / 180 / 60  # mm/s, mm


def answer(ask):
    tilts, levels, weight = (np.array(ask[name]) for name in ("tilts", "levels", "weight"))
    n, bands = levels.shape
    usual = ask["readings"] * ask["stray_db"] ** 2 * ask["alike"] ** abs(np.subtract.outer(range(bands), range(bands)))

    def loss(k, tilt, floor_db):
        low, high = ask["low"][k], ask["high"][k]
        hz = low + (high - low) * (np.arange(ask["pieces"]) + 0.5) / ask["pieces"]
        power = (np.sinc(WIDTH * np.tan(tilt * ARCMIN)[:, None] * hz / SPEED) ** 2).mean(axis=1)
        floor = 10 ** (floor_db / 10)
        return 10 * np.log10((power + floor) / (1 + floor))

    def cost(p):
        strays = np.stack([levels[:, k] - loss(k, tilts - p[0], p[1 + k]) for k in range(bands)], axis=1)
        strays -= np.average(strays, axis=0, weights=weight)
        inner = strays.T @ (weight[:, None] * strays) + usual
        held = ((p[0] - ask["start"]) / ask["start_sd"]) ** 2 + sum(((p[1:] - ask["floor_db"]) / ask["floor_sd_db"]) ** 2)
        return (n - 1 + ask["readings"]) * np.linalg.slogdet(inner)[1] + held

    def least(centre=None, start=None):
        start = np.r_[ask["start"], np.full(bands, ask["floor_db"])] if start is None else start
        if centre is None:
            return minimize(cost, start, method="BFGS", options={"gtol": 1e-6})
        return minimize(lambda f: cost(np.r_[centre, f]), start[1:], method="BFGS", options={"gtol": 1e-6})

    best = least()
    at = [best.x[0] + side * ask["away"] for side in (-1, 1)]
    rise = sum(least(c, best.x).fun - best.fun for c in at) / 2
    return {"centre": best.x[0], "sd": ask["away"] / np.sqrt(rise), "floors": list(best.x[1:]), "cost": best.fun}


for line in sys.stdin:
    print(json.dumps(answer(json.loads(line))), flush=True)
