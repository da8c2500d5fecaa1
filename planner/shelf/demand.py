"""What people wanted week by week: sales against the days on which the scent was on the shelf."""

import numpy as np
import pandas as pd

from planner.settings import Settings
from planner.shelf.totals import END_ONLY, spans
from planner.shelf.weeks import DECIMALS, shelf_weeks
from planner.tables import STEPS, check


def weekly_demand(sales: pd.DataFrame, shelf: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return bottles wanted and days on the shelf per scent and week (table demand).

    Channels with a shelf of their own are added up under "all"; a channel that sells to order keeps its name, since
    one such order is not a crowd of shoppers. Refunds take back the latest sale of the scent before them. A week
    without a day on the shelf and without a sale is unknown (NA), not zero. Weeks begin on Monday.
    `open_days` tells weeks in which it was sold out (open_days, but no shelf_days) from those in which no channel was
    open, or it was not for sale (no open_days either).

    `exposure` is the share of the week's expected sales that fell on days the scent was on the shelf: days count by
    how much is usually sold on such a day in that channel, so a scent that ran out before a weekend market has less.
    Where only the end of the week is known to be sold out ("end only"), nothing tells which days were; what was
    wanted beyond the sales is estimated instead (`hidden`), and exposure is the sold share of what was wanted. So a
    reader of exposure must not add `hidden` to it. `known` says how the least sure day of the week is known.
    """
    to_order = [channel.name for channel in settings.channels if channel.open == "to order"]
    wanted = _less_refunds(sales)
    wanted["channel"] = wanted["channel"].where(wanted["channel"].isin(to_order), "all")
    key = ["week", "scent", "channel"]
    bottles = wanted.assign(week=_monday(wanted["day"])).groupby(key)["bottles"].sum()
    seen = shelf_weeks(shelf[~shelf["channel"].isin(to_order)]).assign(channel="all")
    demand = seen.merge(bottles.reset_index(), on=key, how="outer").fillna(
        {"shelf_days": 0.0, "open_days": 0.0, "exposure": 0.0}
    )
    demand["bottles"] = demand["bottles"].fillna(0).where(demand["bottles"].notna() | (demand["shelf_days"] > 0))
    demand["hidden"] = _hidden(demand, _sold_by_month(sales, settings))
    of_wanted = demand["bottles"].astype("float64") / (demand["bottles"].astype("float64") + demand["hidden"])
    demand["exposure"] = (demand["exposure"] * of_wanted.fillna(1.0)).round(DECIMALS)
    prices = _usual_prices(sales, to_order)
    return check(demand.merge(prices, on=key, how="left").sort_values(key), STEPS["demand"])


def _hidden(demand: pd.DataFrame, by_month: set[str]) -> pd.Series:
    """Bottles wanted and not there in weeks of which only the end is known; a month is no week, so not from months."""
    weeks = demand["known"] == END_ONLY
    if not (weeks & ~demand["scent"].isin(by_month)).any():
        return pd.Series(np.nan, index=demand.index)
    from planner.shelf.hidden import hidden_demand

    crowd = demand[(demand["channel"] == "all") & ~demand["scent"].isin(by_month)]
    wide = {
        name: crowd.assign(end_only=weeks).pivot(index="week", columns="scent", values=name)
        for name in ("bottles", "exposure", "end_only")
    }
    found = hidden_demand(
        wide["bottles"].to_numpy(dtype="float64", na_value=np.nan),
        wide["exposure"].to_numpy(float),
        wide["end_only"].eq(True).to_numpy(),
    )
    table = pd.DataFrame(found, index=wide["bottles"].index, columns=wide["bottles"].columns)
    at = table.index.get_indexer(crowd["week"]), table.columns.get_indexer(crowd["scent"])
    return pd.Series(found[at], index=crowd.index).reindex(demand.index)


def _sold_by_month(sales: pd.DataFrame, settings: Settings) -> set[str]:
    """Scents with sales that are totals of months."""
    whole = spans(sales, settings)
    return set(sales.loc[(whole["last"] - whole["first"]).dt.days > 7, "scent"])


def _monday(day: pd.Series) -> pd.Series:
    return day - pd.to_timedelta(day.dt.day_of_week, unit="D")


def _less_refunds(sales: pd.DataFrame) -> pd.DataFrame:
    """Sales with refunds taken back from the latest sale of that scent and channel before them.

    What finds no sale before it is left out here; it stands as a refund in sales.
    """
    wanted = sales.loc[sales["kind"] == "sale", ["day", "scent", "channel", "bottles"]]
    wanted = wanted.sort_values("day", kind="stable").reset_index(drop=True)
    bottles = wanted["bottles"].to_numpy(dtype="int64").copy()
    places = wanted.groupby(["scent", "channel"]).indices  # in order of day
    days = wanted["day"].to_numpy()
    refunds = sales[sales["kind"] == "refund"].sort_values("day", kind="stable")
    for row in refunds.itertuples(index=False):
        mine = places.get((row.scent, row.channel), np.array([], dtype=int))
        left = -int(row.bottles)
        for place in mine[: np.searchsorted(days[mine], row.day, side="right")][::-1]:
            taken = min(left, bottles[place])
            bottles[place] -= taken
            left -= taken
            if not left:
                break
    return wanted.assign(bottles=bottles)


def _usual_prices(sales: pd.DataFrame, to_order: list[str]) -> pd.DataFrame:
    paid = sales[(sales["kind"] == "sale") & (sales["unit_price"] > 0)]
    paid = paid.assign(week=_monday(paid["day"]), channel=paid["channel"].where(paid["channel"].isin(to_order), "all"))
    prices = paid.groupby(["week", "scent", "channel"])["unit_price"].median()
    return prices.rename("usual_price").reset_index()
