"""Independent answers for tests/monitoring/oracle.rs.

Reads one JSON object a line from standard input, writes one a line to standard output, in the same order. Every
answer comes from numpy, scipy, pandas or statsmodels, or from the general formula written out with matrices, never
from the short forms that the program uses.
"""

import json
import sys
from fractions import Fraction

import numpy as np
import pandas as pd
import statsmodels.api as sm
from scipy import integrate, stats


def student(q):
    return {
        "quantile": stats.t.ppf(q["p"], q["df"]),
        "below": stats.t.cdf(q["x"], q["df"]),
    }


def both_below(q):
    """P(X < a, Y < b) by integrating the conditional distribution of Y over X."""
    a, b, rho, df = q["a"], q["b"], q["correlation"], q["df"]

    def integrand(x):
        scale = np.sqrt((df + x * x) / (df + 1) * (1 - rho * rho))
        return stats.t.pdf(x, df) * stats.t.cdf((b - rho * x) / scale, df + 1)

    value, error = integrate.quad(integrand, -np.inf, a, epsabs=1e-10, epsrel=1e-10, limit=500)
    assert error < 1e-7, error
    return {"value": value}


def inverse_root(matrix):
    values, vectors = np.linalg.eigh(matrix)
    return vectors @ np.diag(values**-0.5) @ vectors.T


def clustered(q):
    """CR2 and Satterthwaite's degrees of freedom by Bell and McCaffrey's general formulas, with matrices."""
    days = np.array(q["days"])
    y = np.array(q["values"], dtype=float)
    n = len(y)
    x = np.ones((n, 1))
    bread = np.linalg.inv(x.T @ x)
    hat = np.eye(n) - x @ bread @ x.T
    residuals = hat @ y
    meat = np.zeros((1, 1))
    columns = []
    for day in np.unique(days):
        rows = days == day
        root = inverse_root(hat[np.ix_(rows, rows)])
        score = x[rows].T @ root @ residuals[rows]
        meat += np.outer(score, score)
        columns.append(hat[rows].T @ root @ x[rows] @ bread[:, 0])
    omega = np.array(columns) @ np.array(columns).T
    df = np.trace(omega) ** 2 / np.sum(omega * omega)
    variance = (bread @ meat @ bread)[0, 0]
    interval = stats.t.interval(0.95, df, loc=y.mean(), scale=np.sqrt(variance))
    answer = {"mean": y.mean(), "variance": variance, "df": df, "interval": interval}
    sizes = pd.Series(y).groupby(days).size()
    if sizes.nunique() == 1:
        # Equally many readings each day: statsmodels' cluster-robust variance, and the t interval of the day means.
        fitted = sm.OLS(y, x).fit(cov_type="cluster", cov_kwds={"groups": days})
        assert np.isclose(fitted.cov_params()[0, 0], variance)
        means = pd.Series(y).groupby(days).mean()
        ordinary = stats.t.interval(0.95, len(sizes) - 1, loc=means.mean(), scale=stats.sem(means))
        assert np.allclose(ordinary, interval), (ordinary, interval)
        answer["balanced"] = True
    return answer


def widened(q):
    """The factor and the degrees of freedom by matrices: R of an autoregression, M that takes the mean off."""
    days = np.array(q["days"])
    m = len(days)
    r = q["correlation"] ** np.abs(days[:, None] - days[None, :])
    centre = np.eye(m) - np.ones((m, m)) / m
    variance = np.ones(m) @ r @ np.ones(m) / m**2
    spread = centre @ r
    expected = np.trace(spread) / (m - 1) / m
    df = np.trace(spread) ** 2 / np.trace(spread @ spread)
    means = np.array(q["means"], dtype=float)
    reach = stats.t.ppf(0.975, df) * np.sqrt(means.var(ddof=1) / m * variance / expected)
    return {"interval": [means.mean() - reach, means.mean() + reach]}


def variability(q):
    values = pd.Series(q["values"], dtype=float)
    return {
        "n": len(values),
        "sd": np.std(values.to_numpy(), ddof=1),
        "cv": 100 * stats.variation(values.to_numpy(), ddof=1),
        "arv": values.diff().abs().mean(),
        "range": np.ptp(values.to_numpy()),
    }


def pettitt(q):
    """By ranks: U_t = t(n + 1) - 2 * (sum of the first t ranks), which is positive for a step upwards."""
    values = np.array(q["values"], dtype=float)
    n = len(values)
    u = np.arange(1, n) * (n + 1) - 2 * np.cumsum(stats.rankdata(values))[:-1]
    k = u.max()
    return {"at": int(u.argmax()) + 1, "p": float(np.exp(-6 * k**2 / (n**3 + n**2))) if k > 0 else 1.0}


