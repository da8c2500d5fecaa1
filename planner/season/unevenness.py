"""How uneven the weeks of each scent are: the size of its negative binomial, shrunk towards the shop's."""

from dataclasses import dataclass

import numpy as np

from planner.season import priors
from planner.season.design import Weeks, columns
from planner.season.history import History
from planner.season.mode import Beliefs, Mode, derivatives, log_likelihood, mode_rate

SHARINGS = 8  # times that shop and scents are fitted to each other; it has settled long before


@dataclass(frozen=True)
class Sizes:
    """Chances of each of priors.SIZES by scent, and the size used in the fit (their middle, on the log scale)."""

    chance: np.ndarray  # (n, sizes)
    usual: np.ndarray  # (n,)


def usual_sizes(scents: int) -> Sizes:
    """Return what is believed before the sales."""
    chance = np.tile(priors.SIZES_PRIOR / priors.SIZES_PRIOR.sum(), (scents, 1))
    return Sizes(chance, np.exp(chance @ np.log(priors.SIZES)))


def learn_sizes(history: History, weeks: Weeks, mode: Mode, beliefs: Beliefs) -> Sizes:
    """Return the sizes that go with the mode: likelihood less half the log determinant, which pays for a close fit."""
    from scipy.special import gammaln

    fixed = columns(weeks, mode.shared[weeks.day_effects])
    rate = mode_rate(weeks, mode)
    prior = beliefs.scent_precision[:, :, None] * np.eye(mode.scent.shape[1])
    y, counted = history.bottles, (history.on_shelf > 0) & ~history.end_only
    score = np.empty((len(y), len(priors.SIZES)))
    for g, size in enumerate(priors.SIZES):
        every = np.full(len(y), size)
        _, curve = derivatives(history, rate, every)
        constant = np.where(counted, gammaln(y + size) - gammaln(size) - y * np.log(size), 0.0)
        likelihood = (log_likelihood(history, rate, every) + constant).sum(axis=1)
        hessian = (curve[:, None, :] * fixed.own.T) @ fixed.own + prior
        score[:, g] = likelihood - 0.5 * np.linalg.slogdet(hessian)[1]
    chance = _share(score)
    return Sizes(chance, np.exp(chance @ np.log(priors.SIZES)))


def _share(score: np.ndarray) -> np.ndarray:
    """Return each scent's chances, where the shop's own mixture of sizes is the prior of all."""
    relative = np.exp(score - score.max(axis=1, keepdims=True))
    shop = priors.SIZES_PRIOR / priors.SIZES_PRIOR.sum()
    for _ in range(SHARINGS):
        chance = relative * shop
        chance /= chance.sum(axis=1, keepdims=True)
        shop = chance.sum(axis=0) + priors.SIZES_PRIOR
        shop /= shop.sum()
    return chance
