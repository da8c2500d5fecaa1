"""Growth on the year before, of each scent and against all scents, and which scents fade."""

import numpy as np
import pandas as pd

from planner.pace.evidence import YEAR_WEEKS, Evidence
from planner.pace.unevenness import effective_weeks

DRAWS = 4000
LAUNCH_WEEKS = 8  # a new scent may start above what it settles at; these weeks are no year to compare with
FALL = 0.2  # a scent fades when its pace against all scents falls by a fifth a year; less is taste's usual drift
TREND = ("trend", "trend_low", "trend_high")
RATIO = ("ratio_trend", "ratio_trend_low", "ratio_trend_high")


def yearly_change(history: Evidence, launched: pd.Series, unevenness: float, rng: np.random.Generator) -> pd.DataFrame:
    """Return growth from the year before, a row a scent: trend and ratio_trend with ranges, and chance_fading.

    Unknown without half a year on the shelf in both years, the first weeks after a launch left out. Both years are
    weighed by the same season, the mean of the two, so that weeks sold out in one of them do not count against it.
    ratio_trend is growth beyond that of all scents compared; chance_fading the chance that it falls by FALL or more.
    """
    later = history.bottles.index[-YEAR_WEEKS:]
    later = later[later - _YEAR >= history.bottles.index[0]]
    season = history.season.fillna(0.0)
    weight = (season.loc[later - _YEAR].to_numpy() + season.loc[later].to_numpy()) / 2
    settled = _settled(history, launched)
    shelf, bottles = history.on_shelf.where(settled, 0.0), history.bottles.where(settled, 0.0)
    enough = shelf.loc[later - _YEAR].gt(0).sum().ge(YEAR_WEEKS / 2) & shelf.loc[later].gt(0).sum().ge(YEAR_WEEKS / 2)
    names = enough.index[enough]
    if names.empty:
        return pd.DataFrame(index=history.bottles.columns, columns=[*TREND, *RATIO, "chance_fading"], dtype="float64")
    now, before = (
        _rates(bottles.loc[weeks, names], shelf.loc[weeks, names].mul(weight, axis=0), unevenness, rng)
        for weeks in (later, later - _YEAR)
    )
    ratio = now / before * (before.sum(axis=1) / now.sum(axis=1))[:, None]
    table = pd.concat([_range(now / before - 1, TREND, names), _range(ratio - 1, RATIO, names)], axis=1)
    return table.assign(chance_fading=(ratio <= 1 - FALL).mean(axis=0)).reindex(history.bottles.columns)


_YEAR = pd.Timedelta(weeks=YEAR_WEEKS)


def _settled(history: Evidence, launched: pd.Series) -> np.ndarray:
    """Mark the weeks in which a scent is no longer new, [week, scent]."""
    since = (launched.reindex(history.bottles.columns) + pd.Timedelta(weeks=LAUNCH_WEEKS)).fillna(
        history.bottles.index[0]
    )
    return np.asarray(history.bottles.index)[:, None] >= since.to_numpy()[None, :]


def _rates(bottles: pd.DataFrame, fair: pd.DataFrame, unevenness: float, rng: np.random.Generator) -> np.ndarray:
    """Draws of bottles a week, from counts alone; half a bottle keeps a year without sales above zero."""
    sold = bottles.sum()
    spread = 1 + sold * unevenness * effective_weeks(fair)
    draws = rng.standard_gamma(((sold + 0.5) / spread).to_numpy(), size=(DRAWS, len(sold)))
    return np.maximum(draws * spread.to_numpy(), np.finfo(float).tiny) / fair.sum().to_numpy()


def _range(draws: np.ndarray, columns: tuple[str, ...], names: pd.Index) -> pd.DataFrame:
    return pd.DataFrame(np.quantile(draws, [0.5, 0.05, 0.95], axis=0).T, index=names, columns=list(columns))
