"""Time without sales: gaps in a channel, markets that sold nothing, sales that end early, a week cut off."""

from math import exp, lgamma

import numpy as np
import pandas as pd

from planner.plausible.finding import Finding, day, number, some, span
from planner.settings import Settings
from planner.tables import WHOLE_SHOP

FEWEST_DAYS = 21  # open days without a line; shorter gaps come from holidays nobody writes down
CHANCE = 0.001  # that so long a gap comes up anywhere in the record by chance
NEAR_DAYS = (56, 91)  # open days before and after a gap that tell what was usual then: two months, a quarter
FEWEST_NEAR_DAYS = 28  # fewer before it do not tell what is usual
YEAR_DAYS = 364  # the same weekday a year before
MARKETS_THAT_SELL = 0.9  # where nearly every market has sales, one without is missing and not slow
FEWEST_MARKETS = 5  # fewer do not tell what is usual
OLD_DAYS = 14  # exports older than this miss enough sales to change what is on hand


def silent_channels(
    lines: pd.DataFrame, calendar: pd.DataFrame, settings: Settings, newest: pd.Timestamp
) -> list[Finding]:
    """Return gaps of weeks in channels that are open every day, most bottles at stake first.

    A gap is told from a slow time by the share of open days with a line in two months and in a quarter before and
    after it, and on the same days a year before and after: the one that makes it likeliest.
    """
    found = []
    for channel, mine in lines.groupby("channel", observed=True):
        if settings.channel(channel).open != "every day":
            continue
        first = mine["day"].min()
        size = (newest - first).days + 1
        place = (mine["day"] - first).dt.days.to_numpy()
        bottles = np.bincount(place, mine["bottles"].where(mine["kind"] == "sale", 0), minlength=size)
        sells = np.bincount(place, minlength=size) > 0
        which = np.flatnonzero(sells | ~_closed(first, size, channel, calendar))
        for start, stop in _gaps(sells[which], which):
            near = np.r_[max(0, start - NEAR_DAYS[-1]) : start, stop : min(len(which), stop + NEAR_DAYS[-1])]
            days = first + pd.to_timedelta([which[start], which[stop - 1]], unit="D")
            stake = bottles[which[near]].mean() * (stop - start)
            share = sells[which[near]].mean()
            found.append((stake, _silent(channel, mine, lines, days, stop - start, share, stake, stop == len(which))))
    return [finding for _, finding in sorted(found, key=lambda pair: -pair[0])]


def _gaps(sells: np.ndarray, which: np.ndarray) -> list[tuple[int, int]]:
    """Return where runs of open days without a line begin and end that chance would hardly leave."""
    edges = np.flatnonzero(np.diff(np.concatenate(([True], sells, [True])).astype("int8")))
    runs = [(start, stop) for start, stop in edges.reshape(-1, 2) if stop - start >= FEWEST_DAYS]
    return [(start, stop) for start, stop in runs if _chance(sells, which, start, stop) < CHANCE]


def _chance(sells: np.ndarray, which: np.ndarray, start: int, stop: int) -> float:
    """Return the chance that a gap like that is anywhere in the record, by what was usual near it; the highest told."""
    if start < FEWEST_NEAR_DAYS:
        return 1.0
    near = [sells[max(0, start - days) : start] for days in NEAR_DAYS]
    near += [sells[stop : stop + days] for days in NEAR_DAYS]
    more = max(0, NEAR_DAYS[0] - (stop - start)) // 2  # a few weeks alone tell little
    for days in (-YEAR_DAYS, YEAR_DAYS):
        first, last = which[start] + days - more, which[stop - 1] + days + more
        near.append(sells[(which >= first) & (which <= last)])
    usual = [part for part in near if len(part) >= min(FEWEST_NEAR_DAYS, stop - start)]
    return float(sells.sum()) * max(_none_of(stop - start, int(part.sum()), len(part)) for part in usual)


def _none_of(days: int, sold: int, of: int) -> float:
    """Return the chance of no line on so many days where `sold` days `of` so many had one (rule of succession)."""
    ways = lgamma(of - sold + 1 + days) - lgamma(of - sold + 1)
    return exp(ways + lgamma(of + 2) - lgamma(of + 2 + days))


def _events(kind: str, channel: str, calendar: pd.DataFrame) -> pd.DataFrame:
    """Return the events of a kind that are for the channel or for the whole shop."""
    whose = calendar["channel"].fillna("").isin([*WHOLE_SHOP, channel])
    return calendar[(calendar["kind"] == kind) & whose]


def _closed(first: pd.Timestamp, size: int, channel: str, calendar: pd.DataFrame) -> np.ndarray:
    closed = np.zeros(size, dtype=bool)
    mine = _events("closed", channel, calendar)
    for event in mine[mine["first_day"].notna()].itertuples(index=False):
        last = event.first_day if pd.isna(event.last_day) else event.last_day
        closed[max(0, (event.first_day - first).days) : max(0, (last - first).days + 1)] = True
    return closed


