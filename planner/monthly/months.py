"""From sales to a table of months, and whether months are all that the sales tell."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from planner.settings import Settings

FEWEST_FIRSTS = 6  # lines on the first days of months before they count as a sheet of months and not as chance
GIANT_TIMES, GIANT_BOTTLES, GIANT_MONTHS = 8, 30, 4  # no crowd buys eight times the next best month of four
LEAST_OPEN = 0.2  # of a month, about a week: fewer days say nothing of a whole one (judgement)
MONTHLY_SHARE = 0.1  # of the bottles in months: weeks would then be wrong by as much, months are not


@dataclass(frozen=True)
class Months:
    """Some series by month: `values[series, month]`, NaN where unknown; `months` holds the first days, no gap.

    `period` is 12 for months and 4 for quarters. `like` may hold for each series the places of those it is like, which
    is all that is known of the level of a new one.
    """

    values: np.ndarray
    names: tuple[str, ...]
    months: pd.DatetimeIndex
    period: int = 12
    like: tuple[tuple[int, ...], ...] = ()


def month_lines(sales: pd.DataFrame, settings: Settings) -> pd.Series:
    """Say of each line of the sales (table sales) whether it stands for a month, whatever day it is dated.

    Such are those of an export with months across or totals = "month". Where all sales there are stand on the first day
    of one of several months, all do.
    """
    told = {file: _tells_months(str(file), settings) for file in sales["file"].dropna().unique()}
    found = sales["file"].map(told).fillna(False).astype(bool)
    mine = sales.loc[sales["kind"].eq("sale"), "day"]
    all_first = mine.dt.day.eq(1).all() and len(mine) >= FEWEST_FIRSTS and mine.min() < mine.max()
    return found | (all_first & sales["day"].dt.day.eq(1))


def grain(sales: pd.DataFrame, settings: Settings) -> str:
    """Say "month" where at least MONTHLY_SHARE of the bottles sold to shoppers are known by month only, else "week"."""
    to_order = [channel.name for channel in settings.channels if channel.open == "to order"]
    mine = sales["kind"].eq("sale") & ~sales["channel"].isin(to_order)
    total = sales.loc[mine, "bottles"].sum()
    monthly = sales.loc[mine & month_lines(sales, settings), "bottles"].sum()
    return "month" if total > 0 and monthly >= MONTHLY_SHARE * total else "week"


def _tells_months(file: str, settings: Settings) -> bool:
    export = settings.export_of(file)
    return export is not None and (export.months_across or export.totals == "month")


def month_totals(sales: pd.DataFrame, scents: pd.DataFrame, settings: Settings, today: pd.Timestamp) -> Months:
    """Return bottles of each scent by month, up to the last month that was over by `today` and has a sale.

    A month without a sale is 0 from the scent's first sale (or stated first day) to its stated last day, and unknown
    outside of that; so is a month with one giant order. Refunds count in the month they were made in, down to 0.
    Scents are those of scents.csv, then others in the sales.
    """
    series = _all_months(sales, scents, settings, today)
    return replace(series, values=np.where(_giants(series.values), np.nan, series.values))


def as_if_open(series: Months, opened: np.ndarray) -> Months:
    """Return what would have sold in months without closed days; `opened` (month,) is the share that was open, 0 to 1.

    A month with hardly an open day tells nothing and is unknown. Lengths must agree.
    """
    told = opened >= LEAST_OPEN
    return replace(series, values=np.where(told, series.values / np.where(told, opened, 1.0), np.nan))


def months_left_out(sales: pd.DataFrame, scents: pd.DataFrame, settings: Settings, today: pd.Timestamp) -> pd.DataFrame:
    """Return the months nothing is learned from because of one giant order: scent, week (first day), bottles, why."""
    series = _all_months(sales, scents, settings, today)
    scent, month = np.nonzero(_giants(series.values))
    table = {"scent": pd.Series(np.array(series.names, dtype=object)[scent], dtype="str"), "week": series.months[month]}
    return pd.DataFrame(
        table
        | {
            "bottles": series.values[scent, month].astype("int64"),
            "why": pd.Series("one giant order", range(len(scent)), dtype="str"),
        }
    )


def _all_months(sales: pd.DataFrame, scents: pd.DataFrame, settings: Settings, today: pd.Timestamp) -> Months:
    """Return bottles by month with giant orders and all."""
    to_order = [channel.name for channel in settings.channels if channel.open == "to order"]
    mine = sales[sales["kind"].isin(["sale", "refund"]) & ~sales["channel"].isin(to_order)]
    month = mine["day"].dt.to_period("M").dt.to_timestamp().astype("datetime64[us]").rename("month")
    over = month + pd.offsets.MonthBegin(1) <= today
    table = mine[over].pivot_table(index="scent", columns=month[over], values="bottles", aggfunc="sum")
    wanted = dict.fromkeys([*scents["scent"].dropna().astype(str), *mine["scent"].dropna().astype(str)])
    last = table.columns.max() if table.size else (today.normalize().replace(day=1) - pd.DateOffset(months=1))
    months = pd.date_range(table.columns.min() if table.size else last, last, freq="MS", unit="us")
    table = table.reindex(index=pd.Index(wanted, dtype="str"), columns=months)
    values = table.to_numpy(float, na_value=np.nan)
    on_sale = _on_sale(values, table.index, months, scents)
    bottles = np.where(on_sale, np.maximum(np.nan_to_num(values), 0.0), np.nan)
    like = _likes(scents, list(table.index))
    return Months(bottles, tuple(table.index), months, like=like)


def _likes(scents: pd.DataFrame, names: Sequence[str]) -> tuple[tuple[int, ...], ...]:
    """Return the places of the scents that each of `names` is like; scents.csv names several with ; between."""
    place = {name: i for i, name in enumerate(names)}
    said = dict(zip(scents["scent"], scents["like"].fillna("").astype(str), strict=True)) if "like" in scents else {}
    others = [[one.strip() for one in said.get(name, "").split(";")] for name in names]
    return tuple(
        tuple(place[one] for one in mine if one in place and one != name)
        for name, mine in zip(names, others, strict=True)
    )


def _giants(bottles: np.ndarray) -> np.ndarray:
    """Return months out of all proportion: alone, and many times the next best even for what the others sold then."""
    if bottles.shape[1] < GIANT_MONTHS:
        return np.zeros(bottles.shape, bool)
    sold = np.nan_to_num(bottles)
    second, best = np.sort(sold, axis=1)[:, -2:].T
    others = sold.sum(axis=0) - sold
    usual = np.median(others, axis=1, keepdims=True)
    lift = np.maximum(others / np.where(usual > 0, usual, np.inf), 1.0).max(
        axis=1, where=sold == best[:, None], initial=1
    )
    many = (~np.isnan(bottles)).sum(axis=1) >= GIANT_MONTHS
    alone = many & (best >= GIANT_BOTTLES) & (best > GIANT_TIMES * lift * second)
    return alone[:, None] & (sold == best[:, None])


def _on_sale(values: np.ndarray, names: pd.Index, months: pd.DatetimeIndex, scents: pd.DataFrame) -> np.ndarray:
    """Return the months in which each scent could be bought, as far as first sales and stated days tell."""
    sold = np.nan_to_num(values) > 0
    first_sale = np.where(sold.any(axis=1), sold.argmax(axis=1), len(months))
    said = scents.dropna(subset="scent").drop_duplicates("scent").set_index("scent").reindex(names)
    begins = months.to_numpy("datetime64[D]")
    first = said["first_sold"].to_numpy("datetime64[D]")
    whole = np.where(np.isnat(first), len(months), np.searchsorted(begins, first))  # a month begun half is not whole
    start = np.minimum(first_sale, whole)
    last = said["last_sold"].to_numpy("datetime64[D]")
    ends = (months + pd.offsets.MonthEnd(0)).to_numpy("datetime64[D]")
    return (np.arange(len(months)) >= start[:, None]) & ~(last[:, None] < ends)