def welch(q):
    """Of the day means, which is what the clustered form comes to when every day has equally many readings."""
    first, second = np.array(q["first"], dtype=float), np.array(q["second"], dtype=float)
    result = stats.ttest_ind(second, first, equal_var=False)
    interval = result.confidence_interval(0.95)
    return {"by": second.mean() - first.mean(), "interval": [interval.low, interval.high]}


def unlike(q):
    """statsmodels' standard error of one further observation."""
    earlier = np.array(q["earlier"], dtype=float)
    fitted = sm.OLS(earlier, np.ones(len(earlier))).fit()
    se = fitted.get_prediction([1.0]).se_obs[0]
    t = (q["newest"] - earlier.mean()) / se
    return {"p": 2 * stats.t.sf(abs(t), len(earlier) - 1)}


def period(q):
    """A whole period with pandas; thresholds compared as fractions."""
    d = pd.DataFrame(q["readings"])
    d = d[d.day.between(0, q["days"] - 1)].sort_values(["day", "minute"])
    countable = d[d.disposition != "set-aside"]
    counted = countable[countable.slot.isin(q["sessions"])]
    outside = countable[~countable.slot.isin(q["sessions"])]
    without = counted[counted.day != counted.day.min()]
    used = without if q["drop"] else counted
    per_sitting = used.groupby(["day", "slot", "session"])
    towards = int(per_sitting.size().clip(upper=q["per_session"]).sum()) if len(used) else 0
    sittings = per_sitting[["systolic", "diastolic"]].mean().mean() / 10
    enough = towards >= q["readings_min"] and counted.day.nunique() >= q["days_min"]

    def mean(rows):
        if not enough or rows.empty:
            return None
        # Values came as tenths, so that nothing is rounded on the way.
        return [float(Fraction(int(rows[c].sum()), 10 * len(rows))) for c in ("systolic", "diastolic")]

    def at_or_above(rows):
        means = [Fraction(int(rows[c].sum()), 10 * len(rows)) for c in ("systolic", "diastolic")]
        return means[0] >= 135 or means[1] >= 85

    first = used[used.slot == "morning"].groupby("day").first()
    answer = {
        "counted": len(countable),
        "mornings": int(used[used.slot == "morning"].day.nunique()),
        "evenings": int(used[used.slot == "evening"].day.nunique()),
        "sittings": int(per_sitting.ngroups) if len(used) else 0,
        "mean_of_sittings": [float(sittings.systolic), float(sittings.diastolic)] if len(used) else None,
        "outside": len(outside),
        "with_outside": mean(pd.concat([used, outside[outside.day != counted.day.min()] if q["drop"] else outside])),
        "marked": int((d.disposition == "marked").sum()),
        "set_aside": int((d.disposition == "set-aside").sum()),
        "sessions": int(counted.session.nunique()),
        "sufficient": bool(enough),
        "average": mean(used),
        "average_of_all_days": mean(counted),
        "average_without_first_day": mean(without),
        "morning": mean(used[used.slot == "morning"]),
        "evening": mean(used[used.slot == "evening"]),
        "first_morning": mean(first),
        "at_or_above": bool(at_or_above(used)) if enough else None,
    }
    if len(used) > 1:
        values = used.systolic / 10
        answer["sd"] = values.std()
        answer["arv"] = values.diff().abs().mean()
    return answer


def survey(q):
    """Each person's mean and standard deviation, and how many adults would be asked for a third reading."""
    d = pd.read_csv(q["file"])
    systolic, diastolic = d[["sbp1", "sbp2", "sbp3"]], d[["dbp1", "dbp2", "dbp3"]]
    adults = d[(d.age >= 18) & d[["sbp1", "dbp1", "sbp2", "dbp2"]].notna().all(axis=1)]
    heard = adults[(adults.dbp1 > 0) & (adults.dbp2 > 0)]
    ds = (adults.sbp1 - adults.sbp2).abs() > 10
    dd = (heard.dbp1 - heard.dbp2).abs() > 10
    whole = systolic.notna().to_numpy() & diastolic.notna().to_numpy()
    systolic, diastolic = systolic.where(whole), diastolic.where(whole)
    blank = lambda column: [None if pd.isna(v) else float(v) for v in column]
    return {
        "systolic_mean": blank(systolic.mean(axis=1)),
        "diastolic_mean": blank(diastolic.mean(axis=1)),
        "systolic_sd": blank(systolic.std(axis=1)),
        "diastolic_sd": blank(diastolic.std(axis=1)),
        "asked": [len(adults), len(heard), int(ds.sum()), int(dd.sum()), int((dd | ds[heard.index]).sum())],
    }


QUESTIONS = {f.__name__: f for f in (student, both_below, clustered, widened, variability, pettitt, welch, unlike, period, survey)}


def plain(value):
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(type(value))


for line in sys.stdin:
    question = json.loads(line)
    print(json.dumps(QUESTIONS[question["ask"]](question), default=plain))