def _silent(
    channel: str,
    mine: pd.DataFrame,
    lines: pd.DataFrame,
    days: pd.DatetimeIndex,
    length: int,
    share: float,
    stake: float,
    at_the_end: bool,
) -> Finding:
    first, last = days
    between = lines[(lines["day"] >= first) & (lines["day"] <= last) & (lines["kind"] == "sale")]
    others = between.groupby("channel", observed=True)["bottles"].sum().drop(channel, errors="ignore")
    said = [f"{name} {number(sold, 'bottle')}" for name, sold in others.items()]
    beside = f"Meanwhile sold: {some(said)}." if said else "No other channel sold either."
    before = mine[mine["day"] < first]
    end = before[before["day"] == before["day"].max()].sort_values("row").iloc[-1]
    return Finding(
        "sales end early" if at_the_end else "no sales for weeks",
        f"{end['file']}, after row {end['row']:.0f}; {channel}, {span(first, last)}",
        f"{channel} has no line on {number(length, 'open day')}, {span(first, last)}; around them it sells on "
        f"{100 * share:.0f} of 100 days. {beside}",
        f"If an export is missing, about {number(stake, 'bottle')} are too: these weeks count as weeks on the shelf "
        "with nothing wanted, and pace and forecast are too low. If the shop was closed, calendar.csv should say so.",
    )


def silent_markets(
    sold: pd.DataFrame, calendar: pd.DataFrame, settings: Settings, newest: pd.Timestamp
) -> list[Finding]:
    """Return for each channel of market days the markets of the calendar without a sale, where nearly all have some."""
    found = []
    for channel, mine in sold.groupby("channel", observed=True):
        if settings.channel(channel).open != "market days":
            continue
        per_day = mine.groupby("day")["bottles"].sum()
        markets = _events("market", str(channel), calendar)
        markets = markets.assign(last_day=markets["last_day"].fillna(markets["first_day"]))
        markets = markets[(markets["first_day"] >= per_day.index[0]) & (markets["last_day"] <= newest)]
        total = np.concatenate(([0.0], per_day.cumsum()))
        until = total[per_day.index.searchsorted(markets["last_day"], side="right")]
        bottles = until - total[per_day.index.searchsorted(markets["first_day"])]
        silent = markets[bottles == 0]
        if len(markets) >= FEWEST_MARKETS and len(silent) and (bottles > 0).mean() >= MARKETS_THAT_SELL:
            found.append(_silent_market(channel, silent, float(np.median(bottles[bottles > 0])), len(markets)))
    return found


def _silent_market(channel: str, silent: pd.DataFrame, usual: float, markets: int) -> Finding:
    named = [f"{event.what} ({span(event.first_day, event.last_day)})" for event in silent.itertuples(index=False)]
    return Finding(
        "market without sales",
        f"calendar.csv, {channel}",
        f"{len(silent)} of {number(markets, 'market')} in calendar.csv sold nothing: {some(named)}. A usual one sells "
        f"{number(usual, 'bottle')}.",
        "If sales are missing, these days count as days on the shelf with nothing wanted, and markets to come are "
        "forecast too low. If a market did not take place, take it out of calendar.csv.",
    )


def old_exports(newest: pd.Timestamp, today: pd.Timestamp) -> list[Finding]:
    """Return one finding if all the files end weeks before today."""
    if pd.isna(newest) or (today - newest).days <= OLD_DAYS:
        return []
    return [
        Finding(
            "exports end before today",
            f"all files, after {day(newest)}",
            f"The last day in any file is {day(newest)}, {(today - newest).days:,} days before {day(today)}.",
            "What sold since then still counts as on hand unless it was counted in stock.csv, and too little is made.",
        )
    ]


def cut_off(
    lines: pd.DataFrame, accounts: pd.DataFrame, settings: Settings, newest: pd.Timestamp, today: pd.Timestamp
) -> list[Finding]:
    """Return the last week, and the last month of sheets of months, where they are not whole yet.

    Files of weekly totals say nothing of the days in their last week, and are left out.
    """
    grains = {file: _grain(file, settings) for file in accounts["file"].dropna()}
    monthly, totals = {file for file, grain in grains.items() if grain == "month"}, {f for f, g in grains.items() if g}
    found = []
    for file in accounts[accounts["file"].isin(monthly)].itertuples(index=False):
        end = file.last_day + pd.offsets.MonthEnd(0)
        if not pd.isna(file.last_day) and end > today:
            what = f"Its last month is {file.last_day:%b %Y}, which is not over on {day(today)}."
            would = "If it is compared with whole months, or forecast from, it looks slow."
            found.append(Finding("cut-off last month", f"{file.file}, {file.last_day:%b %Y}", what, would))
    daily = lines.loc[~lines["file"].isin(totals), "day"]
    last = accounts.loc[~accounts["file"].isin(totals) & (accounts["last_day"] <= newest), "last_day"]
    ends = max([when for when in (daily.max(), last.max()) if not pd.isna(when)], default=newest)
    if pd.isna(ends) or daily.empty or ends.day_of_week == 6:
        return found
    days = ends.day_of_week + 1
    week = ends - pd.Timedelta(days=days - 1)
    what = f"The sales end on {day(ends)}: the week of {day(week)} has {days} of 7 days."
    would = (
        f"It counts with {number(days, 'day')} on the shelf and not as a week; its sum looks low beside whole weeks."
    )
    return [*found, Finding("cut-off last week", f"all channels, week of {day(week)}", what, would)]


def _grain(file: str, settings: Settings) -> str:
    """Return "month" or "week" where each day in the file stands for a whole one, else nothing."""
    first = settings.export_of(file)
    if first is None:
        return ""
    return "month" if first.months_across else first.totals
