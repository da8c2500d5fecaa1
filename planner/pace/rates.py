"""What is known of each scent's rate: exact intervals of counts, and the gamma posterior drawn to the average."""

from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy.special import betainc, gammaincinv, gammaln

# How much scents differ: shape of the gamma spread of their paces. 1.5 means that two scents in three lie within a
# factor of about 2.3 of the middle one (judgement); their own sales move it.
USUAL_SHAPE, SHAPE_SD = 1.5, 0.7
SHAPES = np.geomspace(0.2, 60.0, 60)
INTERVAL = 0.9  # of cases in which a range holds


class Rates(NamedTuple):
    """Gamma posterior of each scent's pace, shape and rate [weeks], and `average`, the pace they are drawn to."""

    shape: pd.Series
    rate: pd.Series
    average: float

    def interval(self) -> tuple[pd.Series, pd.Series]:
        """Return the ends of the range that holds 90 of 100 cases. [bottles a week]"""
        tail = (1 - INTERVAL) / 2
        return gammaincinv(self.shape, tail) / self.rate, gammaincinv(self.shape, 1 - tail) / self.rate


def exact_interval(bottles: np.ndarray, weeks: np.ndarray, level: float = INTERVAL) -> tuple[np.ndarray, np.ndarray]:
    """Return the ends of the exact interval of a Poisson rate. [bottles a week]

    Source: Garwood, F. (1936), Fiducial limits for the Poisson distribution, Biometrika 28, 437-442: each end leaves
    at most half of 1 − level. Chance alone: neither other scents nor uneven weeks are looked at.
    """
    bottles, weeks = np.asarray(bottles, float), np.asarray(weeks, float)
    tail = (1 - level) / 2
    low = np.where(bottles > 0, gammaincinv(np.maximum(bottles, 1), tail), 0.0)
    return low / weeks, gammaincinv(bottles + 1, 1 - tail) / weeks


def posterior(sold: pd.Series, weeks: pd.Series, uneven: pd.Series, unseen: pd.Series | float = 0.0) -> Rates:
    """Return what sales say of each pace, drawn to the average of all scents the more, the less was sold.

    sold [bottles] in `weeks` [weeks at the season's average]; `uneven` is the variance of the mean rate beyond
    chance, in parts of the rate squared, which makes a bottle count for less (quasi-likelihood, Wedderburn 1974). How
    much scents differ is learned from them by marginal likelihood (empirical Bayes). `unseen` widens the ranges but
    draws nothing to the average: what is not seen of a scent that sold out is no sign that it is an average one.
    """
    average = max(sold.sum(), 0.5) / max(weeks.sum(), 1e-9)
    guess = (sold + 1.0) / (weeks + 1.0 / average)
    for _ in range(3):  # the spread depends on the pace, and the pace a little on the spread
        spread = 1 + guess * weeks * uneven
        shape, average = _how_scents_differ(sold / spread, weeks / spread, average)
        guess = (sold / spread + shape) / (weeks / spread + shape / average)
    sure, rate = sold / spread + shape, weeks / spread + shape / average
    wider = 1 + sure * unseen
    return Rates(sure / wider, rate / wider, average)


def _how_scents_differ(sold: pd.Series, weeks: pd.Series, average: float) -> tuple[float, float]:
    """Shape of the spread of paces and their average: the likeliest of SHAPES, with a wide prior around the usual."""
    n, w, shapes = sold.to_numpy()[:, None], weeks.to_numpy()[:, None], SHAPES[None, :]
    middle = np.full(len(SHAPES), average)
    for _ in range(20):  # the likeliest average for each shape
        middle = np.mean((n + shapes) / (w + shapes / middle), axis=0)
    beta = shapes / middle
    chance = gammaln(n + shapes) - gammaln(shapes) + shapes * np.log(beta) - (n + shapes) * np.log(beta + w)
    believed = chance.sum(axis=0) - (np.log(SHAPES / USUAL_SHAPE) / SHAPE_SD) ** 2 / 2
    best = int(believed.argmax())
    return float(SHAPES[best]), float(middle[best])


def draw_rates(rates: Rates, count: int, rng: np.random.Generator) -> np.ndarray:
    """Draw paces from the joint posterior, shape (count, scent). [bottles a week]"""
    draws = rng.standard_gamma(rates.shape.to_numpy(), size=(count, len(rates.shape)))
    return np.maximum(draws, np.finfo(float).tiny) / rates.rate.to_numpy()


def chance_faster(rates: Rates) -> np.ndarray:
    """Chance that the scent of the row is faster than that of the column, exact for two gamma posteriors.

    X/(X+Y) of two gammas of one rate is a beta, so the chance is one of its tails.
    """
    shape, rate = rates.shape.to_numpy(), rates.rate.to_numpy()
    return 1 - betainc(shape[:, None], shape[None, :], rate[:, None] / (rate[:, None] + rate[None, :]))
