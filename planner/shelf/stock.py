"""Bottles on hand day by day: rolled forward from each count with what came and what went."""

from typing import NamedTuple

import numpy as np
import pandas as pd

TO_STOCKIST, FROM_STOCKIST = "to stockist", "from stockist"
COMES = ("return", FROM_STOCKIST, "found")  # moves that add bottles; every other one takes them away
GOES = ("tester", "gift", "breakage", TO_STOCKIST)  # the known ones of those


class Ledger(NamedTuple):
    """Bottles by day (down) and scent (across): coming to and leaving the shop's shelf, sold, standing at stockists."""

    arrives: pd.DataFrame
    leaves: pd.DataFrame
    sold: pd.DataFrame
    at_stockists: pd.DataFrame


class Rolled(NamedTuple):
    """Bottles by day and scent: at the start of the day with what came, at its end, and more gone than there were.

    NA where nothing was counted yet. `believed`: it sold with none left, so there was one until the next count or
    batch. `left`: bottles at the end of the day before they were counted, which is `end` where nobody counted.
    """

    start: np.ndarray
    end: np.ndarray
    short: np.ndarray
    believed: np.ndarray
    left: np.ndarray


def movements(
    sales: pd.DataFrame,
    scents: pd.DataFrame,
    runs: pd.DataFrame,
    moves: pd.DataFrame,
    days: pd.DatetimeIndex,
    to_order: list[str],
) -> Ledger:
    """Return what came and went on each day.

    A run comes when it is ready, without rejected and retained bottles. Write-offs and gifts leave as sales do. What a
    stockist sells is taken from the bottles brought there before, and only what is more than those from the shop.
    """
    names = list(scents["scent"])
    gone = sales[sales["kind"] != "refund"]
    ordered = gone["channel"].isin(to_order)
    bottles = moves["bottles"].astype("float64")
    why = said(moves)
    there = why.map({TO_STOCKIST: 1.0, FROM_STOCKIST: -1.0}).fillna(0.0) * bottles
    brought = _wide(_by_day(there, moves["scent"], moves["date"]), days, names)
    sold_there = _wide(_by_day(gone["bottles"].abs(), gone["scent"], gone["day"], ordered), days, names)
    at_stockists, taken = _draw_down(brought.to_numpy(), sold_there.to_numpy())
    sold = _wide(_by_day(gone["bottles"].abs(), gone["scent"], gone["day"]), days, names)
    comes = why.isin(COMES)
    made = _wide(_by_day(good_bottles(runs), runs["scent"], ready_days(runs, scents)), days, names)
    came = _wide(_by_day(bottles, moves["scent"], moves["date"], comes), days, names)
    left = _wide(_by_day(bottles, moves["scent"], moves["date"], ~comes), days, names)
    return Ledger(made + came, sold - taken + left, sold, pd.DataFrame(at_stockists, index=days, columns=names))


def said(moves: pd.DataFrame) -> pd.Series:
    """Return the word of each move as we read it: small letters, single spaces."""
    return moves["why"].astype("str").str.casefold().str.split().str.join(" ")


def ready_days(runs: pd.DataFrame, scents: pd.DataFrame) -> pd.Series:
    """Return the first day each run is for sale: as written down, else its date and the rest of its scent."""
    rest = scents.set_index("scent")["rest_days"].astype("float64").fillna(0.0)
    rested = runs["date"] + pd.to_timedelta(runs["scent"].map(rest).astype("float64").fillna(0.0), unit="D")
    return runs["ready_on"].fillna(rested) if "ready_on" in runs else rested


def good_bottles(runs: pd.DataFrame) -> pd.Series:
    """Return the bottles of each run for the shelf: filled, less rejected and retained ones."""
    good = runs["bottles_filled"] - runs["bottles_rejected"].fillna(0) - runs["retained"].fillna(0)
    return good.astype("float64").clip(lower=0.0)


