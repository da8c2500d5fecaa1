"""Months that are mostly empty: how often something sells, and how much then."""

from itertools import pairwise
from typing import NamedTuple

import numpy as np

ALPHA = 0.1  # share of a new size or gap that is believed (Croston's usual value, common practice)
EMPTY = 0.25  # with more than so many empty months logarithms tell more of the empty ones than of the others


class Croston(NamedTuple):
    """Size of a month with sales, months from one such month to the next, and what they make a month."""

    size: float
    interval: float
    rate: float


def croston(values: np.ndarray, alpha: float = ALPHA) -> Croston:
    """Return Croston's smoothed size and interval of one series and their quotient, started at the first sale.

    Croston, Operational Research Quarterly 23 (1972) (from memory). Unknown months (NaN) do not count.

    >>> croston([0, 2, 0, 2]).rate
    1.0
    """
    known = np.asarray(values, float)
    known = known[~np.isnan(known)]
    at = np.flatnonzero(known > 0)
    if not len(at):
        return Croston(0.0, np.inf, 0.0)
    size, interval = known[at[0]], at[0] + 1.0
    for before, now in pairwise(at):
        size += alpha * (known[now] - size)
        interval += alpha * (now - before - interval)
    return Croston(float(size), float(interval), float(size / interval))


def unbiased_rate(values: np.ndarray, alpha: float = ALPHA) -> float:
    """Return Croston's rate times 1 - alpha / 2 (Syntetos and Boylan, Int. J. Forecasting 21 (2005), from memory)."""
    return (1 - alpha / 2) * croston(values, alpha).rate


def is_sparse(values: np.ndarray) -> np.ndarray:
    """Say of each series whether more than EMPTY of its known months are empty."""
    known = ~np.isnan(values)
    return ((values == 0) & known).sum(axis=1) > EMPTY * known.sum(axis=1)


def sparse_paths(
    values: np.ndarray, least: float, season: np.ndarray, count: int, rng: np.random.Generator
) -> np.ndarray:
    """Return sample paths of one series, shape (path, horizon), given the factor of each coming month.

    A series that never sold may begin to: once in as many months as were seen, and then `least`.

    Each month sells or does not; what it sells is drawn from the months that did, set to Croston's size. How often it
    sells is itself drawn, from what so few months can tell (a beta distribution with one month on either side).
    """
    known = values[~np.isnan(values)]
    sold = known[known > 0]
    months = len(known)
    if not len(sold):
        sold, found = np.array([least]), Croston(least, months + 1.0, least / (months + 1))
    else:
        found = croston(known)
    chance = 1 / found.interval
    often = rng.beta(1 + chance * months, 1 + (1 - chance) * months, count)
    drawn = sold[rng.integers(len(sold), size=(count, len(season)))] / sold.mean()
    level = (
        (1 - ALPHA / 2) * found.size * chance * (months + 2) / (1 + chance * months)
    )  # the mean of paths is the rate
    return (rng.random((count, len(season))) < often[:, None]) * drawn * level * season
