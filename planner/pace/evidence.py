"""Weekly sales as pace sees them: bottles, weeks on the shelf, and the season that all scents share."""

from typing import NamedTuple

import numpy as np
import pandas as pd

YEAR_WEEKS = 52
ROUNDS = 30  # of scaling; it settles to six digits in fewer
FAINT = 0.5  # bottles: what a week without a sale is taken to have sold by all scents together, so that it is not zero
# A scent that ran out is taken to have gone on as in the weeks around. These count by exp(−distance / 1.5): a peak is
# over in a few weeks (1, 1.5, 2, 3 and 6 were tried on simulated shops; short ones are less biased), and with half a
# week of its usual pace so that few sales do not run wild.
AROUND_WEEKS, USUAL_WEEKS = 1.5, 0.5


class Evidence(NamedTuple):
    """Weeks down, scents across: `bottles` sold, `on_shelf` [weeks], both 0 where not on the shelf, and `season`.

    `season` is each week against the average week, as all scents would have sold (see with_season).
    """

    bottles: pd.DataFrame
    on_shelf: pd.DataFrame
    season: pd.Series

    @property
    def fair(self) -> pd.DataFrame:
        """Weeks on the shelf at the season's average: a week in which all sell double counts for two. [weeks]"""
        return self.on_shelf.mul(self.season.fillna(0.0), axis=0)


def weekly_evidence(demand: pd.DataFrame) -> Evidence:
    """Return what each scent sold in the weeks it was on the shelf, from table demand, with the season of all."""
    table = weeks_on_shelf(demand)
    if table.empty:
        return Evidence(pd.DataFrame(), pd.DataFrame(), pd.Series(dtype="float64"))
    return with_season(_wide(table, "bottles"), _wide(table, "on_shelf"))


def weeks_on_shelf(demand: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of table demand in which a scent was on the shelf for shoppers, with `on_shelf` [weeks].

    What sells to order is left out, and a scent that only ever sold to order is left out whole: no shopper was ever
    seen to choose it. Weeks on the shelf are `exposure` (share of the week's expected sales that fell on days on the
    shelf) where the table has it, else shelf_days / 7.
    """
    days = demand["shelf_days"].astype("float64") / 7
    share = demand["exposure"].astype("float64").fillna(days) if "exposure" in demand else days
    crowd = (demand["channel"] == "all") & ~demand["scent"].isin(only_to_order(demand))
    return demand.assign(on_shelf=share)[crowd & demand["bottles"].notna() & (share > 0)]


def only_to_order(demand: pd.DataFrame) -> list[str]:
    """Return the scents that sold to order and never to shoppers."""
    sold = demand.assign(crowd=demand["channel"] == "all", bottles=demand["bottles"].astype("float64"))
    sold = sold.groupby(["scent", "crowd"])["bottles"].sum().unstack(fill_value=0.0).reindex(columns=[False, True])
    return list(sold.index[(sold[False] > 0) & ~(sold[True] > 0)])


def latest(evidence: Evidence, weeks: int) -> Evidence:
    """Return the latest weeks of the evidence, the season as it was."""
    return Evidence(*(part.iloc[-weeks:] for part in evidence))


def _wide(table: pd.DataFrame, column: str) -> pd.DataFrame:
    wide = table.pivot(index="week", columns="scent", values=column)
    weeks = pd.date_range(wide.index.min(), wide.index.max(), freq="7D", name="week")
    return wide.reindex(weeks).astype("float64").fillna(0.0)


def with_season(bottles: pd.DataFrame, on_shelf: pd.DataFrame) -> Evidence:
    """Return the evidence with the season: each week against the average week of the latest year, for all scents.

    What a scent would have sold in the part of a week it was not on the shelf is filled in from the weeks around it.
    Then rates and seasons are scaled in turn until both margins fit (iterative proportional fitting, Deming & Stephan
    1940), from each scent's first to its last week on the shelf. So a launch in November is set against what all
    scents sold in that same week. A week in which nothing was on the shelf is not known (NaN).
    """
    sold, shelf = bottles.to_numpy(), on_shelf.to_numpy()
    live = lifetime(shelf)
    known = shelf.any(axis=1)
    near = nearness(len(sold))
    season, filled = np.ones(len(sold)), sold
    for _ in range(ROUNDS):
        rates = filled.sum(axis=0) / np.maximum(season @ live, 1e-300)
        season = np.where(known, (filled.sum(axis=1) + FAINT) / np.maximum(live @ rates + FAINT, 1e-300), 0.0)
        fair = shelf * season[:, None]
        around = (near @ sold + USUAL_WEEKS * rates) / (near @ fair + USUAL_WEEKS)
        filled = sold + (live - shelf) * season[:, None] * around
    season = season / season[known][-YEAR_WEEKS:].mean()
    return Evidence(bottles, on_shelf, pd.Series(np.where(known, season, np.nan), index=bottles.index, name="season"))


def lifetime(shelf: np.ndarray) -> np.ndarray:
    """Mark each scent's weeks from the first to the last on the shelf with 1, [week, scent]."""
    there = shelf > 0
    since, until = np.maximum.accumulate(there), np.maximum.accumulate(there[::-1])[::-1]
    return np.maximum((since & until).astype(float), shelf)


def nearness(weeks: int) -> np.ndarray:
    """Return how much each week says of each other one, [week, week]."""
    apart = np.abs(np.subtract.outer(np.arange(weeks), np.arange(weeks)))
    return np.exp(-apart / AROUND_WEEKS)
