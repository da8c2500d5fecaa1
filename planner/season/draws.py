"""Sample paths of the coming weeks, drawn for all scents at once, and what they add up to."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from planner.season import priors
from planner.season.calendar import DAY
from planner.season.design import Columns, Weeks, christmas_of, columns, coming_weeks
from planner.season.fit import Fit, fit, scent_groups
from planner.season.history import WEEK, History, days_of, read_history, weeks_between
from planner.season.newcomers import merge_guess
from planner.settings import Settings
from planner.tables import STEPS, Paths, check

ALL_SCENTS = "all scents"
QUANTILES = {"p05": 0.05, "p10": 0.1, "p25": 0.25, "p50": 0.5, "p75": 0.75, "p90": 0.9, "p95": 0.95}
HIGHEST_RATE = 12.0  # no scent sells more than 160,000 bottles a week: keeps hopeless guesses finite [log]


@dataclass(frozen=True)
class Season:
    """What was learned from the past, ready to draw any coming weeks from."""

    history: History
    fit: Fit

    @property
    def scents(self) -> tuple[str, ...]:
        """Scents in the order of the paths."""
        return self.history.scents


@dataclass(frozen=True)
class _Window:
    span: tuple[np.datetime64, np.datetime64]  # first and last day
    mondays: np.ndarray
    weeks: Weeks
    now: Columns  # at the most likely day effects
    on_sale: np.ndarray  # (scent, week): share of the week's demand on days the scent is for sale
    walk: np.ndarray  # (week, week): covariance of the drift since the last step and to come, for steps of variance one
    peaks: np.ndarray  # (week, week): covariance of Christmases not seen yet, the same


def fit_season(
    demand: pd.DataFrame, scents: pd.DataFrame, calendar: pd.DataFrame, settings: Settings, today: pd.Timestamp
) -> Season:
    """Learn level, trend, drift and season of all scents from the weeks that were over by `today`.

    `demand` is the step table of that name, `scents` and `calendar` are the maker's. One negative binomial model for
    all scents, each shrunk towards the shop as far as the sales tell (empirical Bayes). Sales are weighed by `exposure`
    (by shelf days where demand has none); of weeks of which only the end is known they say how many were wanted at
    least, so `hidden` is not added to them.
    """
    history = read_history(demand, scents, calendar, settings, today)
    return Season(history, fit(history))


def draw_paths(
    model: Season, first_day: pd.Timestamp, last_day: pd.Timestamp, count: int, rng: np.random.Generator
) -> Paths:
    """Return `count` sample paths of whole bottles for the days from `first_day` to `last_day`, by week and scent.

    The first and the last week count only their days inside; a scent sells nothing before it is first and after it is
    last sold. Level, season, drift to come, the strength of the coming Christmas and chance are all drawn. Where
    nothing was sold yet, a scent's season is as the maker guesses; without a guess it is a usual scent's, see
    priors.FIRST_PACE. A scent that has long been sold out, for all that is known, is over in a share of the paths.
    """
    window = _window(model, np.datetime64(first_day, "D"), np.datetime64(last_day, "D"))
    if _guessed(model.history):
        rate = _guessed_rates(model, window, count, rng)
    else:
        rate = _rates(model.fit, window, _young(model.history), count, rng)
    mean = np.exp(np.minimum(rate, HIGHEST_RATE)) * window.on_sale[:, None, :]
    bottles = _counts(model.fit.sizes.chance, mean, rng)
    if model.history.over.any():
        bottles *= rng.random((*bottles.shape[:2], 1)) >= model.history.over[:, None, None]
    mondays = pd.DatetimeIndex(window.mondays.astype("datetime64[us]"))
    return Paths(bottles.transpose(1, 0, 2), model.scents, mondays)


def _window(model: Season, first: np.datetime64, last: np.datetime64) -> _Window:
    """Return what is known beforehand of the weeks that hold the days from `first` to `last`."""
    history, fit = model.history, model.fit
    mondays = np.arange(first - pd.Timestamp(first).day_of_week * DAY, last + DAY, WEEK)
    days = days_of(mondays)
    weeks = coming_weeks(history, mondays, (days >= first) & (days <= last), fit.weeks.steps, fit.seen)
    effects = fit.mode.shared[weeks.day_effects]
    now = columns(weeks, effects)
    demand = weeks.opened * np.exp(weeks.features @ effects)
    on_sale = _share(demand, _sold(history, days))
    ahead = np.clip(weeks_between(mondays, history.origin) + 1, 0, priors.DRIFT_WEEKS) / priors.BLOCK_WEEKS
    ahead = priors.WALK * (priors.SINCE_MIDDLE + ahead)
    year = christmas_of(mondays)
    new = ~np.isin(year, fit.seen) * now.own[:, fit.weeks.slow.shape[1] + fit.weeks.years]
    peaks = np.outer(new, new) * (year[:, None] == year)
    return _Window((first, last), mondays, weeks, now, on_sale, np.minimum.outer(ahead, ahead), peaks)


def _rates(fit: Fit, window: _Window, young: np.ndarray, count: int, rng: np.random.Generator) -> np.ndarray:
    """Return drawn log rates of a week, shape (scent, path, week)."""
    mode, spreads, weeks, frame = fit.mode, fit.spreads, window.weeks, window.now.frame
    off = rng.standard_normal((count, len(mode.shared))) @ _root(mode.shared_cov).T
    shared = mode.shared + off
    day = np.exp(weeks.features @ shared[:, weeks.day_effects].T)  # (week, 7, path)
    season = np.log(np.maximum((weeks.opened[:, None, :] @ day)[:, 0, :].T / 7, 1e-300))
    common = season + shared[:, : frame.shape[1]] @ frame.T
    common += rng.standard_normal(common.shape) @ _root(spreads.drift * window.walk + spreads.year * window.peaks).T
    own = window.now.own
    usual = mode.scent @ own.T + weeks.launch * mode.shared[-1]
    follow = own @ mode.follow  # (scent, week, q): against the shared ones, and with the launch
    follow[:, :, -1] -= weeks.launch
    noise = rng.standard_normal((len(usual), count, len(frame))) @ _root(_scent_cov(fit, window, young)).mT
    return common + usual[:, None, :] - off @ follow.mT + noise


def _guessed_rates(model: Season, window: _Window, count: int, rng: np.random.Generator) -> np.ndarray:
    """Return drawn log rates where the maker guesses the season of new scents: each path's level is moved towards it.

    A guess is of the season's bottles as a whole; how they fall on the weeks is left as drawn.
    """
    history, hopes, (first, last) = model.history, model.history.hopes, window.span
    wide = _window(model, min(first, hopes.season[0]), max(last, hopes.season[-1]))
    rate = _rates(model.fit, wide, _young(history), count, rng)
    days = days_of(wide.mondays)
    demand = wide.weeks.opened * np.exp(wide.weeks.features @ model.fit.mode.shared[wide.weeks.day_effects])
    in_season = _share(demand, _sold(history, days) & np.isin(days, hopes.season))
    season = (np.exp(np.minimum(rate, HIGHEST_RATE)) * in_season[:, None, :]).sum(axis=2)
    own = _level_variance(model.fit, wide, in_season) + _young(history)
    on_sale = np.any(history.on_shelf > 0, axis=1)
    rate += merge_guess(hopes, season, own, on_sale, history.blank, rng)[:, :, None]
    part = _share(demand, (days >= first) & (days <= last))
    asked = np.isin(wide.mondays, window.mondays)
    return (rate + np.log(np.maximum(part, 1e-300)))[:, :, asked]


def _level_variance(fit: Fit, window: _Window, in_season: np.ndarray) -> np.ndarray:
    """Return the variance, by scent, of what its own sales teach of its season: level and launch."""
    mode = fit.mode
    felt = (in_season * window.weeks.launch).sum(axis=1) / np.maximum(in_season.sum(axis=1), 1e-300)
    through = np.zeros((len(felt), len(mode.shared)))
    through[:, 0], through[:, -1] = 1.0, felt
    through -= mode.follow[:, 0, :]
    both = np.einsum("nq,qr,nr->n", through, mode.shared_cov, through)
    return np.maximum(both + mode.scent_cov[:, 0, 0], 0.0)


def _guessed(history: History) -> bool:
    """Return whether the maker has guessed a season of new scents that is not over."""
    season = history.hopes.season
    return bool(history.hopes.told.any() and len(season) and season[-1] >= history.origin)


def _sold(history: History, days: np.ndarray) -> np.ndarray:
    """Return whether each scent is for sale, shape (scent, week, 7)."""
    return ~(days < history.first_sold[:, None, None]) & ~(days > history.last_sold[:, None, None])


def _share(demand: np.ndarray, which: np.ndarray) -> np.ndarray:
    """Return the share of each week's demand that falls on `which` days, the last axis."""
    return (which * demand).sum(axis=-1) / np.maximum(demand.sum(axis=-1), 1e-300)


