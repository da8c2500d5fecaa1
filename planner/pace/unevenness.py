"""How uneven sales are beyond pure chance: from one week to the next, and from one season to the next."""

import numpy as np
import pandas as pd

# Weeks of one scent differ by more than chance. Until sales say otherwise, by a variance of 0.12 of the mean squared
# (judgement), which counts as much as twenty pairs of busy weeks.
USUAL_UNEVENNESS = 0.12
USUAL_DRIFT = 0.03  # the same for halves of the pace window: tastes drift by about a sixth (judgement)
PRIOR_PAIRS, PRIOR_HALVES = 20.0, 4.0
MOST_SHARE = 0.8  # a scent that sells more than this of everything makes the season itself, and says nothing of chance


def week_unevenness(bottles: pd.DataFrame, fair: pd.DataFrame) -> float:
    """Variance of a scent's rate from week to week, in parts of the rate squared (1/k of the negative binomial).

    From neighbouring weeks: given what both sold together, the split tells chance from unevenness, whatever the pace,
    and slow drift cancels out. `fair`: weeks on the shelf at the season's average.
    """
    pairs = _pairs(bottles.to_numpy(), fair.to_numpy())
    return _pooled(*pairs, USUAL_UNEVENNESS, PRIOR_PAIRS)


def half_drift(bottles: pd.DataFrame, fair: pd.DataFrame, unevenness: float) -> float:
    """Variance of a scent's rate between the halves of these weeks beyond that of its weeks, as a part of it squared.

    This is how wrong the weeks on the shelf can be about the weeks that were not.
    """
    middle = len(bottles) // 2
    if not middle:
        return USUAL_DRIFT
    sold = np.stack([bottles.iloc[:middle].sum(), bottles.iloc[middle:].sum()])
    weeks = np.stack([fair.iloc[:middle].sum(), fair.iloc[middle:].sum()])
    uneven = unevenness * effective_weeks(fair)
    return max(_pooled(*_pairs(sold, weeks), USUAL_DRIFT, PRIOR_HALVES) - 2 * float(uneven.mean()), 0.0)


def effective_weeks(fair: pd.DataFrame) -> pd.Series:
    """One over the number of equal weeks that would even out as much as these; 0 where none was on the shelf."""
    total = fair.sum()
    return (fair**2).sum().div((total**2).where(total > 0)).fillna(0.0)


def _pairs(sold: np.ndarray, fair: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Unevenness as each pair of neighbours tells it, and how much weight it deserves.

    With n bottles in both and a share p of them expected in the first, chance alone gives n·p·(1−p) of squared
    distance; what is more divided by 2·p²·(1−p)²·n·(n−1) is 1/(k+½) on average (exactly so for p = ½). Each scent is
    part of the season it is set against, which takes its share off the distance.
    """
    share = sold.sum(axis=0) / max(sold.sum(), 1)
    both, n = fair[:-1] + fair[1:], sold[:-1] + sold[1:]
    seen = (fair[:-1] > 0) & (fair[1:] > 0) & (n > 1) & (share < MOST_SHARE)
    with np.errstate(divide="ignore", invalid="ignore"):
        p = fair[:-1] / both
        apart = (sold[:-1] - n * p) ** 2 / (1 - share)
        told = (apart - n * p * (1 - p)) / (2 * (p * (1 - p)) ** 2 * n * (n - 1))
        weight = (4 * p * (1 - p)) ** 2 / (2 / n + USUAL_UNEVENNESS) ** 2
    return told[seen], weight[seen]


def _pooled(told: np.ndarray, weight: np.ndarray, usual: float, prior: float) -> float:
    """Mean of what the pairs tell with the usual value as so many more good pairs; never below a tenth of it."""
    known = prior / USUAL_UNEVENNESS**2
    pooled = (weight @ told + known * usual) / (weight.sum() + known)
    return float(np.clip(pooled / max(1 - pooled / 2, 0.5), usual / 10, 2.0))
