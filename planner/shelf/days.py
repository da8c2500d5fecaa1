"""What was for sale when: stock rolled forward from counts, else guessed from sales that stayed away."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.settings import Settings
from planner.shelf.contradictions import (
    contradiction_problems,
    contradictions,
    in_the_past,
    more_filled,
    ready_after_mixing,
    unknown_words,
)
from planner.shelf.inferred import chance_sold_out, worth_by_scent
from planner.shelf.openings import channel_openings
from planner.shelf.outlets import outlets
from planner.shelf.selling_time import SellingTime, selling_time
from planner.shelf.stock import (
    Rolled,
    count_differences,
    doubtful_days,
    good_bottles,
    movements,
    ready_days,
    roll_forward,
)
from planner.shelf.totals import (
    END_ONLY,
    Periods,
    end_only,
    end_only_before,
    periods_of_totals,
    sold_by_channel,
    sold_through,
    spread_totals,
)
from planner.shelf.weights import day_weights
from planner.tables import STEPS, check

DAY_IT_RAN_OUT = 0.5  # share of that day on the shelf: the hour is not known
ROLLED, INFERRED, ASSUMED = "rolled forward", "inferred", "assumed"


class ShelfBook(NamedTuple):
    """The shelf day by day, stock now, where count and roll-forward disagree, and contradictions."""

    shelf: pd.DataFrame
    on_hand: pd.DataFrame
    differences: pd.DataFrame
    problems: list[Problem]
    contradictions: pd.DataFrame
    everywhere: pd.DataFrame


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
    moves. Before its first count a scent is taken to be on the shelf, unless it sold nothing for too long to be
    chance (settings.shelf). Results: `shelf` (see tables.STEPS), `on_hand` (scent, on_hand, counted_on, known) at the
    start of today, `differences` and `contradictions` (see planner.shelf.stock and planner.shelf.contradictions), and
    `everywhere`, the shelf as if every channel had every scent: a forecast of whole weeks learns from whole weeks.
    """
    names, sales = list(scents["scent"]), _together(sales)
    stock, moves, runs, problems = _believable(stock, moves, runs, today)
    days = _days(sales, stock[stock["scent"].isin(names)], today)
    time = selling_time(sales, scents, _first_there(stock, runs, scents), days, settings)
    shop = _shop(days, sales, scents, time, calendar, settings)
    counted, rows = (_wide(stock, name, days, names) for name in ("on_hand", "row"))
    ledger = movements(sold_through(sales, settings, days), scents, runs, moves, days, shop.to_order)
    rolled = roll_forward(counted.to_numpy(), ledger)
    share, known = _shares(rolled, counted.to_numpy(), shop.periods)
    share[~time.live] = np.nan
    found = contradictions(rolled, counted, rows)
    share, known = _infer_sold_out(share, known, shop)
    weights, stands = _weights(share, shop).to_numpy(), ledger.at_stockists.to_numpy()
    shelf = check(_by_channel(share, known, weights, stands, shop), STEPS["shelf"])
    whole = shop._replace(has=np.ones_like(shop.has))
    return ShelfBook(
        shelf,
        _on_hand(rolled.end, stock, names, today),
        count_differences(counted, rolled.left, rows),
        [*problems, *time.problems, *shop.problems, *contradiction_problems(found)],
        found,
        shelf if (shop.has == 1).all() else check(_by_channel(share, known, weights, stands, whole), STEPS["shelf"]),
    )


class _Shop(NamedTuple):
    """What is the same in every part of the work: days down, scents across, sales and what is known of channels."""

    days: pd.DatetimeIndex
    names: list[str]
    sales: pd.DataFrame
    periods: Periods
    opened: pd.DataFrame
    markets: pd.DataFrame
    has: np.ndarray  # chance that a channel (across) has a scent (down)
    settings: Settings
    problems: list[Problem]

    @property
    def to_order(self) -> list[str]:
        """Channels that sell to order."""
        return [channel.name for channel in self.settings.channels if channel.open == "to order"]

    @property
    def channels(self) -> list[str]:
        """All channels: those of the settings, else those of the sales."""
        return list(self.opened.columns)


