"""Weekly sales as pace sees them: bottles, weeks on the shelf, and the season that all scents share."""

from typing import NamedTuple

import numpy as np
import pandas as pd

YEAR_WEEKS = 52
ROUNDS = 30  # of scaling; it settles to six digits in fewer
FAINT = 0.5  # bottles: what a week without a sale is taken to have sold by all scents together, so that it is not zero


class Evidence(NamedTuple):
    """Weeks down, scents across: `bottles` sold, `on_shelf` [weeks], both 0 where not on the shelf, and `season`.

    `season` is each week against the average week, as all scents on the shelf sold (see season_of).
    """

    bottles: pd.DataFrame
    on_shelf: pd.DataFrame
    season: pd.Series

    @property
    def fair(self) -> pd.DataFrame:
        """Weeks on the shelf at the season's average: a week in which all sell double counts for two. [weeks]"""
        return self.on_shelf.mul(self.season.fillna(0.0), axis=0)


def weekly_evidence(demand: pd.DataFrame) -> Evidence:
    """Return the weeks in which each scent was on the shelf, from table demand; what sells to order is left out.

    Weeks on the shelf are `exposure` (share of the week's expected sales that fell on days on the shelf) where the
    table has it, else shelf_days / 7.
    """
    days = demand["shelf_days"].astype("float64") / 7
    share = demand["exposure"].astype("float64").fillna(days) if "exposure" in demand else days
    table = demand.assign(on_shelf=share)[(demand["channel"] == "all") & demand["bottles"].notna() & (share > 0)]
    if table.empty:
        return Evidence(pd.DataFrame(), pd.DataFrame(), pd.Series(dtype="float64"))
    bottles, on_shelf = _wide(table, "bottles"), _wide(table, "on_shelf")
    return Evidence(bottles, on_shelf, season_of(bottles, on_shelf))


def _wide(table: pd.DataFrame, column: str) -> pd.DataFrame:
    wide = table.pivot(index="week", columns="scent", values=column)
    weeks = pd.date_range(wide.index.min(), wide.index.max(), freq="7D", name="week")
    return wide.reindex(weeks).astype("float64").fillna(0.0)


def season_of(bottles: pd.DataFrame, on_shelf: pd.DataFrame, faint: float = FAINT) -> pd.Series:
    """Return each week against the average week of the latest year, from all scents on the shelf in it.

    A scent's bottles in a week are expected to be rate × season × weeks on the shelf; rates and seasons are scaled in
    turn until both margins fit (iterative proportional fitting, Deming & Stephan 1940), which is the maximum of the
    Poisson likelihood. So a launch in November is set against what all scents sold in that same week. A week in which
    nothing was on the shelf is not known (NaN).
    """
    sold, shelf = bottles.to_numpy(), on_shelf.to_numpy()
    season = np.ones(len(sold))
    known = shelf.sum(axis=1) > 0
    for _ in range(ROUNDS):
        weeks = season @ shelf
        rates = np.divide(sold.sum(axis=0), weeks, out=np.zeros(len(weeks)), where=weeks > 0)
        season = np.where(known, (sold.sum(axis=1) + faint) / np.maximum(shelf @ rates + faint, 1e-300), 1.0)
    season /= season[known][-YEAR_WEEKS:].mean()
    return pd.Series(np.where(known, season, np.nan), index=bottles.index, name="season")


def latest(evidence: Evidence, weeks: int) -> Evidence:
    """Return the latest weeks of the evidence."""
    return Evidence(*(part.iloc[-weeks:] for part in evidence))