def roll_forward(counted: np.ndarray, ledger: Ledger) -> Rolled:
    """Roll each count, taken at the end of its day, forward to the next one; bottles below none are `short`."""
    arrives, leaves, sold = (table.to_numpy() for table in ledger[:3])
    start, end, short, left = (np.empty(counted.shape) for _ in range(4))
    believed = np.zeros(counted.shape, bool)
    now, there = np.full(counted.shape[1], np.nan), np.zeros(counted.shape[1], bool)
    for day in range(len(counted)):
        is_counted = ~np.isnan(counted[day])
        begins = is_counted & np.isnan(now)  # the first count: what went that day had been there
        start[day] = np.where(begins, counted[day] + leaves[day], now + arrives[day])
        short[day] = np.fmax(leaves[day] - start[day], 0.0)
        there = (there & (arrives[day] == 0)) | ((short[day] > 0) & (sold[day] > 0))
        believed[day] = there
        left[day] = np.maximum(start[day] - leaves[day], 0.0)
        now = np.where(is_counted, counted[day], left[day])
        end[day] = now
        there = there & ~is_counted
    return Rolled(start, end, short, believed, left)


def doubtful_days(rolled: Rolled, counted: np.ndarray) -> np.ndarray:
    """Mark days with none left by the roll-forward before a count that found some: when those came is not known."""
    none, found, marked = rolled.left == 0, np.zeros(counted.shape[1], bool), np.zeros(counted.shape, bool)
    for day in range(len(counted) - 1, -1, -1):
        found = none[day] & np.where(np.isnan(counted[day]), found, counted[day] > 0)
        marked[day] = found
    return marked


def count_differences(counted: pd.DataFrame, left: np.ndarray, rows: pd.DataFrame) -> pd.DataFrame:
    """Return each count beside what rolling the one before it forward gives.

    Columns: date, scent, rolled, counted, difference (counted less rolled), since (day of the count before), row (of
    the count in stock.csv). Below zero, bottles went unrecorded: broken, given away or sold; above zero, they came so.
    `left` is Rolled.left, which never falls below none: what is short stands among the contradictions.
    """
    count = counted.to_numpy()
    day, scent = np.nonzero(~np.isnan(count))
    order = np.lexsort((day, scent))
    day, scent = day[order], scent[order]
    again = np.flatnonzero(np.diff(scent) == 0) + 1  # a count of the same scent as the one before it
    before, day, scent = day[again - 1], day[again], scent[again]
    rolled = left[day, scent]
    columns = {
        "date": counted.index[day],
        "scent": counted.columns[scent],
        "rolled": rolled,
        "counted": count[day, scent],
        "difference": count[day, scent] - rolled,
        "since": counted.index[before],
        "row": rows.to_numpy()[day, scent].astype("int64"),
    }
    return pd.DataFrame(columns).sort_values(["date", "scent"], ignore_index=True)


def _by_day(bottles: pd.Series, scent: pd.Series, day: pd.Series, where: pd.Series | None = None) -> pd.Series:
    of = bottles.astype("float64") if where is None else bottles.astype("float64").where(where, 0.0)
    return of.groupby([scent.rename("scent"), day.rename("day")]).sum()


def _wide(flow: pd.Series, days: pd.DatetimeIndex, names: list[str]) -> pd.DataFrame:
    """Days down, scents across, zero where nothing moved."""
    return flow.unstack(0).reindex(index=days, columns=names).fillna(0.0).astype("float64")


def _draw_down(brought: np.ndarray, sold: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return what stands at stockists at the end of each day, and how much of what they sold came from that."""
    stands, taken, now = np.zeros(brought.shape), np.zeros(brought.shape), np.zeros(brought.shape[1])
    for day in np.flatnonzero((brought != 0).any(axis=1).cumsum() > 0):  # nothing stands there before the first move
        now = np.maximum(now + brought[day], 0.0)
        taken[day] = np.minimum(sold[day], now)
        now = now - taken[day]
        stands[day] = now
    return stands, taken
