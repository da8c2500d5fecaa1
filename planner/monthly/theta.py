"""The optimised theta method, in its dynamic form, on logs without season.

Fiorucci, Pellegrini, Louzada, Petropoulos and Koehler, Models for optimising the theta method and their relationship to
state space models, Int. J. Forecasting 32 (2016) (from memory). Half of it is simple smoothing, half the straight line
through all months so far; how much the line counts is `pull` = 1 - 1/theta.
"""

from typing import NamedTuple

import numpy as np

ALPHAS = np.array([0.02, *np.linspace(0.05, 1.0, 20)])  # share of a month's surprise that the level keeps
LEAD_IN = 3  # the first months only start the line and are not judged


class Theta(NamedTuple):
    """Forecast (series, horizon) and what was found for each series and alpha: weight, start of the level, pull."""

    forecast: np.ndarray
    weight: np.ndarray
    start: np.ndarray
    pull: np.ndarray


def theta_forecast(logs: np.ndarray, horizon: int, alphas: np.ndarray = ALPHAS) -> Theta:
    """Return the forecast of `logs` (series, month) without season; NaN only before the first month of a series.

    For a given alpha the errors are linear in the start of the level and in the pull, so both come from least squares
    (the pull held between 0, plain smoothing, and 1); the alphas are then weighted by likelihood.
    """
    known = ~np.isnan(logs)
    values = np.where(known, logs, 0.0)
    clock = np.cumsum(known, axis=1, dtype=float)
    mean, slope = _lines(values, clock)
    sums, level = _sums(values, clock, mean, slope, alphas)
    uu, ug, gg, ur, gr, rr = sums
    safe = uu + 1e-9
    fixed = safe * gg - ug**2
    pull = np.where(fixed > 1e-12, (safe * gr - ug * ur) / np.where(fixed > 1e-12, fixed, 1.0), 0.0).clip(0.0, 1.0)
    start = (ur - pull * ug) / safe
    squares = rr - 2 * start * ur - 2 * pull * gr + start**2 * uu + 2 * start * pull * ug + pull**2 * gg
    months = clock[:, -1:]
    fit = -0.5 * months * np.log(np.maximum(squares, 0.0) / np.maximum(months, 1.0) + 1e-9)
    weight = np.exp(fit - fit.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    level = level + start * (1 - alphas) ** months
    return Theta(
        _ahead(level, weight, pull, alphas, (months, mean[:, -1:], slope[:, -1:]), horizon), weight, start, pull
    )


def _lines(values: np.ndarray, clock: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return mean and slope of the least squares line through all months up to each one."""
    n = np.maximum(clock, 1.0)
    total, moment = values.cumsum(axis=1), (values * clock).cumsum(axis=1)
    mean = total / n
    across = np.where(clock >= 2, n * (n * n - 1) / 12, 1.0)
    return mean, np.where(clock >= 2, (moment - mean * n * (n + 1) / 2) / across, 0.0)


def _line_part(t: np.ndarray, mean: np.ndarray, slope: np.ndarray, alphas: np.ndarray) -> np.ndarray:
    """Return what a pull of one adds to the forecast of month t, given the line through the t - 1 months before."""
    intercept = mean - t / 2 * slope
    left = (1 - alphas) ** (t - 1)
    return left * intercept + (1 - left * (1 - alphas)) / alphas * slope


def _sums(
    values: np.ndarray, clock: np.ndarray, mean: np.ndarray, slope: np.ndarray, alphas: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return the sums of squares and products that least squares needs, and the last level for a start of zero."""
    series, length = values.shape
    level = np.zeros((series, len(alphas)))
    sums = np.zeros((6, series, len(alphas)))
    for month in range(length):
        t = clock[:, month, None]
        begun = t > 0
        if month:
            u = (1 - alphas) ** np.maximum(t - 1, 0.0)
            g = _line_part(np.maximum(t, 1.0), mean[:, month - 1, None], slope[:, month - 1, None], alphas)
            r = values[:, month, None] - level
            sums += (t > LEAD_IN) * np.stack([u * u, u * g, g * g, u * r, g * r, r * r])
        level = np.where(begun, alphas * values[:, month, None] + (1 - alphas) * level, level)
    return sums, level


def _ahead(
    level: np.ndarray,
    weight: np.ndarray,
    pull: np.ndarray,
    alphas: np.ndarray,
    line: tuple[np.ndarray, np.ndarray, np.ndarray],
    horizon: int,
) -> np.ndarray:
    """Return the weighted forecast; each forecast month moves level and line as if it had happened."""
    months, mean, slope = (np.broadcast_to(part, level.shape) for part in line)
    forecast = np.empty((len(level), horizon))
    for step in range(horizon):
        t = months + step + 1
        ahead = level + pull * _line_part(t, mean, slope, alphas)
        forecast[:, step] = (weight * ahead).sum(axis=1)
        level = alphas * ahead + (1 - alphas) * level
        slope = np.where(t >= 2, ((t - 2) * slope + 6 / t * (ahead - mean)) / (t + 1), 0.0)
        mean = ((t - 1) * mean + ahead) / t
    return forecast
