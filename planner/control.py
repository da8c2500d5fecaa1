"""Has it changed: limits of an individuals and moving-range chart, and the points that signal."""

from typing import NamedTuple

import numpy as np
import pandas as pd

FEWEST_POINTS = 12  # a shorter baseline gives trial limits only, which signal far too often; common practice, no source
# mean of the range of two normal values ÷ their standard deviation, as published examples use it (1.1284 exactly);
# 3 ÷ 1.128 is the 2.66 of individuals charts: NIST/SEMATECH e-Handbook 6.3.2.2 [read-2nd]
D2 = 1.128
D4 = (
    0.954  # the same for the median of the range: square root of 2 × the upper quartile of a standard normal [computed]
)
MR_LIMIT = 3.267  # highest moving range ÷ mean moving range: 1 + 3 × 0.8525 ÷ 1.1284 [memory, computed]
WIDTH = 3  # limits lie so many standard deviations from the centre


class RunRule(NamedTuple):
    """`points` of the last `window` points lie beyond `sigmas` standard deviations, all on one side."""

    points: int
    window: int
    sigmas: float


# Western Electric handbook (1956) [read-2nd]; the first that holds names the point
WESTERN_ELECTRIC = (RunRule(1, 1, 3), RunRule(2, 3, 2), RunRule(4, 5, 1), RunRule(8, 8, 0))


def individuals_limits(
    frame: pd.DataFrame, column: str, baseline: int = FEWEST_POINTS, spread: str = "mean"
) -> pd.DataFrame:
    """Add the limits of an individuals chart to points in time order.

    Adds centre, lower, upper (of `column`, in its unit), moving_range (distance from the point before), mr_upper, and
    trial: whether the baseline, the first `baseline` points that have a value, holds fewer than FEWEST_POINTS.
    Limits = mean ± 3 × mean moving range ÷ 1.128. With spread "median" centre and spread are taken from the middle
    value instead (median moving range ÷ 0.954), which one spill in the baseline cannot widen. Fewer than two points
    give no limits. Source: NIST/SEMATECH e-Handbook 6.3.2.2.
    """
    if spread not in ("mean", "median"):
        raise ValueError(f"spread is 'mean' or 'median', not '{spread}'.")
    if baseline < 2:
        raise ValueError(f"baseline is 2 points or more, not {baseline}.")
    values = frame[column].dropna().astype(float)
    ranges = values.diff().abs()
    first, moved = values.iloc[:baseline], ranges.iloc[1:baseline]
    sigma = moved.mean() / D2 if spread == "mean" else moved.median() / D4
    centre = (first.mean() if spread == "mean" else first.median()) if len(first) > 1 else np.nan
    return frame.assign(
        centre=centre,
        lower=centre - WIDTH * sigma,
        upper=centre + WIDTH * sigma,
        moving_range=ranges.reindex(frame.index),
        mr_upper=MR_LIMIT * D2 * sigma,
        trial=len(first) < FEWEST_POINTS,
    )


def run_signals(chart: pd.DataFrame, column: str = "loss_share") -> pd.DataFrame:
    """Add `signal`: the sentence of the first Western Electric rule that a point completes, or "".

    `chart` is what individuals_limits returns. Points without a value are passed over. In a process that does not
    change the four rules together signal at one point in 92 on average, the first alone at one in 370, with limits
    known; limits from a short baseline signal more often.
    """
    known = chart[column].notna() & chart["upper"].notna()
    points = chart[known]
    sigma = (points["upper"] - points["centre"]) / WIDTH
    off = points[column] - points["centre"]
    # no spread at all: what differs from the centre by more than rounding is infinitely far off
    still = off.abs() <= 1e-9 * points["centre"].abs()
    scaled = np.where(sigma > 0, off / sigma.where(sigma > 0, 1.0), np.where(still, 0.0, np.sign(off) * np.inf))
    rules = broken_rules(scaled)
    names = points["lot"].astype("str").to_numpy() if "lot" in points else np.arange(1, len(points) + 1).astype(str)
    said = [
        _sentence(rule, above, names[: place + 1])
        for place, (rule, above) in enumerate(zip(rules, scaled > 0, strict=True))
    ]
    return chart.assign(signal=pd.Series(said, index=points.index, dtype="str").reindex(chart.index).fillna(""))


def broken_rules(scaled: np.ndarray) -> np.ndarray:
    """Return the number of the first Western Electric rule (1 to 4) each point completes, 0 for none.

    `scaled` holds distances from the centre in standard deviations, time along the last axis. A point completes a
    rule only when it lies beyond the rule's distance itself.

    >>> broken_rules(np.array([0.5, 2.1, -0.3, 2.2, 3.4])).tolist()
    [0, 0, 0, 2, 1]
    """
    broken = np.zeros(scaled.shape, dtype=int)
    for number, rule in reversed(list(enumerate(WESTERN_ELECTRIC, 1))):
        for beyond in (scaled > rule.sigmas, scaled < -rule.sigmas):
            count = beyond.cumsum(axis=-1)
            count[..., rule.window :] -= count[..., : -rule.window].copy()
            broken[beyond & (count >= rule.points)] = number
    return broken


def _sentence(rule: int, above: bool, names: np.ndarray) -> str:
    """Return what was seen at the last of these points, and since which."""
    if rule == 0:
        return ""
    points, window, sigmas = WESTERN_ELECTRIC[rule - 1]
    side, limit = ("above", "upper") if above else ("below", "lower")
    since = names[-window:][0]
    if rule == 1:
        return f"{names[-1]} lies {side} the {limit} limit."
    if sigmas == 0:
        return f"{points} in a row lie {side} the centre, since {since}."
    way = f"{'two thirds' if sigmas == 2 else 'a third'} of the way to the {limit} limit"
    return f"{points} of {window} in a row lie {side} {way}, since {since}."
