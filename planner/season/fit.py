"""Learn the season: the most likely unknowns, in turn with how far scents, steps and Christmases differ."""

from dataclasses import dataclass

import numpy as np

from planner.season import priors
from planner.season.design import SHAPES, Weeks, columns, past_weeks
from planner.season.history import History
from planner.season.mode import Beliefs, Mode, find_mode
from planner.season.newcomers import level_beliefs
from planner.season.unevenness import Sizes, learn_sizes, usual_sizes

ROUNDS = 6  # later rounds change the season total by less than a hundredth
SHORT, LONG = 3, 40  # Newton steps of a round, and of the last one, at most


@dataclass(frozen=True)
class Spreads:
    """How far things differ, as variances of logs."""

    scent: np.ndarray  # (p,) of each unknown of a scent
    drift: float  # of a step of the whole shop
    year: float  # of a Christmas of the whole shop


@dataclass(frozen=True)
class Fit:
    """What was learned: the mode, the spreads, how uneven the weeks of each scent are."""

    mode: Mode
    spreads: Spreads
    sizes: Sizes
    weeks: Weeks
    on_shelf: np.ndarray  # (scent, week) as used: exposure of the history
    seen: np.ndarray  # years whose Christmas the history has seen


def fit(history: History) -> Fit:
    """Return what the history teaches."""
    weeks, seen = past_weeks(history)
    spreads = _usual_spreads(weeks)
    sizes = usual_sizes(len(history.scents))
    shared, scent = _start(history, weeks, spreads)
    for turn in range(ROUNDS):
        last = turn == ROUNDS - 1
        beliefs = make_beliefs(history, weeks, spreads, sizes, shared, scent)
        mode = find_mode(history, weeks, beliefs, shared, scent, LONG if last else SHORT)
        shared, scent = mode.shared, mode.scent
        if not last:
            spreads = _learn_spreads(weeks, mode, beliefs, spreads)
            sizes = learn_sizes(history, weeks, mode, beliefs) if turn % 2 == 0 else sizes
    return Fit(mode, spreads, sizes, weeks, history.on_shelf, seen)


def scent_groups(weeks: Weeks) -> np.ndarray:
    """Return the name in priors.SPREADS of the spread each unknown of a scent is drawn with."""
    shapes = ["wave" if name in ("sine", "cosine") else name for name in SHAPES]
    return np.array(["level", "trend", *["drift"] * weeks.steps, *["year"] * weeks.years, *shapes])


def make_beliefs(
    history: History, weeks: Weeks, spreads: Spreads, sizes: Sizes, shared: np.ndarray, scent: np.ndarray
) -> Beliefs:
    """Return what is believed of the unknowns for these spreads; `shared` and `scent` place new scents."""
    shared_mean, shared_precision = _shared_beliefs(weeks, spreads, history.blank)
    mean, precision = np.zeros_like(scent), np.tile(1 / spreads.scent, (len(scent), 1))
    usual = min(spreads.scent[0], priors.LIKE_SD**2) if history.blank else spreads.scent[0]
    mean[:, 0], variance = level_beliefs(history.hopes, scent[:, 0], usual)
    precision[:, 0] = 1 / variance
    return Beliefs(shared_mean, shared_precision, mean, precision, sizes.usual)


def _shared_beliefs(weeks: Weeks, spreads: Spreads, blank: bool) -> tuple[np.ndarray, np.ndarray]:
    """Return mean and precision matrix of the shared unknowns."""
    mean, covariance = priors.season_prior()
    events = weeks.features.shape[-1] - len(mean)
    level_sd = priors.FIRST_PACE_SD if blank else priors.LEVEL_SD
    slow = [level_sd**2, priors.TREND_SD**2, *[spreads.drift] * weeks.steps, *[spreads.year] * weeks.years]
    spread = np.diag([*slow, *np.zeros(len(mean)), *[priors.EVENT_SD**2] * events, priors.LAUNCH_SD**2])
    first = len(slow)
    spread[first : first + len(mean), first : first + len(mean)] = covariance
    centre = np.concatenate([np.zeros(first), mean, np.full(events, priors.EVENT_MEAN), [priors.LAUNCH_MEAN]])
    centre[0] = np.log(priors.FIRST_PACE) if blank else 0.0
    return centre, np.linalg.inv(spread)


def _usual_spreads(weeks: Weeks) -> Spreads:
    variance = np.array([priors.SPREADS[name][0] ** 2 for name in scent_groups(weeks)])
    return Spreads(variance, priors.SHARED_DRIFT[0] ** 2, priors.SHARED_YEAR[0] ** 2)


def _start(history: History, weeks: Weeks, spreads: Spreads) -> tuple[np.ndarray, np.ndarray]:
    """Return unknowns to start from: each scent's mean level under the usual season."""
    shared, _ = _shared_beliefs(weeks, spreads, history.blank)
    season = columns(weeks, shared[weeks.day_effects]).season
    expected = (history.on_shelf * np.exp(season)).sum(axis=1)
    level = np.log((history.bottles.sum(axis=1) + 0.5) / (expected + 0.5))
    known = expected > 0
    shared[0] = level[known].mean() if known.any() else shared[0]
    scent = np.zeros((len(level), len(spreads.scent)))
    scent[known, 0] = level[known] - shared[0]
    return shared, scent


def _learn_spreads(weeks: Weeks, mode: Mode, beliefs: Beliefs, spreads: Spreads) -> Spreads:
    """Return the spreads that go with the mode."""
    unsure = np.einsum("npp->np", mode.scent_cov) + ((mode.follow @ mode.shared_cov) * mode.follow).sum(axis=2)
    square = (mode.scent - beliefs.scent_mean) ** 2
    groups, variance = scent_groups(weeks), spreads.scent.copy()
    for name, prior in priors.SPREADS.items():
        members = groups == name
        if members.any():
            variance[members] = _spread(square[:, members], unsure[:, members], variance[members][0], *prior)
    steps = slice(2, 2 + weeks.steps)
    years = slice(steps.stop, steps.stop + weeks.years)
    square, unsure = mode.shared**2, np.diag(mode.shared_cov)
    drift = _spread(square[steps], unsure[steps], spreads.drift, *priors.SHARED_DRIFT)
    year = _spread(square[years], unsure[years], spreads.year, *priors.SHARED_YEAR)
    return Spreads(variance, drift, year)


def _spread(square: np.ndarray, unsure: np.ndarray, variance: float, sd: float, weight: float) -> float:
    """Return the variance of effects with these squares, not counting mere uncertainty (Wood & Fasiolo 2017)."""
    free = max(square.size - unsure.sum() / variance, 0.0)
    return float((square.sum() + weight * sd**2) / (free + weight))
