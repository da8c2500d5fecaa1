"""Smoothing with a damped trend and a season that may move, for all series and many settings at once.

Instead of the one best setting, every setting of a small grid counts by how well it told each next month: weights
proportional to its likelihood. With few months the weights are spread wide, and the paths with them.
"""

from dataclasses import dataclass

import numpy as np

from planner.monthly.effects import NOISE_SD, NOISE_WEIGHT, Effects, places

LEVEL = (0.02, 0.1, 0.2, 0.4, 0.7)  # share of a month's surprise that the level keeps
TREND = (0.0, 0.02, 0.1)  # share of that which the trend keeps
SEASON = (0.0, 0.05, 0.15, 0.3)  # share that the month keeps for the next year
DAMPING = (0.8, 0.9, 0.97)  # how much of the trend lives on from month to month
LINES = 2.0  # level and trend take two months of evidence


@dataclass(frozen=True)
class Smoothed:
    """States after the last month, for n series and k settings; logs."""

    settings: np.ndarray  # (4, k): level, trend, season, damping
    weight: np.ndarray  # (n, k), sums to one
    level: np.ndarray  # (n, k)
    trend: np.ndarray  # (n, k)
    season: np.ndarray  # (n, period, k)
    noise: np.ndarray  # (n,) variance of a month's surprise
    evidence: np.ndarray  # (n,) months behind `noise`


def smooth(logs: np.ndarray, effects: Effects) -> Smoothed:
    """Run every setting through the months of `logs` (series, month), NaN where unknown."""
    period = effects.season.shape[1]
    trends = np.array(TREND) * 12 / period  # a quarter tells as much of the trend as three months
    settings = np.stack([one.ravel() for one in np.meshgrid(LEVEL, trends, SEASON, DAMPING, indexing="ij")])
    level, trend, season, squares = _start(logs, effects, settings.shape[1])
    keep, slope, yearly, damping = settings
    known, first = ~np.isnan(logs), _first(logs)
    for month, place in enumerate(places(logs.shape[1], period)):
        ahead = level + damping * trend
        off = logs[:, month, None] - ahead - season[:, place]
        surprise = np.where(known[:, month, None], off, 0.0)
        begun = (month >= first)[:, None]
        squares += surprise**2
        level = np.where(begun, ahead + keep * surprise, level)
        trend = np.where(begun, damping * trend + keep * slope * surprise, trend)
        season[:, place] += yearly * (1 - keep) * surprise
    months = known.sum(axis=1)
    fit = -0.5 * months[:, None] * np.log(squares / np.maximum(months, 1)[:, None] + 1e-9)
    weight = np.exp(fit - fit.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    spare = np.maximum(months - effects.spent - LINES, 0.0) + NOISE_WEIGHT
    noise = ((weight * squares).sum(axis=1) + NOISE_WEIGHT * NOISE_SD**2) / spare
    return Smoothed(settings, weight, level, trend, season, noise, spare)


def _first(logs: np.ndarray) -> np.ndarray:
    known = ~np.isnan(logs)
    return np.where(known.any(axis=1), known.argmax(axis=1), logs.shape[1])


def _start(logs: np.ndarray, effects: Effects, count: int) -> tuple[np.ndarray, ...]:
    """Return the states before the first month: the mean of the first year less its season, no trend."""
    period = effects.season.shape[1]
    plain = logs - effects.season[:, places(logs.shape[1], period)]
    first = _first(logs)
    year = np.arange(logs.shape[1]) < first[:, None] + period
    known = year & ~np.isnan(logs)
    mean = np.where(known, plain, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    level = np.repeat(mean[:, None], count, axis=1)
    season = np.repeat(effects.season[:, :, None], count, axis=2)
    return level, np.zeros_like(level), season, np.zeros_like(level)


def smooth_ahead(smoothed: Smoothed, horizon: int) -> np.ndarray:
    """Return the weighted forecast of the settings, shape (series, horizon); logs."""
    damping = smoothed.settings[3]
    lives = np.cumsum(damping ** np.arange(1, horizon + 1)[:, None], axis=0)
    weight, period = smoothed.weight, smoothed.season.shape[1]
    line = (weight * smoothed.level).sum(axis=1)[:, None] + (weight * smoothed.trend) @ lives.T
    season = (weight[:, None, :] * smoothed.season).sum(axis=2)
    return line + season[:, np.arange(horizon) % period]


def surprises(logs: np.ndarray, effects: Effects, smoothed: Smoothed) -> np.ndarray:
    """Return what each month was off by under the likeliest setting of its series, NaN where unknown; logs."""
    best = smoothed.weight.argmax(axis=1)
    keep, slope, yearly, damping = smoothed.settings[:, best]
    level, trend, season, _ = (state[..., 0] for state in _start(logs, effects, 1))
    known, first = ~np.isnan(logs), _first(logs)
    off = np.full(logs.shape, np.nan)
    for month, place in enumerate(places(logs.shape[1], season.shape[1])):
        ahead = level + damping * trend
        off[:, month] = logs[:, month] - ahead - season[:, place]
        surprise = np.where(known[:, month], off[:, month], 0.0)
        begun = month >= first
        level = np.where(begun, ahead + keep * surprise, level)
        trend = np.where(begun, damping * trend + keep * slope * surprise, trend)
        season[:, place] += yearly * (1 - keep) * surprise
    return off


def smooth_paths(smoothed: Smoothed, doubt: np.ndarray, shocks: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return sample paths of the logs, shape (series, path, horizon), from standard normal `shocks` of that shape.

    Each path draws its setting by weight, the size of its surprises, and where in its doubt (variance, series by
    period) each month's effect lies.
    """
    series, count, horizon = shocks.shape
    period = smoothed.season.shape[1]
    pick = _pick(smoothed.weight, rng.random((series, count)))
    keep, slope, yearly, damping = smoothed.settings[:, pick]
    level, trend = (np.take_along_axis(state, pick, axis=1) for state in (smoothed.level, smoothed.trend))
    season = np.take_along_axis(smoothed.season, pick[:, None, :], axis=2)
    season += np.sqrt(doubt)[:, :, None] * rng.standard_normal(season.shape)
    evidence = np.broadcast_to(smoothed.evidence[:, None], (series, count))
    size = np.sqrt(smoothed.noise[:, None] * evidence / rng.chisquare(evidence + 2))  # two more: tails stay finite
    logs = np.empty(shocks.shape)
    for month in range(horizon):
        ahead, place = level + damping * trend, month % period
        surprise = size * shocks[:, :, month]
        logs[:, :, month] = ahead + season[:, place] + surprise
        level, trend = ahead + keep * surprise, damping * trend + keep * slope * surprise
        season[:, place] += yearly * (1 - keep) * surprise
    return logs


def _pick(weight: np.ndarray, chance: np.ndarray) -> np.ndarray:
    """Return which setting each path takes, given a number from 0 to 1 for each."""
    bounds = weight.cumsum(axis=1)
    bounds[:, -1] = 1.0
    return np.stack([np.searchsorted(row, one, side="right") for row, one in zip(bounds, chance, strict=True)]).clip(
        0, weight.shape[1] - 1
    )
