"""Where the level of a new scent is looked for: in the shop's scents, those it is like, and the maker's own guess."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from planner.season.calendar import DAY
from planner.season.priors import GUESS_HOLDS, GUESS_SD, LIKE_SD

FIRST_SEASON = 365 * DAY  # a guess is about the season that ends within a year of the launch


@dataclass(frozen=True)
class Hopes:
    """What the maker says of scents, by scent: places of the scents it is like, and the guess of its first season."""

    like: tuple[tuple[int, ...], ...]
    guess: np.ndarray  # middle of the guess [log bottles in the season], NaN without one
    guess_sd: np.ndarray
    season: np.ndarray  # days of the season guessed for

    @property
    def told(self) -> np.ndarray:
        """Which scents have a guess."""
        return ~np.isnan(self.guess)


def read_hopes(scents: pd.DataFrame, names: tuple[str, ...], launched: np.ndarray, season: np.ndarray) -> Hopes:
    """Return what scents.csv says of each of `names`; a guess counts only for the first season of a new scent.

    `scents` is indexed by scent and has one row for each of `names`.
    """
    place = {name: i for i, name in enumerate(names)}
    said = scents["like"].fillna("").astype(str)
    like = tuple(
        tuple(place[other.strip()] for other in text.split(";") if other.strip() in place and place[other.strip()] != i)
        for i, text in enumerate(said)
    )
    low, high = (scents[name].to_numpy(float, na_value=np.nan) for name in ("guess_low", "guess_high"))
    low, high = np.where(np.isnan(low), high, low), np.where(np.isnan(high), low, high)
    low, high = np.log(np.maximum(np.fmin(low, high), 0.5)), np.log(np.maximum(np.fmax(low, high), 0.5))
    ends = season[-1] if len(season) else np.datetime64("NaT", "D")
    first = (launched <= ends) & (ends - launched < FIRST_SEASON)
    spread = np.maximum((high - low) / (2 * GUESS_HOLDS), GUESS_SD)
    return Hopes(like, np.where(first, (low + high) / 2, np.nan), spread, season)


def level_beliefs(
    hopes: Hopes, level: np.ndarray, variance: float, expected: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return prior mean and variance of each scent's level against the shop's, merged by precision. [log]

    `level` holds the levels found so far; `expected` is the log of the season's bottles of a scent at the shop's level.
    """
    mean, spread = np.zeros(len(level)), np.full(len(level), variance)
    for i, others in enumerate(hopes.like):
        if others:
            mean[i] = level[list(others)].mean()
            spread[i] = min(LIKE_SD**2, variance)
    told = hopes.told
    precision = 1 / spread + np.where(told, 1 / hopes.guess_sd**2, 0.0)
    pull = np.where(told, (np.nan_to_num(hopes.guess) - expected) / hopes.guess_sd**2, 0.0)
    return (mean / spread + pull) / precision, 1 / precision
