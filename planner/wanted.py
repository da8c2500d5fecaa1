"""Small tables of what was on the shelf, and of what became of every bottle sold, for reading and drawing."""

from collections.abc import Sequence

import pandas as pd

from planner.summaries import MOST_DRAWN

INFERRED, END_ONLY = "inferred", "end only"  # how weeks are known (see words.COLUMNS)


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


def counts_off(differences: pd.DataFrame) -> pd.DataFrame:
    """Return the counts that differ from stock rolled forward, the latest first: bottles missing are below zero."""
    off = differences[differences["difference"] != 0].sort_values("date", ascending=False, kind="stable")
    off = off.rename(columns={"rolled": "rolled_forward", "counted": "on_hand"})
    return off[["date", "scent", "since", "rolled_forward", "on_hand", "difference"]].reset_index(drop=True)
