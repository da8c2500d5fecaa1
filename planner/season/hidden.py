"""Weeks of which only the end is known: the scent was sold out by then, so that many or more were wanted."""

import numpy as np

STEP = 1e-3  # for the curvature of the likelihood, by differences of its slope [log]


def log_chance_of_more(at_least: np.ndarray, mean: np.ndarray, size: np.ndarray) -> np.ndarray:
    """Return the log of the chance that a negative binomial of that mean and size is `at_least` so many."""
    return np.log(np.maximum(_so_many(np.asarray(at_least, float), size, mean / (mean + size)), 1e-300))


def expected_demand(at_least: np.ndarray, mean: np.ndarray, size: np.ndarray) -> np.ndarray:
    """Return the bottles to be expected of a negative binomial where it was `at_least` so many."""
    y, share = np.asarray(at_least, float), mean / (mean + size)
    with np.errstate(divide="ignore", invalid="ignore"):
        more = mean * _so_many(y - 1, size + 1, share) / _so_many(y, size, share)
    return np.where(np.isfinite(more), np.maximum(more, y), y)  # far out in the tail there is hardly any more


def slope_and_curve(at_least: np.ndarray, mean: np.ndarray, size: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return slope and downward curvature of that log chance in the log of the mean."""

    def slope(mean: np.ndarray) -> np.ndarray:
        return (expected_demand(at_least, mean, size) - mean) * size / (size + mean)

    steps = slope(mean * np.exp(-STEP)) - slope(mean * np.exp(STEP))
    return slope(mean), np.maximum(steps / (2 * STEP), 0.0)


def _so_many(y: np.ndarray, size: np.ndarray, share: np.ndarray) -> np.ndarray:
    from scipy.special import betainc

    return np.where(y > 0, betainc(np.maximum(y, 1), size, share), 1.0)
