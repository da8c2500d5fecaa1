"""How good a forecast was: the usual measures, by their published definitions."""

import numpy as np


def pinball(actual: np.ndarray, quantile: np.ndarray, level: float) -> np.ndarray:
    """Return the pinball loss of a quantile: level x short of it, (1 - level) x above it. Units of `actual`.

    >>> round(float(pinball(100, 90, 0.9)), 6), round(float(pinball(80, 90, 0.9)), 6)
    (9.0, 1.0)
    """
    short = np.subtract(actual, quantile)
    return np.maximum(level * short, (level - 1) * short)


def interval_score(actual: float, low: float, high: float, alpha: float) -> float:
    """Return width plus 2/alpha for each unit outside (Gneiting and Raftery, JASA 2007; from memory).

    >>> interval_score(115, 90, 110, 0.2)
    70.0
    """
    return float(high - low + 2 / alpha * (max(low - actual, 0) + max(actual - high, 0)))


def crps(draws: np.ndarray, actual: np.ndarray) -> np.ndarray:
    """Return the continuous ranked probability score of draws (first axis) against what happened.

    Mean distance to what happened less half the mean distance between two draws, from the sorted draws.
    """
    count = len(draws)
    ordered = np.sort(draws, axis=0)
    weight = (2 * np.arange(1, count + 1) - count - 1) / count**2
    return np.abs(ordered - actual).mean(axis=0) - np.tensordot(weight, ordered, axes=(0, 0))


def seasonal_naive(past: np.ndarray, lag: int, ahead: int) -> np.ndarray:
    """Return the last `lag` values, repeated for `ahead` steps.

    >>> seasonal_naive([1, 2, 3, 4], 2, 3)
    array([3., 4., 3.])
    """
    last = np.asarray(past, float)[-lag:]
    return last[np.arange(ahead) % lag]


def mase(past: np.ndarray, actual: np.ndarray, forecast: np.ndarray, lag: int) -> float:
    """Return mean absolute error over that of the seasonal naive inside the past.

    Hyndman and Koehler, Int. J. Forecasting 22 (2006) 679-688 (from memory).
    """
    past = np.asarray(past, float)
    scale = np.abs(past[lag:] - past[:-lag]).mean()
    return float(np.abs(np.subtract(actual, forecast)).mean() / scale)


def smape(actual: np.ndarray, forecast: np.ndarray) -> float:
    """Return the mean of 200 |y - f| / (|y| + |f|), from 0 to 200 (Makridakis and Hibon 2000). [%]"""
    actual, forecast = np.asarray(actual, float), np.asarray(forecast, float)
    return float((200 * np.abs(actual - forecast) / (np.abs(actual) + np.abs(forecast))).mean())
