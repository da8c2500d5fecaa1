"""Demand hidden by running out: estimates from counts of which some say only "at least so many".

A count is censored where the shelf was empty at its end: demand was that count or more. Estimates of the mean are for
an exposure of one; each count may have its own exposure (a long week, a Christmas week). Sources: Conrad (1976) for
the Poisson, Nahmias (1994) for the normal, Kaplan and Meier (1958) for the product limit.
"""

from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.special import betainc, betaln, gammainc, gammaln, ndtri

SIZES = np.exp(np.linspace(np.log(0.2), np.log(500.0), 25))  # searched for the size; above the last it is a Poisson


class CensoredFit(NamedTuple):
    """Likeliest mean at exposure one [bottles] and size (variance = mean + mean² ÷ size; infinite for a Poisson)."""

    mean: float
    size: float


def censored_poisson(counts: np.ndarray, is_censored: np.ndarray, exposure: np.ndarray | None = None) -> CensoredFit:
    """Return the likeliest Poisson mean of counts of which some are censored; NA where all are."""
    y, cut, x = _arrays(counts, is_censored, exposure)
    return CensoredFit(_likeliest_mean(y, cut, x, np.inf), np.inf)


def censored_negative_binomial(
    counts: np.ndarray, is_censored: np.ndarray, exposure: np.ndarray | None = None
) -> CensoredFit:
    """Return the likeliest mean and size of negative binomial counts of which some are censored; NA where all are."""
    from scipy.optimize import minimize_scalar

    y, cut, x = _arrays(counts, is_censored, exposure)

    def unlikely(log_size: float) -> float:
        size = float(np.exp(log_size))
        return -_log_likelihood(y, cut, x * _likeliest_mean(y, cut, x, size), size)

    poisson = _likeliest_mean(y, cut, x, np.inf)
    if not poisson > 0:
        return CensoredFit(poisson, np.inf)
    logs = np.log(SIZES)
    best = int(np.argmin([unlikely(value) for value in logs]))
    bounds = (logs[max(best - 1, 0)], logs[min(best + 1, len(logs) - 1)])
    found = minimize_scalar(unlikely, bounds=bounds, method="bounded", options={"xatol": 1e-6})
    if found.fun >= -_log_likelihood(y, cut, x * poisson, np.inf):
        return CensoredFit(poisson, np.inf)
    size = float(np.exp(found.x))
    return CensoredFit(_likeliest_mean(y, cut, x, size), size)


def expected_demand(at_least: np.ndarray, mean: np.ndarray, size: float) -> np.ndarray:
    """Return the demand to be expected where it was `at_least` so many, at `mean` (with its exposure). [bottles]"""
    y, mean = np.asarray(at_least, float), np.asarray(mean, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        if np.isinf(size):
            more = mean * _poisson_from(y - 1, mean) / _poisson_from(y, mean)
        else:
            share = mean / (mean + size)
            more = mean * _from(y - 1, size + 1, share) / _from(y, size, share)
    return np.where(np.isfinite(more), np.maximum(more, y), y)  # far out in the tail there is hardly any more


def product_limit(counts: np.ndarray, is_censored: np.ndarray) -> pd.DataFrame:
    """Return the share of demand above each value by the product limit, without any shape assumed.

    Columns: value (each uncensored one), at_risk (counts that reached it), ended (uncensored at it), above (share).
    Beyond the largest count it is not defined where that one is censored: `above` does not reach zero then.
    """
    y, cut, _ = _arrays(counts, is_censored, None)
    value, ended = np.unique(y[~cut], return_counts=True)
    at_risk = (y[None, :] >= value[:, None]).sum(axis=1)
    above = np.cumprod(1 - ended / at_risk)
    return pd.DataFrame({"value": value, "at_risk": at_risk, "ended": ended, "above": above})


def normal_from_uncensored(mean: float, spread: float, share: float) -> tuple[float, float]:
    """Return mean and standard deviation of normal demand from those of the weeks that did not sell out (Nahmias).

    `share` is the share of weeks that did not; all weeks have the same stock.
    """
    if not 0 < share <= 1:
        raise ValueError(f"share is above 0 and at most 1, not {share}.")
    z = ndtri(share)
    hazard = np.exp(-z * z / 2) / np.sqrt(2 * np.pi) / share if share < 1 else 0.0
    sigma = spread / np.sqrt(1 - (z * hazard if share < 1 else 0.0) - hazard**2)
    return float(mean + sigma * hazard), float(sigma)


def _arrays(
    counts: np.ndarray, is_censored: np.ndarray, exposure: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    y, cut = np.asarray(counts, float), np.asarray(is_censored, bool)
    x = np.ones(len(y)) if exposure is None else np.asarray(exposure, float)
    if (y < 0).any() or (x <= 0).any():
        raise ValueError("Counts are 0 or more and exposures above 0.")
    return y, cut, x


def _likeliest_mean(y: np.ndarray, cut: np.ndarray, x: np.ndarray, size: float) -> float:
    """Solve the likelihood equation: what is expected, censored counts made whole, is what the mean says."""
    from scipy.optimize import brentq

    if not (~cut).any():
        return np.nan
    if not y.any():
        return 0.0

    def slope(log_mean: float) -> float:
        mean = x * np.exp(log_mean)
        whole = np.where(cut, expected_demand(y, mean, size), y)
        return float(((whole - mean) / (1 + mean / size)).sum())

    low = np.log(y.sum() / x.sum())  # censored counts are worth at least themselves
    low, high = low - 1.0, low + 1.0
    while slope(low) < 0:
        low -= 2.0
    while slope(high) > 0:
        high += 2.0
    return float(np.exp(brentq(slope, low, high, xtol=1e-12)))


def _log_likelihood(y: np.ndarray, cut: np.ndarray, mean: np.ndarray, size: float) -> float:
    if np.isinf(size):
        exact, tail = y * np.log(mean) - mean - gammaln(y + 1), _poisson_from(y, mean)
    else:
        share = mean / (mean + size)
        exact = y * np.log(share) + size * np.log1p(-share) - betaln(size, y + 1) - np.log(size + y)
        tail = _from(y, size, share)
    return float(exact[~cut].sum() + np.log(np.maximum(tail[cut], 1e-300)).sum())


def _poisson_from(y: np.ndarray, mean: np.ndarray) -> np.ndarray:
    """Chance of y or more."""
    return np.where(y > 0, gammainc(np.maximum(y, 1), mean), 1.0)


def _from(y: np.ndarray, size: float, share: np.ndarray) -> np.ndarray:
    return np.where(y > 0, betainc(np.maximum(y, 1), size, share), 1.0)
