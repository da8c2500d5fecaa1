"""Wider ranges where those of past seasons did not hold: how much, learned from the check on the past."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.season.draws import ALL_SCENTS
from planner.tables import Paths

SHOULD_HOLD = 0.8  # the range that is looked at: from p10 to p90
FEWEST_SEASONS = 2  # one season is one throw of the dice for all scents: it may miss many ranges by bad luck alone
MOST_A_SEASON = 6  # scents rise and fall together: one season tells no more than so many that go their own ways
AS_FORESEEN = 10  # what is believed beforehand: so many outcomes that held as often as they should
LEAST = 1.05  # a smaller change is chance, and nobody would see it
WIDEST = 2.0  # ranges twice as wide hold nearly whatever happens; where that is too little, width is not what is wrong


class Widening(NamedTuple):
    """How much wider ranges are made, and from what: `held` of `of` 80 % ranges of single scents, in `seasons`."""

    factor: float
    held: int
    of: int
    seasons: int


def learn_widening(ranges: pd.DataFrame) -> Widening:
    """Return how many times wider the ranges must be to hold as often as they say: 1 where they did, never less.

    `ranges` is that of the check on the past. The share that held is drawn to 0.8 by AS_FORESEEN outcomes; with normal
    errors, ranges 1.28 / z times as wide hold 0.8 where they held that share, z being its own normal quantile.
    """
    from scipy.special import ndtri

    single = ranges[ranges["scent"] != ALL_SCENTS]
    inside = single["bottles"].between(single["p10"], single["p90"])
    seasons = int(single["origin"].nunique())
    factor = 1.0
    if seasons >= FEWEST_SEASONS:
        season = inside.groupby(single["origin"]).agg(["mean", "size"])
        told = season["size"].clip(upper=MOST_A_SEASON)
        share = ((season["mean"] * told).sum() + SHOULD_HOLD * AS_FORESEEN) / (told.sum() + AS_FORESEEN)
        factor = float(np.clip(ndtri((1 + SHOULD_HOLD) / 2) / ndtri((1 + share) / 2), 1.0, WIDEST))
        factor = factor if factor >= LEAST else 1.0
    return Widening(factor, int(inside.sum()), len(single), seasons)


def widen_paths(paths: Paths, factor: float, rng: np.random.Generator) -> Paths:
    """Return the paths with each scent's season `factor` times as far from its mean, on the log scale; means stay.

    What a path has of a scent is multiplied week by week by one number, so that its weeks keep their shape, and rounded
    up or down by chance to whole bottles. A factor of 1 gives the same paths back.
    """
    if factor == 1:
        return paths
    season = paths.bottles.sum(axis=2).astype(float)
    mean = season.mean(axis=0)
    times = ((season + 0.5) / (mean + 0.5)) ** (factor - 1)
    moved = (season * times).mean(axis=0)
    times *= np.where(moved > 0, mean / np.where(moved > 0, moved, 1.0), 1.0)
    wide = paths.bottles * times[:, :, None]
    bottles = np.floor(wide + rng.random(wide.shape)).astype(paths.bottles.dtype)
    return Paths(bottles, paths.scents, paths.weeks, paths.channel)
