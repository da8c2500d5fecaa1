"""Sales that are written down as totals of weeks or months: only what was left at the end of one is known."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.settings import WEEKDAYS, Export, Settings
from planner.shelf.stock import Rolled

END_ONLY = "end only"  # sold out by the end of the week or month, on no known day


class Periods(NamedTuple):
    """Weeks and months of scents sold in totals: column of the scent, first day, and the day after the last one."""

    scent: np.ndarray
    begin: np.ndarray
    end: np.ndarray


def spans(sales: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return the first and last day that each sale stands for, `first` and `last`: the same where it has a day."""
    exports = {name: settings.export_of(str(name)) for name in sales["file"].unique()}
    grains = {name: _grain(export) for name, export in exports.items()}
    if not any(grains.values()):
        return pd.DataFrame({"first": sales["day"], "last": sales["day"]})
    grain = sales["file"].map(grains)
    starts = {name: WEEKDAYS.index(export.week_starts or "Mon") for name, export in exports.items() if export}
    start = sales["file"].map(starts).fillna(0).astype("int64")
    first = sales["day"].mask(grain == "week", week_begins(sales["day"], start))
    first = first.mask(grain == "month", sales["day"] - pd.to_timedelta(sales["day"].dt.day - 1, unit="D"))
    last = sales["day"].mask(grain == "week", first + pd.Timedelta(days=6))
    return pd.DataFrame({"first": first, "last": last.mask(grain == "month", first + pd.offsets.MonthEnd(1))})


def week_begins(day: pd.Series, start: pd.Series) -> pd.Series:
    """Return the first day of the week that each day lies in; weeks begin on weekday `start`, Monday being 0."""
    return day - pd.to_timedelta((day.dt.day_of_week - start) % 7, unit="D")


def _grain(export: Export | None) -> str:
    if export is None:
        return ""
    return "month" if export.months_across else export.totals


def covered_days(sales: pd.DataFrame, settings: Settings, days: pd.DatetimeIndex) -> np.ndarray:
    """Say which of `days`, the last of which is today, the sales cover: a total covers all days it stands for.

    One that is not over yet covers the days gone so far, which are those before today.
    """
    whole, day, yesterday = spans(sales, settings), sales["day"], days[-1] - pd.Timedelta(days=1)
    last = whole["last"].where(whole["last"] < days[-1], day.clip(lower=yesterday))
    return np.asarray((days >= whole["first"].min()) & (days <= last.max()))


def periods_of_totals(sales: pd.DataFrame, settings: Settings, days: pd.DatetimeIndex, names: list[str]) -> Periods:
    """Return every week or month of a scent for which a total stands, within `days`."""
    whole = spans(sales, settings).assign(scent=pd.Index(names).get_indexer(sales["scent"]))
    whole = whole[(whole["first"] < whole["last"]) & (whole["scent"] >= 0)].drop_duplicates()
    begin, end = days.searchsorted(whole["first"]), days.searchsorted(whole["last"], side="right")
    return Periods(whole["scent"].to_numpy(), begin, end)


def sold_through(sales: pd.DataFrame, settings: Settings, days: pd.DatetimeIndex) -> pd.DataFrame:
    """Return the sales with each total on the last day it stands for: what was left then is known, not before."""
    return sales.assign(day=spans(sales, settings)["last"].clip(upper=days[-1]))


def sold_by_channel(sales: pd.DataFrame, settings: Settings, opened: pd.DataFrame) -> pd.DataFrame:
    """Return bottles by day (down) and channel (across), a total in equal parts on the open days it stands for."""
    whole = spans(sales, settings).assign(channel=sales["channel"], bottles=sales["bottles"].astype("float64"))
    on_a_day = whole["first"] == whole["last"]
    sold = whole[on_a_day].groupby(["first", "channel"])["bottles"].sum().unstack()
    sold = sold.reindex(index=opened.index, columns=opened.columns).astype("float64").fillna(0.0)
    totals = whole[~on_a_day & whole["channel"].isin(opened.columns)]
    totals = totals.groupby(["first", "last", "channel"], as_index=False)["bottles"].sum()
    for total in totals.itertuples(index=False):
        days = opened.loc[total.first : total.last, total.channel].astype(float)
        if days.sum() > 0:
            sold.loc[days.index, total.channel] += total.bottles * days / days.sum()
    return sold


def spread_totals(sold: np.ndarray, weight: np.ndarray, periods: Periods) -> np.ndarray:
    """Return the bottles sold, those of each total spread over its days by weight, to see on which days none were."""
    sold = sold.copy()
    for scent, begin, end in zip(*periods, strict=True):
        share = weight[begin:end, scent]
        if share.sum() > 0:
            sold[begin:end, scent] = sold[begin:end, scent].sum() * share / share.sum()
    return sold


def end_only(share: np.ndarray, rolled: Rolled, periods: Periods) -> tuple[np.ndarray, np.ndarray]:
    """Return the share of each day and the days of totals whose scent was sold out by the end of the total.

    Such a scent counts as on the shelf from the beginning, or from its first batch, to the end of the total. One that
    sold more than there was counts so all the time.
    """
    share, marked = share.copy(), np.zeros(share.shape, bool)
    for scent, begin, end in zip(*periods, strict=True):
        days, last = (slice(begin, end), scent), (end - 1, scent)
        if rolled.believed[last]:
            share[days] = 1.0
        elif rolled.end[last] == 0:
            marked[days] = share[days] > 0
            share[days] = np.where(marked[days], 1.0, share[days])
    return share, marked


def end_only_before(out: np.ndarray, periods: Periods) -> np.ndarray:
    """Mark the days of a total right before days that are taken for sold out: it ran out in it, on no known day."""
    marked = np.zeros(out.shape, bool)
    for scent, begin, end in zip(*periods, strict=True):
        if end < len(out) and out[end, scent] and not out[begin:end, scent].any():
            marked[begin:end, scent] = True
    return marked
