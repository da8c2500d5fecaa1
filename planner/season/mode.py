"""The most likely unknowns for given spreads: Newton steps on all scents at once."""

from dataclasses import dataclass

import numpy as np

from planner.season.design import Columns, Weeks, columns, log_season
from planner.season.hidden import log_chance_of_more, slope_and_curve
from planner.season.history import History

ENOUGH = 1e-6  # a step that changes no rate by more than this is the last [log]
LONGEST_STEP = 2.0  # no rate changes by more in one step [log]
HALVINGS = 12  # a step that made things worse is halved so often before the search stops


@dataclass(frozen=True)
class Beliefs:
    """What is believed before the sales: means and precisions (one over variance, or its matrix) of the unknowns."""

    shared_mean: np.ndarray  # (q,)
    shared_precision: np.ndarray  # (q, q)
    scent_mean: np.ndarray  # (n, p)
    scent_precision: np.ndarray  # (n, p)
    size: np.ndarray  # (n,) size of the negative binomial: variance = mean + mean^2 / size


@dataclass(frozen=True)
class Mode:
    """The most likely unknowns and how sure they are (normal around the mode)."""

    shared: np.ndarray  # (q,)
    scent: np.ndarray  # (n, p)
    shared_cov: np.ndarray  # (q, q)
    scent_cov: np.ndarray  # (n, p, p), given the shared ones
    follow: np.ndarray  # (n, p, q): a scent's unknowns move by -follow @ (what the shared ones move by)


@dataclass(frozen=True)
class _Point:
    shared: np.ndarray
    scent: np.ndarray
    means: np.ndarray  # (T, F) slope of the season there
    rate: np.ndarray  # (n, T) log bottles a week on the shelf
    value: float  # log posterior, up to a constant


def find_mode(
    history: History, weeks: Weeks, beliefs: Beliefs, shared: np.ndarray, scent: np.ndarray, steps: int
) -> Mode:
    """Return the mode, starting from the unknowns given, by at most so many steps.

    The shapes of the scents' departures are taken at the starting day effects; the shared season is exact.
    """
    fixed = columns(weeks, shared[weeks.day_effects])
    here = _point(history, weeks, fixed, beliefs, shared, scent)
    for _ in range(steps):
        there, change = _newton(history, weeks, fixed, beliefs, here)
        if there is None:
            break
        here = there
        if change < ENOUGH:
            break
    _, curve = derivatives(history, here.rate, beliefs.size)
    return Mode(here.shared, here.scent, *_invert(weeks, fixed, here.means, curve, beliefs))


def _point(
    history: History, weeks: Weeks, fixed: Columns, beliefs: Beliefs, shared: np.ndarray, scent: np.ndarray
) -> _Point:
    season, means = log_season(weeks.features, weeks.opened, shared[weeks.day_effects])
    rate = log_rate(season, fixed, weeks, shared, scent)
    off, apart = shared - beliefs.shared_mean, scent - beliefs.scent_mean
    prior = off @ beliefs.shared_precision @ off + (apart**2 * beliefs.scent_precision).sum()
    value = log_likelihood(history, rate, beliefs.size).sum() - 0.5 * prior
    return _Point(shared, scent, means, rate, float(value))


def _newton(
    history: History, weeks: Weeks, fixed: Columns, beliefs: Beliefs, here: _Point
) -> tuple[_Point | None, float]:
    """Return where one step leads (None: nowhere better) and the largest change of a rate."""
    slope, curve = derivatives(history, here.rate, beliefs.size)
    common = np.hstack([fixed.frame, here.means])
    gradient = np.append(slope.sum(axis=0) @ common, (slope * weeks.launch).sum())
    gradient -= beliefs.shared_precision @ (here.shared - beliefs.shared_mean)
    own = slope @ fixed.own - (here.scent - beliefs.scent_mean) * beliefs.scent_precision
    shared_cov, scent_cov, follow = _invert(weeks, fixed, here.means, curve, beliefs)
    move = shared_cov @ (gradient - np.tensordot(own, follow, axes=2))
    scent_move = (scent_cov @ own[:, :, None])[:, :, 0] - follow @ move
    change = common @ move[:-1] + weeks.launch * move[-1] + scent_move @ fixed.own.T
    largest = float(np.abs(change * (history.on_shelf > 0)).max(initial=0.0))
    part = min(1.0, LONGEST_STEP / max(largest, 1e-300))
    for _ in range(HALVINGS):
        there = _point(history, weeks, fixed, beliefs, here.shared + part * move, here.scent + part * scent_move)
        if there.value >= here.value - 1e-12 * abs(here.value):
            return there, part * largest
        part /= 2
    return None, 0.0


