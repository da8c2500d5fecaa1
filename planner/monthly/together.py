"""What the scents of one shop have in common beside the season: good and bad months, and what nobody knows yet."""

from dataclasses import replace

import numpy as np

from planner.monthly.effects import Effects
from planner.monthly.smoothing import Smoothed, surprises

ALIKE, ALIKE_MONTHS = 0.3, 12  # scents of one shop have good months together; counts as a year of evidence (judgement)
# One year's peak is stronger or weaker than its season: for all scents at once, and for each. As a share of the peak's
# height on the log scale; a few years of months cannot tell, so it is set (judgement, as in the weekly model).
PEAK_SD = 0.2
DRIFT_SD = 0.12  # a month of taste drifting that one year of months cannot show; less with more of them
TOUCHED = 0.7  # where the profile is off it is off alike in neighbouring months


def alike_noise(smoothed: Smoothed) -> Smoothed:
    """Return the states with surprises of one shop's scents made more alike: few months say little of their size."""
    evidence = smoothed.evidence + ALIKE_MONTHS
    shop = np.average(smoothed.noise, weights=smoothed.evidence)
    noise = (smoothed.noise * smoothed.evidence + shop * ALIKE_MONTHS) / evidence
    return replace(smoothed, noise=noise, evidence=evidence)


def common_shocks(
    logs: np.ndarray, effects: Effects, smoothed: Smoothed, shape: tuple[int, int, int], rng: np.random.Generator
) -> np.ndarray:
    """Return standard normal shocks (series, path, month), correlated over the series as their surprises were."""
    alike = _correlation(surprises(logs, effects, smoothed))
    return np.sqrt(1 - alike) * rng.standard_normal(shape) + np.sqrt(alike) * rng.standard_normal(shape[1:])


def _correlation(off: np.ndarray) -> float:
    """Return the mean correlation of the surprises of two series, pulled to ALIKE."""
    known = ~np.isnan(off)
    size = np.sqrt(np.where(known, off**2, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1))
    each = np.where(known, off, 0.0) / np.where(size > 0, size, 1.0)[:, None]
    several = known.sum(axis=0)
    pairs = several * (several - 1)
    product = ((each.sum(axis=0) ** 2 - (each**2).sum(axis=0)) / np.maximum(pairs, 1))[pairs > 0]
    found = (product.sum() + ALIKE_MONTHS * ALIKE) / (len(product) + ALIKE_MONTHS)
    return float(np.clip(found, 0.0, 0.95))


def shop_doubts(
    effects: Effects, months: np.ndarray, shape: tuple[int, int, int], rng: np.random.Generator
) -> np.ndarray:
    """Return what surprises do not hold, shape (series, path, month): the season shared, drift, and the coming peaks.

    `months` says how many months of each series are known.
    """
    series, count, horizon = shape
    period = effects.season.shape[1]
    place, year = np.arange(horizon) % period, np.arange(horizon) // period
    profile = np.sqrt(1 - TOUCHED) * rng.standard_normal((count, period))
    profile = (profile + np.sqrt(TOUCHED) * rng.standard_normal((count, 1))) * np.sqrt(effects.shared)
    size = DRIFT_SD * np.sqrt(12 / period * 12 / np.maximum(months, 6))
    drift = size[:, None, None] * rng.standard_normal(shape).cumsum(axis=2)
    years = year[-1] + 1
    strong = rng.standard_normal((1, count, years)) + rng.standard_normal((series, count, years))
    height = np.maximum(effects.season - np.median(effects.season, axis=1, keepdims=True), 0.0)
    return profile[:, place] + drift + PEAK_SD * strong[:, :, year] * height[:, None, place]
