"""Small tables of what was on the shelf, and of what became of every bottle sold, for reading and drawing."""

from collections.abc import Sequence

import pandas as pd

from planner.pace import weeks_on_shelf
from planner.settings import Settings
from planner.summaries import MOST_DRAWN

INFERRED, END_ONLY = "inferred", "end only"  # how weeks are known (see words.COLUMNS)


def last_day_known(shelf: pd.DataFrame, settings: Settings, today: pd.Timestamp) -> pd.Timestamp:
    """Return the last day of which the sales are known: that of table shelf, or its Sunday where no shop is open daily.

    A shop that sells at markets only has no sale after its Saturday, and that week is over all the same once the next
    one has begun.
    """
    last = shelf["day"].max()
    channels = shelf["channel"].unique()
    if any(settings.channel(name).open == "every day" for name in channels):
        return last
    return min(last + pd.Timedelta(days=6 - last.day_of_week), today) if pd.notna(last) else last


def latest_weeks(demand: pd.DataFrame, scents: Sequence[str], weeks: int, last_day: pd.Timestamp) -> pd.DataFrame:
    """Return the latest weeks of the first scents, what is to order apart, for drawing.

    `sold_out`: could be bought on no day although a channel was open; `off_shelf`: share of the open days it was sold
    out, 0 where nobody could buy (of weeks sold out by their end only, the share of what was wanted); `guessed`: that
    was inferred from days without a sale; `not_over`: the sales end on `last_day`, before the week does.
    """
    table = demand[(demand["channel"] == "all") & demand["scent"].isin(scents[:MOST_DRAWN])]
    table = table[table["week"] > table["week"].max() - pd.Timedelta(weeks=weeks)]
    opened = table["open_days"].astype("float64")
    off = (1 - table["shelf_days"].astype("float64") / opened.where(opened > 0)).fillna(0.0)
    off = off.where(table["known"] != END_ONLY, 1 - table["exposure"].astype("float64")).clip(0, 1)
    return table.assign(
        sold_out=sold_out_weeks(table),
        off_shelf=off,
        guessed=table["known"].isin([INFERRED]) & (off > 0),
        not_over=table["week"] + pd.Timedelta(days=6) > last_day,
    )


def sold_out_weeks(demand: pd.DataFrame) -> pd.Series:
    """Mark the weeks in which a scent was sold out: for sale, a channel open, and none there; a closed week is not."""
    return (demand["open_days"] > 0) & (demand["shelf_days"] == 0) & demand["bottles"].isna()


def doubtful_weeks(weeks: pd.DataFrame, differences: pd.DataFrame) -> pd.Series:
    """Mark weeks off the shelf before a count that found more than stock rolled forward to it from the one before.

    A batch or a return was not written down then, and may have been there in those weeks already. `weeks`: rows of
    table demand; `differences`: see planner.shelf.
    """
    more = differences.loc[differences["difference"] > 0, ["scent", "since", "date"]]
    pairs = weeks[["scent", "week"]].reset_index(names="at").merge(more, on="scent")
    between = (pairs["week"] < pairs["date"]) & (pairs["week"] + pd.Timedelta(days=6) > pairs["since"])
    return pd.Series(weeks.index.isin(pairs.loc[between, "at"]), index=weeks.index)


def counts_off(differences: pd.DataFrame) -> pd.DataFrame:
    """Return the counts that differ from stock rolled forward, the latest first: bottles missing are below zero."""
    off = differences[differences["difference"] != 0].sort_values("date", ascending=False, kind="stable")
    off = off.rename(columns={"rolled": "rolled_forward", "counted": "on_hand"})
    return off[["date", "scent", "since", "rolled_forward", "on_hand", "difference"]].reset_index(drop=True)


def in_no_pace(demand: pd.DataFrame, scents: pd.DataFrame) -> pd.DataFrame:
    """Return bottles that shoppers bought in weeks not on the shelf, which no pace counts: scent, bottles, weeks, why.

    A scent that only ever sold to order is not among them.
    """
    sold = demand[(demand["channel"] == "all") & (demand["bottles"] > 0)]
    lost = sold[~sold.index.isin(weeks_on_shelf(sold).index)]
    dates = scents.drop_duplicates("scent").set_index("scent")
    begins, ends = (lost["scent"].map(dates[name]) for name in ("first_sold", "last_sold"))
    last_day = lost["week"] + pd.Timedelta(days=6)
    why = pd.Series("sold out, by counts and batches", index=lost.index)
    why = why.mask(lost["open_days"] == 0, "no channel that has it was open, by shop.toml, calendar.csv and scents.csv")
    why = why.mask((begins > last_day) | (ends < lost["week"]), "before first_sold or after last_sold in scents.csv")
    table = lost.assign(why=why).groupby(["scent", "why"]).agg(bottles=("bottles", "sum"), weeks=("week", "size"))
    table = table.reset_index()[["scent", "bottles", "weeks", "why"]]
    return table.sort_values("bottles", ascending=False, kind="stable", ignore_index=True)


def from_sales_to_pace(
    sales: pd.DataFrame, demand: pd.DataFrame, pace: pd.DataFrame, first_day: pd.Timestamp
) -> pd.DataFrame:
    """Return how bottles sold become those that are ranked, step by step, to the unit: what, bottles.

    The parts add up to the last row, the bottles in table pace. `first_day` begins the weeks that are ranked. What
    refunds took back is worked out from sales alone, so that a difference would show, as a row of its own.
    """
    crowd = demand["channel"] == "all"
    on_shelf = demand.index.isin(weeks_on_shelf(demand).index)
    before = demand["week"] < first_day if pd.notna(first_day) else crowd

    def bottles(rows: pd.Series) -> int:
        return int(demand.loc[rows, "bottles"].sum())

    parts = {
        "sold, by the sales files": int(sales.loc[sales["kind"] == "sale", "bottles"].sum()),
        "taken back by refunds": -taken_back(sales),
        "sold to order, which is no shopper's choice": -bottles(~crowd),
        "bought in weeks not on the shelf, so in no pace": -bottles(crowd & ~on_shelf),
        "bought before the weeks that are ranked": -bottles(crowd & on_shelf & before),
    }
    ranked = int(pace["bottles"].sum())
    difference = ranked - sum(parts.values())
    if difference:
        parts["not explained"] = difference
    parts["in the ranking"] = ranked
    return pd.DataFrame({"what": list(parts), "bottles": list(parts.values())}).astype({"what": "str"})


def taken_back(sales: pd.DataFrame) -> int:
    """Return how many bottles refunds took back from sales of that scent and channel on or before their day.

    Refunds that run ahead of the sales find none. [bottles]
    """
    rows = sales[sales["kind"].isin(["sale", "refund"])]
    rows = rows.assign(back=rows["kind"] == "refund", bottles=rows["bottles"].abs())
    rows = rows.sort_values(["day", "back"], kind="stable")
    key = [rows["scent"], rows["channel"]]
    sold = rows["bottles"].where(~rows["back"], 0).groupby(key).cumsum()
    refunded = rows["bottles"].where(rows["back"], 0).groupby(key).cumsum()
    found_none = (refunded - sold).groupby(key).max().clip(lower=0).sum()
    return int(rows.loc[rows["back"], "bottles"].sum() - found_none)