def _invert(
    weeks: Weeks, fixed: Columns, means: np.ndarray, curve: np.ndarray, beliefs: Beliefs
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Invert the Hessian: covariance of the shared unknowns, of each scent's given those, how scents follow the shared.

    It has the form of an arrow, scents touch only the shared unknowns: each is eliminated by itself (Schur complement).
    """
    common = np.hstack([fixed.frame, means])
    weighted = curve[:, None, :] * fixed.own.T  # (n, p, T)
    felt = curve * weeks.launch
    scent_cov = np.linalg.inv(weighted @ fixed.own + _diagonals(beliefs.scent_precision))
    cross = np.concatenate([weighted @ common, (felt @ fixed.own)[:, :, None]], axis=2)
    follow = scent_cov @ cross
    shared = np.empty_like(beliefs.shared_precision)
    shared[:-1, :-1] = (common * curve.sum(axis=0)[:, None]).T @ common
    shared[-1, :-1] = shared[:-1, -1] = felt.sum(axis=0) @ common
    shared[-1, -1] = (felt * weeks.launch).sum()
    schur = shared + beliefs.shared_precision - np.tensordot(cross, follow, axes=([0, 1], [0, 1]))
    return np.linalg.inv((schur + schur.T) / 2), scent_cov, follow


def log_rate(season: np.ndarray, fixed: Columns, weeks: Weeks, shared: np.ndarray, scent: np.ndarray) -> np.ndarray:
    """Return the log of the bottles a week on the shelf, shape (scent, week)."""
    common = season + fixed.frame @ shared[: fixed.frame.shape[1]]
    return common + weeks.launch * shared[-1] + scent @ fixed.own.T


def mode_rate(weeks: Weeks, mode: Mode) -> np.ndarray:
    """Return the most likely log rates of the weeks, shape (scent, week)."""
    fixed = columns(weeks, mode.shared[weeks.day_effects])
    return log_rate(fixed.season, fixed, weeks, mode.shared, mode.scent)


def log_likelihood(history: History, rate: np.ndarray, size: np.ndarray) -> np.ndarray:
    """Return the negative binomial log likelihood of each week, without what does not depend on the rate.

    A week on the shelf for a share of its days has that share of the mean. The same holds for sales that stop when the
    stock does: the likelihood of a count up to a stop is proportional to rate^count * exp(-rate * time). Of a week of
    which only the end is known it is the chance that so many or more were wanted.
    """
    mean = history.on_shelf * np.exp(rate)
    value = history.bottles * rate - (history.bottles + size[:, None]) * np.log1p(mean / size[:, None])
    at = np.nonzero(history.end_only)
    if len(at[0]):
        value[at] = log_chance_of_more(history.bottles[at], mean[at], size[at[0]])
    return np.where(history.on_shelf > 0, value, 0.0)


def derivatives(history: History, rate: np.ndarray, size: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return slope and downward curvature of the log likelihood in each log rate."""
    mean = history.on_shelf * np.exp(rate)
    share = size[:, None] / (size[:, None] + mean)
    known = history.on_shelf > 0
    slope = (history.bottles - mean) * share
    curve = mean * share * (1 - share) * (history.bottles + size[:, None]) / np.maximum(mean, 1e-300)
    at = np.nonzero(history.end_only)
    if len(at[0]):
        slope[at], curve[at] = slope_and_curve(history.bottles[at], mean[at], size[at[0]])
    return np.where(known, slope, 0.0), np.where(known, curve, 0.0)


def _diagonals(values: np.ndarray) -> np.ndarray:
    return values[:, :, None] * np.eye(values.shape[1])
