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


def level_beliefs(hopes: Hopes, level: np.ndarray, variance: float) -> tuple[np.ndarray, np.ndarray]:
    """Return prior mean and variance of each scent's level against the shop's: of those it is like, else the shop's.

    `level` holds the levels found so far. The maker's guess is not among them: it is of a season, see merge_guess.
    """
    mean, spread = np.zeros(len(level)), np.full(len(level), variance)
    for i, others in enumerate(hopes.like):
        if others:
            mean[i] = level[list(others)].mean()
            spread[i] = min(LIKE_SD**2, variance)
    return mean, spread


def merge_guess(hopes: Hopes, season: np.ndarray, blank: bool, rng: np.random.Generator) -> np.ndarray:
    """Return by how much to move each path of each scent so that its season agrees with the maker's guess. [log]

    `season` are drawn bottles of the season, (scent, path), 0 where it is not sold then. Guess and forecast are merged
    by precision: each path goes part of the way to a guess drawn within its range, the less sure the forecast the
    further (conditioning of normal draws on an observation with its own error, as ensemble filters do: Burgers, van
    Leeuwen & Evensen 1998, from memory). So sales take over as soon as they tell more. Before any sale was made in the
    shop (`blank`) the guess is all there is, and each path goes the whole way.
    """
    follows = hopes.told & (season > 0).all(axis=1)
    found = np.log(np.where(season > 0, season, 1.0))
    variance = found.var(axis=1)
    part = np.where(blank, 1.0, variance / (variance + hopes.guess_sd**2))
    drawn = np.nan_to_num(hopes.guess)[:, None] + hopes.guess_sd[:, None] * rng.standard_normal(season.shape)
    return np.where(follows[:, None], part[:, None] * (drawn - found), 0.0)
