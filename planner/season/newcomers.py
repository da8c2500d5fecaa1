"""Where the level of a new scent is looked for: in the shop's scents, those it is like, and the maker's own guess."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from planner.season.calendar import DAY
from planner.season.priors import GUESS_HOLDS, GUESS_LEAST_SD, GUESS_SD, GUESS_WRONG, GUESS_WRONG_SD, LIKE_SD

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
    spread = np.where(high > low, np.maximum((high - low) / (2 * GUESS_HOLDS), GUESS_LEAST_SD), GUESS_SD)
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


def merge_guess(
    hopes: Hopes, season: np.ndarray, own: np.ndarray, on_sale: np.ndarray, blank: bool, rng: np.random.Generator
) -> np.ndarray:
    """Return by how much to move each path of each scent so that its season agrees with the maker's guess. [log]

    `season` are drawn bottles of the season, (scent, path), 0 where it is not sold then; `own` is the variance of the
    part of its log that sales of the scent itself can teach, its level. Guess and level are merged by precision: each
    path goes part of the way to a guess drawn within its range, the less sure the level the further (conditioning of
    normal draws on an observation with its own error, as ensemble filters do: Burgers, van Leeuwen & Evensen 1998, from
    memory). What all scents share, the coming Christmas and the drift, a guess does not know and stays as drawn.

    The guess is of the season to be expected of a level: the chance of the season comes on top and does not raise it.

    Once a scent is `on_sale` (has been sold) a guess weighs no more than one with GUESS_SD, and its sales also say
    whether it was one of the good ones: the share of paths that take it for wrong is its chance given them
    (priors.GUESS_WRONG). Before any sale was made in the shop (`blank`) the guess is all there is, and each path goes
    the whole way.
    """
    follows = hopes.told & (season > 0).all(axis=1)
    found, guess = np.log(np.where(season > 0, season, 1.0)), np.nan_to_num(hopes.guess)
    normal = rng.standard_normal((2, *season.shape))
    if blank:
        to = guess[:, None] + hopes.guess_sd[:, None] * normal[0]
        return np.where(follows[:, None], to - found, 0.0)
    whole, middle = found.var(axis=1), found.mean(axis=1)
    own = np.minimum(own, whole)
    expected = middle + (whole - own) / 2  # log of the season to be expected of the middle level
    part = own / np.maximum(whole, 1e-12)  # of the path's departure from the middle: the level that goes with it
    level = part[:, None] * (found - middle[:, None]) + np.sqrt(own * (1 - part))[:, None] * normal[1]
    sure = np.where(on_sale, np.maximum(hopes.guess_sd, GUESS_SD), hopes.guess_sd)
    wrong = np.where(on_sale, _chance_wrong(expected - guess, own, sure), 0.0)
    sd = np.where(rng.random(season.shape) < wrong[:, None], GUESS_WRONG_SD, sure[:, None])
    to = (guess - expected)[:, None] + sd * normal[0]
    return np.where(follows[:, None], own[:, None] / (own[:, None] + sd**2) * (to - level), 0.0)


def _chance_wrong(off: np.ndarray, own: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """Return the chance that a guess which lies `off` the sales, with variance `own`, is a wrong one (Bayes)."""
    good, bad = own + sd**2, own + GUESS_WRONG_SD**2
    odds = np.log((1 - GUESS_WRONG) / GUESS_WRONG) + 0.5 * (np.log(bad / good) - off**2 / good + off**2 / bad)
    return 1 / (1 + np.exp(np.clip(odds, -700, 700)))
