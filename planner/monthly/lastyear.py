"""Last year's months with half of the growth: hard to beat where there are two or three years of months."""

import numpy as np

LIMITS = (0.8, 1.25)  # a half-year's growth is believed between these


def half_drift(values: np.ndarray, horizon: int, period: int) -> np.ndarray:
    """Return last year's months times the square root of the last half-year's growth, shape (series, horizon).

    Growth is the last half-year over the same months a year before, of the months known in both. NaN where last year's
    month is not known.

    >>> half_drift(np.array([[4.0, 2.0, 4.0, 2.0, 4.0, 2.0, 5.0, 2.29]]), 2, 4).round(2).tolist()
    [[4.41, 2.2]]
    """
    length = values.shape[1]
    if length < period:
        values = np.pad(values, ((0, 0), (period - length, 0)), constant_values=np.nan)
    last, half = values[:, -period:], period // 2
    now, then = values[:, -half:], values[:, -period - half : -period]
    growth = np.ones(len(values))
    if then.shape == now.shape:
        both = ~np.isnan(now) & ~np.isnan(then)
        before, after = np.where(both, then, 0.0).sum(axis=1), np.where(both, now, 0.0).sum(axis=1)
        growth = np.where(before > 0, after / np.where(before > 0, before, 1.0), 1.0)
    growth = np.sqrt(growth.clip(*LIMITS))
    return last[:, np.arange(horizon) % period] * growth[:, None]
