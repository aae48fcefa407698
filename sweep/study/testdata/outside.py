"""Works out by scipy and statsmodels what the tests compare with: reads one JSON
question from standard input, writes the answer as JSON."""

import json
import sys

import numpy as np
import pandas as pd
from scipy import integrate, optimize, stats
from statsmodels.api import GLS
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm


def crossed(q):
    """Two-way analysis of variance; F and P of the random-effects model from its
    mean squares, since anova_lm tests everything against the residual."""
    frame = pd.DataFrame(q["rows"])
    with_interaction = anova_lm(ols("y ~ C(u) * C(o)", frame).fit())
    additive = anova_lm(ols("y ~ C(u) + C(o)", frame).fit())

    def rows(table, names, rests):
        found = []
        for name, rest in zip(names, rests):
            line = table.loc[name]
            f = p = 0.0
            if rest:
                f = line["mean_sq"] / table.loc[rest, "mean_sq"]
                p = stats.f.sf(f, line["df"], table.loc[rest, "df"])
                if rest == "Residual":
                    assert abs(f - line["F"]) < 1e-9 * f and abs(p - line["PR(>F)"]) < 1e-9
            found.append([line["df"], line["sum_sq"], line["mean_sq"], f, p])
        return found

    inter = "C(u):C(o)"
    return {
        "kept": rows(with_interaction, ["C(u)", "C(o)", inter, "Residual"], [inter, inter, "Residual", None]),
        "pooled": rows(additive, ["C(u)", "C(o)", "Residual"], ["Residual", "Residual", None]),
    }


def stages(q, formula, names, rests):
    """The rows of an analysis of variance, each tested against the row that it is above."""
    table = anova_lm(ols(formula, pd.DataFrame(q["rows"])).fit())
    found = []
    for name, rest in zip(names, rests):
        line = table.loc[name]
        f = p = 0.0
        if rest:
            f = line["mean_sq"] / table.loc[rest, "mean_sq"]
            p = stats.f.sf(f, line["df"], table.loc[rest, "df"])
        found.append([line["df"], line["sum_sq"], line["mean_sq"], f, p])
    return {"rows": found}


def nested(q):
    return stages(q, "y ~ C(u) / C(s)", ["C(u)", "C(u):C(s)", "Residual"], ["C(u):C(s)", "Residual", None])


def operators(q):
    seatings = "C(u):C(o):C(s)"
    return stages(q, "y ~ C(u) * C(o) + " + seatings, ["C(u)", "C(o)", "C(u):C(o)", seatings, "Residual"],
                  ["C(u):C(o)", "C(u):C(o)", seatings, "Residual", None])


LAWS = {
    "constant": lambda t: lambda a: a + 0 * t,
    "steady creep": lambda t: lambda a, b: a + b * t,
    "settling": lambda t: lambda a, b, tau: a + b * (1 - np.exp(-t / tau)),
    "slowing creep by a power of time": lambda t: lambda a, b, n: a + b * t**n,
}


def drift(q):
    """curve_fit; its covariance for stated standard deviations and scaled."""
    t, y, sd = (np.array(q[k]) for k in ("t", "y", "sd"))
    extra = [np.array(q[k]) - np.mean(q[k]) for k in ("temperature", "cycles") if q.get(k)]
    law = LAWS[q["law"]](t)
    count = len(q["start"]) - len(extra)

    def model(_, *p):
        return law(*p[:count]) + sum(c * x for c, x in zip(p[count:], extra))

    options = dict(p0=q["start"], sigma=sd, ftol=1e-15, xtol=1e-15, gtol=1e-15, maxfev=20000)
    best, stated = optimize.curve_fit(model, t, y, absolute_sigma=True, **options)
    _, scaled = optimize.curve_fit(model, t, y, absolute_sigma=False, **options)
    chi2 = float(np.sum(((y - model(t, *best)) / sd) ** 2))
    return {"value": best.tolist(), "stated": np.sqrt(np.diag(stated)).tolist(),
            "scaled": np.sqrt(np.diag(scaled)).tolist(), "chi2": chi2}


def alike(q):
    """Generalised least squares with errors of known correlation, and the restricted likelihood
    of that from its textbook form (Patterson and Thompson 1971)."""
    y, x, v = np.array(q["y"]), np.array(q["x"]).T, np.array(q["v"])
    fit = GLS(y, x, sigma=v).fit()
    rss = float(fit.resid @ np.linalg.solve(v, fit.resid))
    dof = len(y) - x.shape[1]
    sd = np.sqrt(np.diag(np.linalg.inv(x.T @ np.linalg.solve(v, x))))
    assert np.allclose(fit.bse, sd * np.sqrt(rss / dof), rtol=1e-8)
    restricted = -(np.linalg.slogdet(v)[1] + np.linalg.slogdet(x.T @ np.linalg.solve(v, x))[1] + dof * np.log(rss / dof)) / 2
    return {"value": fit.params.tolist(), "sd": fit.bse.tolist(), "restricted": float(restricted)}


def constants(q):
    """d2 by its own integral, E R^2 from the density of the range."""
    n = q["n"]
    d2 = integrate.quad(lambda x: 1 - stats.norm.sf(x) ** n - stats.norm.cdf(x) ** n, -12, 12, epsabs=1e-13, limit=400)[0]

    x, w = np.linspace(-10, 10, 801), np.linspace(0, 16, 801)
    beside = x[None, :] + w[:, None]
    between = stats.norm.cdf(beside) - stats.norm.cdf(x)
    inner = stats.norm.pdf(x) * stats.norm.pdf(beside) * between ** (n - 2)
    density = n * (n - 1) * integrate.simpson(inner, x=x, axis=1)
    second = integrate.simpson(w * w * density, x=w)
    c4 = stats.chi(n - 1).mean() / np.sqrt(n - 1)
    return {"d2": d2, "d3": float(np.sqrt(second - d2 * d2)), "c4": float(c4)}


def quantiles(q):
    """Coverage factors for 95 % and chi-squared intervals of a standard deviation."""
    dof = np.array(q["dof"])
    return {"t": stats.t.ppf(0.975, dof).tolist(),
            "low": np.sqrt(dof / stats.chi2.ppf(0.975, dof)).tolist(),
            "high": np.sqrt(dof / stats.chi2.ppf(0.025, dof)).tolist()}


for line in sys.stdin:
    question = json.loads(line)
    print(json.dumps(globals()[question["ask"]](question)), flush=True)