def _shop(
    days: pd.DatetimeIndex,
    sales: pd.DataFrame,
    scents: pd.DataFrame,
    time: SellingTime,
    calendar: pd.DataFrame,
    settings: Settings,
) -> _Shop:
    channels = [channel.name for channel in settings.channels] or sorted(sales["channel"].unique())
    opened, markets, strange = channel_openings(days, channels, sales, calendar, settings)
    has, unlike = outlets(sales, scents, time.live, opened, settings)
    names = list(scents["scent"])
    periods = periods_of_totals(sales, settings, days, names)
    return _Shop(days, names, sales, periods, opened, markets, has, settings, [*strange, *unlike])


def _together(sales: pd.DataFrame) -> pd.DataFrame:
    """Return the sales with one line for all of a day, scent, channel, kind and file: there may be millions."""
    key = ["day", "scent", "channel", "kind", "file"]
    alike = sales[[*key, "bottles"]].assign(negative=sales["bottles"] < 0)
    summed = alike.groupby([*key, "negative"], as_index=False, dropna=False, observed=True)["bottles"].sum()
    return summed.drop(columns="negative")


def _believable(
    stock: pd.DataFrame, moves: pd.DataFrame, runs: pd.DataFrame, today: pd.Timestamp
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, list[Problem]]:
    """Leave out what is dated after today and days of being ready before mixing, each with a problem."""
    stock, late_counts = in_the_past(stock, "stock.csv", today)
    moves, late_moves = in_the_past(moves, "moves.csv", today)
    runs, late_runs = in_the_past(runs, "runs.csv", today)
    runs, early = ready_after_mixing(runs)
    return (
        stock,
        moves,
        runs,
        [*late_counts, *late_moves, *late_runs, *early, *more_filled(runs), *unknown_words(moves)],
    )


def _days(sales: pd.DataFrame, stock: pd.DataFrame, today: pd.Timestamp) -> pd.DatetimeIndex:
    """Return the days from the first sale or count to today."""
    first = min([today, *sales["day"].nsmallest(1), *stock["date"].nsmallest(1)])
    return pd.date_range(first, today, name="day", unit="us")


def _wide(stock: pd.DataFrame, value: str, days: pd.DatetimeIndex, names: list[str]) -> pd.DataFrame:
    """Days down, scents across, NA where nothing was counted."""
    stock = stock if "row" in stock else stock.assign(row=0)
    wide = stock.pivot(index="date", columns="scent", values=value)
    return wide.reindex(index=days, columns=names).astype("float64")


def _shares(rolled: Rolled, counted: np.ndarray, periods: Periods) -> tuple[np.ndarray, np.ndarray]:
    """Share of the day on the shelf where stock is known, 1 where it is not; and how it is known."""
    is_known = ~np.isnan(rolled.end)
    there = rolled.believed | (np.nan_to_num(rolled.start) > 0)
    left = np.where(rolled.believed & np.isnan(counted), 1.0, np.nan_to_num(rolled.end))
    share = np.where(there, np.where(left > 0, 1.0, DAY_IT_RAN_OUT), 0.0)
    share = np.where(is_known, share, 1.0)
    known = np.where(is_known, ROLLED, ASSUMED).astype(object)
    known[rolled.believed] = INFERRED
    share, marked = end_only(share, rolled, periods)
    known[marked] = END_ONLY
    known[doubtful_days(rolled, counted) & (known == ROLLED)] = INFERRED
    return share, known


def _first_there(stock: pd.DataFrame, runs: pd.DataFrame, scents: pd.DataFrame) -> pd.Series:
    """Return the first day of each scent on which it was counted or a batch of it was ready."""
    made = runs[good_bottles(runs) > 0]
    ready = ready_days(made, scents)
    days = pd.concat([stock.set_index("scent")["date"], ready.set_axis(made["scent"])])
    return days.groupby(level=0).min()


