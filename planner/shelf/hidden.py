"""What was wanted and not there in weeks of which only the end is known: the scent was sold out by then."""

import numpy as np

from planner.shelf.censored import censored_negative_binomial, censored_poisson, expected_demand

FEWEST_FOR_SIZE = 12  # weeks that did not sell out, for learning how restless a scent is; with fewer it is a Poisson
SEASON_PRIOR = 10.0  # bottles' worth of the weeks around it in the season of each week
AROUND = 3  # so many weeks before and after


def hidden_demand(bottles: np.ndarray, exposure: np.ndarray, end_only: np.ndarray) -> np.ndarray:
    """Return the bottles wanted beyond those sold, by week (down) and scent (across); NA but where `end_only`.

    `exposure` is the share of the week's expected sales on the shelf, NA or 0 where nothing is known. Sales of such a
    week say only that so many or more were wanted. A scent's likeliest mean comes from all its weeks by the season of
    all scents; the hidden part is what that mean leaves to be expected above what was sold. Unknown where a scent
    never had a week that did not sell out.
    """
    there = np.nan_to_num(exposure)
    weight = there * _season(np.nan_to_num(bottles), np.where(end_only, 0.0, there))[:, None]
    hidden = np.full(bottles.shape, np.nan)
    for scent in np.flatnonzero(end_only.any(axis=0)):
        known = (weight[:, scent] > 0) & ~np.isnan(bottles[:, scent])
        y, cut, x = bottles[known, scent], end_only[known, scent], weight[known, scent]
        fit = censored_negative_binomial if (~cut).sum() >= FEWEST_FOR_SIZE else censored_poisson
        mean, size = fit(y, cut, x)
        if not np.isnan(mean):
            told = cut & (y > 0)  # one that sold nothing ran out some other way, and says nothing
            weeks = np.flatnonzero(known)[told]
            hidden[weeks, scent] = expected_demand(y[told], mean * x[told], size) - y[told]
    return hidden


def _season(bottles: np.ndarray, exposure: np.ndarray) -> np.ndarray:
    """Return each week against the average week, from all scents in weeks that did not sell out."""
    season = np.ones(len(bottles))
    sold = np.where(exposure > 0, bottles, 0.0)
    for _ in range(10):
        rate = sold.sum(axis=0) / np.maximum(season @ exposure, 1e-9)
        expected = exposure @ rate
        around = _rolling(sold.sum(axis=1)) / np.maximum(_rolling(expected), 1e-9)
        season = (sold.sum(axis=1) + SEASON_PRIOR * around) / (expected + SEASON_PRIOR)
        season = np.where(season > 0, season, 1e-3)
    return season / season.mean()


def _rolling(values: np.ndarray) -> np.ndarray:
    total = np.concatenate([[0.0], np.cumsum(values)])
    place = np.arange(len(values))
    return total[np.minimum(place + AROUND + 1, len(values))] - total[np.maximum(place - AROUND, 0)]