def _scent_cov(fit: Fit, window: _Window, young: np.ndarray) -> np.ndarray:
    """Return the covariance of each scent's log rates given the shared ones, shape (scent, week, week)."""
    spread = dict(zip(scent_groups(fit.weeks), fit.spreads.scent, strict=True))
    drift = spread.get("drift", priors.SPREADS["drift"][0] ** 2)
    year = spread.get("year", priors.SPREADS["year"][0] ** 2)
    learned = window.now.own @ fit.mode.scent_cov @ window.now.own.T
    return learned + drift * window.walk + year * window.peaks + young[:, None, None]


def _young(history: History) -> np.ndarray:
    """Return the extra variance of the level of scents that have not settled yet."""
    age = np.maximum(weeks_between(history.origin, history.launched), 0.0)
    return np.where(np.isnan(age), 0.0, priors.YOUNG_SD * np.exp(-age / priors.YOUNG_WEEKS)) ** 2


def _root(covariance: np.ndarray) -> np.ndarray:
    """Return the Cholesky factor; the little that is added keeps rounding from making it impossible."""
    return np.linalg.cholesky(covariance + 1e-9 * np.eye(covariance.shape[-1]))


def _counts(chance: np.ndarray, mean: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return negative binomial counts around `mean` (scent, path, week), the size drawn once a scent and path."""
    pick = rng.random((*mean.shape[:2], 1))
    size = priors.SIZES[(pick > chance.cumsum(axis=1)[:, None, :-1]).sum(axis=2)][:, :, None]
    return rng.poisson(rng.standard_gamma(np.broadcast_to(size, mean.shape)) * (mean / size))


def summarise(paths: Paths) -> pd.DataFrame:
    """Return the forecast table: each scent and all scents together, by week and (week empty) for the whole season.

    All scents and seasons are added within each path first: ranges never add up, bottles do.
    """
    whole = np.concatenate([paths.bottles, paths.bottles.sum(axis=1, keepdims=True)], axis=1)
    whole = np.concatenate([whole, whole.sum(axis=2, keepdims=True)], axis=2)
    weeks = np.append(paths.weeks.to_numpy("datetime64[us]"), np.datetime64("NaT", "us"))
    names = np.repeat(np.array([*paths.scents, ALL_SCENTS], dtype=object), len(weeks))
    table = pd.DataFrame({"scent": names, "channel": paths.channel, "week": np.tile(weeks, len(paths.scents) + 1)})
    levels = np.quantile(whole, list(QUANTILES.values()), axis=0)
    found = {"mean": whole.mean(axis=0), **dict(zip(QUANTILES, levels, strict=True))}
    return check(table.assign(**{name: value.ravel() for name, value in found.items()}), STEPS["forecast"])
