"""What was for sale when: stock rolled forward from counts, else guessed from sales that stayed away."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.settings import Settings
from planner.shelf.openings import market_days, open_days
from planner.shelf.weights import day_weights
from planner.tables import STEPS, check

COMES = ("return", "from stockist", "found")  # moves that add bottles; every other one takes them away
DAY_IT_RAN_OUT = 0.5  # share of that day on the shelf: the hour is not known
CHANCE_OF_NO_SALES = 0.01  # a run of weeks without a sale less likely than this is taken for sold out
FEWEST_ZERO_WEEKS = 2  # shorter runs are never taken for sold out
RESTLESS = 2.0  # shape of the gamma spread of weekly rates for that chance: a wide one, so that few weeks are taken


class ShelfBook(NamedTuple):
    """The shelf day by day, stock now, where count and roll-forward disagree, and contradictions."""

    shelf: pd.DataFrame
    on_hand: pd.DataFrame
    differences: pd.DataFrame
    problems: list[Problem]


def shelf_days(
    sales: pd.DataFrame,
    scents: pd.DataFrame,
    stock: pd.DataFrame,
    runs: pd.DataFrame,
    moves: pd.DataFrame,
    calendar: pd.DataFrame,
    settings: Settings,
    today: pd.Timestamp,
) -> ShelfBook:
    """Return the share of each day that each scent was on the shelf, until the last day the sales files cover.

    Stock is counted at the end of a day and rolled forward with sales, runs that are ready after their rest, and
    moves. Where a scent was never counted it is taken to be on the shelf, unless it sold nothing for too long to be
    chance. Results: `shelf` (see tables.STEPS), `on_hand` (scent, on_hand, counted_on, known) at the start of today,
    `differences` (date, scent, rolled, counted, difference).
    """
    names = list(scents["scent"])
    first = min(sales["day"].min(), today) if len(sales) else today
    days = pd.date_range(first, today, name="day")
    stock = stock[(stock["date"] >= first) & (stock["date"] <= today)]
    arrives, leaves = _movements(sales, scents, runs, moves)
    arrives, leaves = _wide(arrives, days, names), _wide(leaves, days, names)
    counted = stock.pivot(index="date", columns="scent", values="on_hand").reindex(index=days, columns=names)
    flow = (arrives - leaves).cumsum()
    base = (counted - flow).ffill()  # what is on hand is base + flow
    rolled = base.shift(1) + flow
    share, known = _shares(base, flow, arrives, leaves)
    sold = _wide(_sold(sales), days, names)
    share, known, problems = _believe_sales(share, known, sold, counted)
    share = share.where(_for_sale(sales, scents, days, names))
    covered = share.loc[: sales["day"].max()] if len(sales) else share.iloc[:0]
    share, known = _infer_sold_out(covered, known.loc[covered.index], sold)
    shelf = check(_by_channel(share, known, sales, calendar, settings), STEPS["shelf"])
    return ShelfBook(shelf, _on_hand(base + flow, stock, names), _differences(rolled, counted), problems)


def _sold(sales: pd.DataFrame) -> pd.Series:
    gone = sales[sales["kind"] != "refund"]
    return _by_day(gone["bottles"].abs(), gone["scent"], gone["day"])


def _by_day(bottles: pd.Series, scent: pd.Series, day: pd.Series) -> pd.Series:
    return bottles.astype("float64").groupby([scent.rename("scent"), day.rename("day")]).sum()


def _movements(
    sales: pd.DataFrame, scents: pd.DataFrame, runs: pd.DataFrame, moves: pd.DataFrame
) -> tuple[pd.Series, pd.Series]:
    """Bottles that come and bottles that go, each by scent and day."""
    rest = scents.set_index("scent")["rest_days"].astype("float64").fillna(0)
    ready = runs["date"] + pd.to_timedelta(runs["scent"].map(rest).astype("float64").fillna(0), unit="D")
    good = runs["bottles_filled"] - runs["bottles_rejected"].fillna(0) - runs["retained"].fillna(0)
    made = _by_day(good, runs["scent"], ready)
    bottles = moves["bottles"].astype("float64")
    moved = _by_day(bottles.where(moves["why"].isin(COMES), -bottles), moves["scent"], moves["date"])
    return made.add(moved.clip(lower=0), fill_value=0), _sold(sales).add(-moved.clip(upper=0), fill_value=0)


def _wide(flow: pd.Series, days: pd.DatetimeIndex, names: list[str]) -> pd.DataFrame:
    """Days down, scents across, zero where nothing moved."""
    return flow.unstack(0).reindex(index=days, columns=names).fillna(0.0).astype("float64")


def _shares(
    base: pd.DataFrame, flow: pd.DataFrame, arrives: pd.DataFrame, leaves: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Share of the day on the shelf where stock is known, 1 where it is not."""
    end = base + flow
    start = (base + flow).shift(1) + arrives
    start = start.where(start.notna(), end + leaves)
    share = (start > 0).astype(float).where((end > 0) | (start <= 0), DAY_IT_RAN_OUT)
    rolled = end.notna()
    known = pd.DataFrame(np.where(rolled, "rolled forward", "assumed"), index=end.index, columns=end.columns)
    return share.where(rolled, 1.0), known


def _believe_sales(
    share: pd.DataFrame, known: pd.DataFrame, sold: pd.DataFrame, counted: pd.DataFrame
) -> tuple[pd.DataFrame, pd.DataFrame, list[Problem]]:
    """Where a scent sold although none was left, there was one: from that day to the next count it is on the shelf."""
    against = (share == 0) & (sold > 0)
    segment = counted.notna().shift(1, fill_value=False).cumsum()
    believed = pd.DataFrame({name: against[name].groupby(segment[name]).cummax() for name in share}, index=share.index)
    problems = [
        Problem("stock.csv", 0, name, f"sold on {days:,} days with none left by the last count.", _TODO, stops=False)
        for name, days in against.sum().items()
        if days
    ]
    return share.mask(believed, 1.0), known.mask(believed, "inferred"), problems