def _infer_sold_out(share: np.ndarray, known: np.ndarray, shop: _Shop) -> tuple[np.ndarray, np.ndarray]:
    """Take days without a sale for sold out where they are too many for luck, if the settings say so."""
    free = known == ASSUMED
    if not shop.settings.shelf.infer or not free.any():
        return share, known
    places = [name for name in shop.channels if name not in shop.to_order]
    wanted = shop.sales[(shop.sales["kind"] == "sale") & shop.sales["channel"].isin(places)]
    by_channel = wanted.groupby(["channel", "scent"])["bottles"].sum().unstack()
    by_channel = by_channel.reindex(index=places, columns=shop.names).astype("float64").fillna(0.0)
    has = shop.has[:, [shop.channels.index(name) for name in places]].T
    worth = worth_by_scent(_weights(share, shop)[places].to_numpy(), by_channel.to_numpy(), has)
    sold = wanted.groupby(["day", "scent"])["bottles"].sum().unstack()
    sold = sold.reindex(index=shop.days, columns=shop.names).astype("float64").fillna(0.0).to_numpy()
    sold = spread_totals(sold, np.nan_to_num(share) * worth, shop.periods)
    out = (chance_sold_out(sold, share, worth) >= shop.settings.shelf.sold_out_chance) & free
    share, known = np.where(out, 0.0, share), np.where(out, INFERRED, known)
    known[end_only_before(out, shop.periods) & free] = END_ONLY
    ran_out = np.roll(out, -1, axis=0) & ~out & free & (sold > 0) & (known == ASSUMED)
    ran_out[-1] = False
    share[ran_out], known[ran_out] = DAY_IT_RAN_OUT, INFERRED
    return share, known


def _weights(share: np.ndarray, shop: _Shop) -> pd.DataFrame:
    """Day weights of each channel, learned on days when nearly all of what usually sells was on the shelf."""
    sold = shop.sales[shop.sales["kind"] == "sale"]
    usual = sold.groupby("scent")["bottles"].sum().reindex(shop.names).fillna(0).to_numpy(float)
    live = ~np.isnan(share) @ usual
    there = np.divide(np.nan_to_num(share) @ usual, live, out=np.zeros(len(share)), where=live > 0)
    opened = shop.opened.mul(live > 0, axis=0)
    by_channel = sold_by_channel(sold, shop.settings, opened)
    return day_weights(by_channel, there, opened, shop.markets)


def _by_channel(
    share: np.ndarray, known: np.ndarray, weights: np.ndarray, at_stockists: np.ndarray, shop: _Shop
) -> pd.DataFrame:
    """One row a day, scent and channel that has it: a channel that is closed that day has nothing on its shelf.

    A channel that sells to order has what stands at stockists, and else what the shop has. Where it is not sure that a
    channel has a scent, its days weigh as much less.
    """
    opened = shop.opened.to_numpy()
    live = ~np.isnan(share)
    day, scent, place = np.nonzero(live[:, :, None] & (shop.has > 0)[None])
    ordered = np.array([name in shop.to_order for name in shop.channels], bool)
    stands = (at_stockists[day, scent] > 0) & ordered[place]
    columns = {
        "day": shop.days[day],
        "scent": pd.Index(shop.names, dtype="str")[scent],
        "channel": pd.Index(shop.channels, dtype="str")[place],
        "on_shelf": np.where(stands, 1.0, share[day, scent]) * opened[day, place],
        "known": np.where(stands, ROLLED, known[day, scent]),
        "day_weight": weights[day, place] * shop.has[scent, place],
    }
    return pd.DataFrame(columns)


def _on_hand(end: np.ndarray, stock: pd.DataFrame, names: list[str], today: pd.Timestamp) -> pd.DataFrame:
    on = stock.groupby("scent")["date"].max().reindex(names)
    known = np.where(on.isna(), ASSUMED, np.where(on == today, "counted", ROLLED))
    bottles = np.nan_to_num(end[-1])
    return pd.DataFrame({"scent": names, "on_hand": bottles, "counted_on": on.to_numpy(), "known": known})
