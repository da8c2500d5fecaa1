"""Which scent sells fastest: bottles a week on the shelf, season-adjusted, with how sure that is."""

import numpy as np
import pandas as pd
from scipy.special import gammaincinv

from planner.settings import Settings
from planner.tables import STEPS, check

PACE_WEEKS = 26  # the latest half year: long enough to count, short enough to be about now
TREND_WEEKS = 52  # compared with the year before, so the season cancels out
DRAWS = 4000  # draws from the joint posterior: chances are good to about one in a hundred
TOLD_APART = 0.8  # a scent is ranked behind another only when the chance that it is slower is at least this
PRIOR_WEEKS = 2.0  # the spread of all scents counts as much as this many weeks of an average scent
LEAST_SPREAD, MOST_SPREAD = 1.0, 20.0  # variance over mean of weekly counts, kept within reason


def scent_pace(demand: pd.DataFrame, costs: pd.DataFrame, settings: Settings, rng: np.random.Generator) -> pd.DataFrame:
    """Return the ranking of scents by pace (table pace).

    Pace is bottles per shelf week over the latest weeks, at the season's average: a week's sales are compared with
    what all scents sold that week, so a launch in November does not look fast because November is. Counts are taken
    as Poisson with a common extra spread; each scent's rate is a gamma posterior, drawn a little to the average of
    all scents. Ranges hold 90 of 100 draws. Trend compares the latest 52 weeks with the 52 before.
    """
    table = demand[(demand["channel"] == "all") & demand["bottles"].notna() & (demand["shelf_days"] > 0)]
    if table.empty:
        return check(pd.DataFrame(columns=list(STEPS["pace"].columns)), STEPS["pace"])
    bottles, on_shelf = _wide(table, "bottles"), _wide(table, "shelf_days") / 7
    exposure = on_shelf.mul(_season(bottles, on_shelf), axis=0)
    recent = bottles.index > bottles.index[-1] - pd.Timedelta(weeks=PACE_WEEKS)
    sold, weeks = bottles[recent].sum(), exposure[recent].sum()
    spread = _spread(bottles[recent], exposure[recent])
    shape, rate = _posterior(sold, weeks, spread)
    draws = rng.standard_gamma(shape.to_numpy(), size=(DRAWS, len(shape))) / rate.to_numpy()
    pace = pd.DataFrame({"pace": shape / rate, "bottles": sold, "shelf_weeks": on_shelf[recent].sum()})
    pace["pace_low"], pace["pace_high"] = gammaincinv(shape, 0.05) / rate, gammaincinv(shape, 0.95) / rate
    pace["share"] = sold / max(sold.sum(), 1)
    pace["chance_fastest"] = np.bincount(draws.argmax(axis=1), minlength=len(shape)) / DRAWS
    pace = pace.join(_trend(bottles, on_shelf, spread, rng))
    pace["contribution_per_bottle"] = costs.set_index("scent")["contribution_per_bottle"].reindex(pace.index)
    pace = pace.rename_axis("scent").reset_index()
    order = pace["pace"].sort_values(ascending=False, kind="stable").index
    pace["rank"] = pd.Series(_ranks(draws[:, order]), index=order)
    return check(pace.loc[order], STEPS["pace"])


def _wide(table: pd.DataFrame, column: str) -> pd.DataFrame:
    """Weeks down, scents across; zero where the scent was not on the shelf."""
    wide = table.pivot(index="week", columns="scent", values=column)
    weeks = pd.date_range(wide.index.min(), wide.index.max(), freq="7D", name="week")
    return wide.reindex(weeks).astype("float64").fillna(0.0)


def _season(bottles: pd.DataFrame, exposure: pd.DataFrame) -> pd.Series:
    """Each week against the average week of its year, from all scents on the shelf, by iterative scaling."""
    season = pd.Series(1.0, index=bottles.index)
    for _ in range(20):  # settles to six digits in far fewer rounds
        rates = bottles.sum() / exposure.mul(season, axis=0).sum().replace(0, np.nan)
        expected = exposure.mul(rates.fillna(0), axis=1).sum(axis=1)
        season = (bottles.sum(axis=1) + 1) / (expected + 1)  # one bottle keeps a week without sales from being zero
    return season / season.tail(52).mean()


def _spread(bottles: pd.DataFrame, exposure: pd.DataFrame) -> float:
    """Variance over mean of weekly counts beyond pace and season: 1 for pure chance."""
    rates = bottles.sum() / exposure.sum().replace(0, np.nan)
    expected = exposure.mul(rates.fillna(0), axis=1)
    seen = expected > 0
    squares = ((bottles - expected) ** 2 / expected.where(seen)).sum().sum()
    freedom = seen.sum().sum() - len(rates) - len(bottles) + 1
    return float(np.clip(squares / max(freedom, 1), LEAST_SPREAD, MOST_SPREAD))


def _posterior(sold: pd.Series, weeks: pd.Series, spread: float) -> tuple[pd.Series, pd.Series]:
    """Gamma shape and rate of each scent's pace; the extra spread makes a bottle count for less."""
    average = max(sold.sum(), 1) / max(weeks.sum(), 1e-9)
    return (sold + PRIOR_WEEKS * average) / spread, (weeks + PRIOR_WEEKS) / spread


def _trend(bottles: pd.DataFrame, exposure: pd.DataFrame, spread: float, rng: np.random.Generator) -> pd.DataFrame:
    """Growth from the year before; unknown without half a year on the shelf in both.

    `exposure` is shelf weeks without the season. Both years are weighed by the same season, the mean of the two, so
    that a week sold out in one of them does not count against it.
    """
    year = pd.Timedelta(weeks=TREND_WEEKS)
    latest = bottles.index[bottles.index > bottles.index[-1] - year]
    before = (latest - year).intersection(bottles.index)
    season = _season(bottles, exposure)
    both = (season[before].to_numpy() + season[before + year].to_numpy()) / 2
    now, then = exposure.loc[before + year].mul(both, axis=0).sum(), exposure.loc[before].mul(both, axis=0).sum()
    enough = (exposure.loc[before] > 0).sum().ge(TREND_WEEKS / 2) & (exposure.loc[latest] > 0).sum().ge(TREND_WEEKS / 2)
    later = _rates(bottles.loc[before + year].sum()[enough], now[enough], spread, rng)
    earlier = _rates(bottles.loc[before].sum()[enough], then[enough], spread, rng)
    ends = np.quantile(later / earlier - 1, [0.5, 0.05, 0.95], axis=0)
    names = ["trend", "trend_low", "trend_high"]
    return pd.DataFrame(ends.T, index=bottles.columns[enough], columns=names).reindex(bottles.columns)


def _rates(sold: pd.Series, weeks: pd.Series, spread: float, rng: np.random.Generator) -> np.ndarray:
    """Draws of bottles a week, from counts alone; half a bottle keeps a year without sales above zero."""
    draws = rng.standard_gamma(((sold + 0.5) / spread).to_numpy(), size=(DRAWS, len(sold)))
    return np.maximum(draws, np.finfo(float).tiny) / weeks.to_numpy()


def _ranks(draws: np.ndarray) -> list[int]:
    """Places for scents in order of pace: the next place only when the chance of being slower is high enough.

    Each scent is compared with the first of those that share the place before it.
    """
    ranks, leader = [1], 0
    for place in range(1, draws.shape[1]):
        slower = np.mean(draws[:, place] < draws[:, leader])
        if slower >= TOLD_APART:
            leader = place
        ranks.append(leader + 1)
    return ranks
