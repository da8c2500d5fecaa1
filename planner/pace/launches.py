"""When scents were launched, and how they sold in their first season, side by side by weeks since launch."""

import numpy as np
import pandas as pd

from planner.pace.evidence import Evidence, weekly_evidence, with_season
from planner.pace.rates import exact_interval
from planner.pace.unevenness import effective_weeks, week_unevenness

BLOCK_WEEKS = 4  # weeks taken together: single weeks of a new scent are mostly chance
FEWEST_BLOCK_WEEKS = 1.0  # a block with less on the shelf than one week says nothing and is left out; judgement
FIRST_WEEKS = 26  # what a first season is taken to be
ALL_NEW = "all new scents"


def launch_weeks(demand: pd.DataFrame, scents: pd.DataFrame | None = None) -> pd.Series:
    """Return the Monday of the week in which each scent was launched, NaT where that was before what is known.

    Stated in scents.csv (first_sold), else the first week on the shelf, unless that is the first week of all.
    """
    table = demand[(demand["channel"] == "all") & (demand["shelf_days"] > 0)]
    first = table.groupby("scent")["week"].min()
    seen = first.where(first > demand["week"].min())
    if scents is None:
        return seen.astype("datetime64[us]")
    stated = scents.set_index("scent")["first_sold"].reindex(first.index)
    monday = stated - pd.to_timedelta(stated.dt.day_of_week.fillna(0), unit="D")
    return monday.fillna(seen).astype("datetime64[us]")


def first_season(demand: pd.DataFrame, scents: pd.DataFrame | None = None) -> pd.DataFrame:
    """Return the first half year of each scent launched within the sales, in blocks of four weeks since launch.

    Columns: scent, first_week and last_week since launch (1: the week of the launch), bottles, shelf_weeks at the
    season's average, ratio (its pace against the average settled scent in the same weeks: 1 is average) with ratio_low
    and ratio_high. A block with less than FEWEST_BLOCK_WEEKS on the shelf is left out. A scent is settled after its
    first half year; where none is, all scents stand in. The rows of "all new scents" hold the new ones together, each
    counting by its sales.
    """
    history = weekly_evidence(demand)
    columns = ["scent", "first_week", "last_week", "bottles", "shelf_weeks", "ratio", "ratio_low", "ratio_high"]
    if history.bottles.empty:
        return pd.DataFrame(columns=columns)
    weeks = np.asarray(history.bottles.index)[:, None]
    launched = launch_weeks(demand, scents).reindex(history.bottles.columns)
    new = launched.index[launched > history.bottles.index[0]]
    age = (weeks - launched[new].to_numpy()[None, :]) // np.timedelta64(7, "D")
    fair, average = _against_settled(history, new, age)
    unevenness = week_unevenness(history.bottles, history.fair)
    rows = []
    for first in range(0, FIRST_WEEKS, BLOCK_WEEKS):
        inside = (age >= first) & (age < min(first + BLOCK_WEEKS, FIRST_WEEKS))
        sold, weeks = history.bottles[new].where(inside, 0.0), fair[new].where(inside, 0.0)
        there = history.on_shelf[new].where(inside, 0.0).sum() > FEWEST_BLOCK_WEEKS - 1e-6
        rows.append(_block(sold.loc[:, there], weeks.loc[:, there], average, unevenness, first))
    table = pd.concat(rows, ignore_index=True)
    until = table["scent"].map(pd.Series(age[-1] + 1, index=new)).fillna(FIRST_WEEKS)  # the newest are younger
    table["last_week"] = np.minimum(table["last_week"], until).astype("int64")
    return table.sort_values(["scent", "first_week"], key=_all_first, kind="stable", ignore_index=True)[columns]


def _against_settled(history: Evidence, new: pd.Index, age: np.ndarray) -> tuple[pd.DataFrame, float]:
    """Weeks on the shelf at the season of settled scents, and how many bottles a week the average one of them sells."""
    settled = pd.DataFrame(True, index=history.bottles.index, columns=history.bottles.columns)
    settled[new] = age >= FIRST_WEEKS
    others = with_season(history.bottles.where(settled, 0.0), history.on_shelf.where(settled, 0.0))
    if not others.on_shelf.any(axis=None):
        others = history
    fair = history.on_shelf.mul(others.season.fillna(history.season).fillna(0.0), axis=0)
    return fair, others.bottles.sum().sum() / max(others.fair.sum().sum(), 1e-9)


def _block(sold: pd.DataFrame, fair: pd.DataFrame, average: float, unevenness: float, first: int) -> pd.DataFrame:
    """One block of weeks since launch, a row a scent that was on the shelf in it, and all of them together."""
    bottles, weeks = sold.sum(), fair.sum()
    extra = unevenness * effective_weeks(fair)
    there = weeks > 0
    table = pd.DataFrame({"bottles": bottles, "shelf_weeks": weeks, "extra": extra})[there].rename_axis("scent")
    table = table.reset_index()
    if len(table) > 1:
        by_sales = bottles[there] / max(bottles.sum(), 1)
        together = {"scent": ALL_NEW, "bottles": bottles.sum(), "shelf_weeks": weeks.sum()}
        table = pd.concat([table, pd.DataFrame([{**together, "extra": float((by_sales**2 * extra[there]).sum())}])])
    expected, spread = table["shelf_weeks"] * average, 1 + table["bottles"] * table["extra"]
    low, high = exact_interval(table["bottles"] / spread, expected / spread)
    last = min(first + BLOCK_WEEKS, FIRST_WEEKS)
    ends = {"ratio_low": low, "ratio_high": high, "first_week": first + 1, "last_week": last}
    return table.assign(ratio=table["bottles"] / expected, **ends)


def _all_first(column: pd.Series) -> pd.Series:
    return column.where(column != ALL_NEW, "") if column.name == "scent" else column