_TODO = "A batch is missing in runs.csv, or a count is wrong; those days count as on the shelf."


def _for_sale(sales: pd.DataFrame, scents: pd.DataFrame, days: pd.DatetimeIndex, names: list[str]) -> pd.DataFrame:
    """Mark the days from the first one for sale (stated, else the first sale) to the last one stated."""
    first = scents.set_index("scent")["first_sold"].reindex(names)
    first = first.fillna(sales.groupby("scent")["day"].min().reindex(names)).fillna(days[0])
    last = scents.set_index("scent")["last_sold"].reindex(names).fillna(days[-1])
    day = days.to_numpy()[:, None]
    return pd.DataFrame((day >= first.to_numpy()) & (day <= last.to_numpy()), index=days, columns=names)


def _infer_sold_out(share: pd.DataFrame, known: pd.DataFrame, sold: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Take runs of whole weeks without a sale for sold out where chance would hardly leave them so."""
    week = share.index - pd.to_timedelta(share.index.day_of_week, unit="D")
    open_days = share.where(known == "assumed").groupby(week).sum()
    bottles = sold.reindex(share.index).groupby(week).sum().where(open_days > 0)
    expected = _expected(bottles, open_days)
    zero = (bottles == 0) & (open_days > 0)
    for name in share.columns[zero.any()]:
        run = (zero[name] != zero[name].shift()).cumsum()
        length, total = zero[name].groupby(run).transform("sum"), expected[name].groupby(run).transform("sum")
        chance = (1 + total / RESTLESS) ** -RESTLESS
        out = zero[name] & (length >= FEWEST_ZERO_WEEKS) & (chance < CHANCE_OF_NO_SALES)
        days = pd.Series(week, index=share.index).map(out) & (known[name] == "assumed") & share[name].notna()
        share.loc[days, name], known.loc[days, name] = 0.0, "inferred"
    return share, known


def _expected(bottles: pd.DataFrame, open_days: pd.DataFrame) -> pd.DataFrame:
    """Bottles a week at the scent's share of what all scents sold in the weeks in which it sold."""
    alive = bottles > 0
    family = bottles.sum(axis=1)
    shares = bottles.sum() / alive.mul(family, axis=0).sum().replace(0, np.nan)
    return pd.DataFrame(np.outer(family, shares.fillna(0)), index=bottles.index, columns=bottles.columns)


def _by_channel(
    share: pd.DataFrame, known: pd.DataFrame, sales: pd.DataFrame, calendar: pd.DataFrame, settings: Settings
) -> pd.DataFrame:
    """One row a day, scent and channel: a channel that is closed that day has nothing on its shelf."""
    names = [channel.name for channel in settings.channels] or sorted(sales["channel"].unique())
    long = share.rename_axis(columns="scent").stack().dropna().rename("on_shelf").reset_index()
    if not names:
        return long.assign(channel="", known="", day_weight=0.0)
    long["known"] = known.stack().reindex(pd.MultiIndex.from_frame(long[["day", "scent"]])).to_numpy()
    opened = open_days(share.index, names, calendar, settings)
    weights = day_weights(
        _sold_in(sales, names, share.index), _there(share, sales), opened, market_days(share.index, names, calendar)
    )
    day = share.index.get_indexer(long["day"])
    parts = [
        long.assign(
            channel=name,
            on_shelf=long["on_shelf"] * opened[name].to_numpy()[day],
            day_weight=weights[name].to_numpy()[day],
        )
        for name in names
    ]
    return pd.concat(parts, ignore_index=True).sort_values(["day", "scent", "channel"])


def _sold_in(sales: pd.DataFrame, channels: list[str], days: pd.DatetimeIndex) -> pd.DataFrame:
    """Bottles sold by day (down) and channel (across)."""
    sold = sales[sales["kind"] == "sale"].groupby(["day", "channel"])["bottles"].sum()
    return sold.unstack().reindex(index=days, columns=channels).astype("float64").fillna(0.0)


def _there(share: pd.DataFrame, sales: pd.DataFrame) -> np.ndarray:
    """Return for each day the share of what usually sells that was on the shelf."""
    usual = sales[sales["kind"] == "sale"].groupby("scent")["bottles"].sum().reindex(share.columns).fillna(0)
    usual = usual.to_numpy(float)
    live = share.notna().to_numpy() @ usual
    return np.divide(share.fillna(0.0).to_numpy() @ usual, live, out=np.zeros(len(share)), where=live > 0)


def _on_hand(end: pd.DataFrame, stock: pd.DataFrame, names: list[str]) -> pd.DataFrame:
    last = end.iloc[-1]
    on = stock.groupby("scent")["date"].max().reindex(names)
    known = np.where(on.isna(), "assumed", np.where(on == end.index[-1], "counted", "rolled forward"))
    columns = {
        "scent": names,
        "on_hand": last.clip(lower=0).fillna(0).to_numpy(),
        "counted_on": on.to_numpy(),
        "known": known,
    }
    return pd.DataFrame(columns)


def _differences(rolled: pd.DataFrame, counted: pd.DataFrame) -> pd.DataFrame:
    both = pd.DataFrame({"rolled": rolled.rename_axis(columns="scent").stack(), "counted": counted.stack()}).dropna()
    both = both.reset_index().rename(columns={"day": "date"})
    return both.assign(difference=both["counted"] - both["rolled"])
