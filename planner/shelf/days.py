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
    ready_after_mixing,
    unknown_words,
)
from planner.shelf.inferred import chance_sold_out, worth_by_scent
from planner.shelf.openings import market_days, open_days
from planner.shelf.stock import Rolled, count_differences, movements, roll_forward
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
    start of today, `differences` and `contradictions` (see planner.shelf.stock and planner.shelf.contradictions).
    """
    names = list(scents["scent"])
    stock, moves, runs, problems = _believable(stock, moves, runs, today)
    days = _days(sales, stock[stock["scent"].isin(names)], today)
    shop = _Shop(days, names, sales, periods_of_totals(sales, settings, days, names), calendar, settings)
    counted, rows = (_wide(stock, name, days, names) for name in ("on_hand", "row"))
    ledger = movements(sold_through(sales, settings, days), scents, runs, moves, days, shop.to_order)
    rolled = roll_forward(counted.to_numpy(), ledger)
    share, known = _shares(rolled, counted.to_numpy(), shop.periods)
    share[~_for_sale(sales, scents, days, names)] = np.nan
    found = contradictions(rolled, counted, rows)
    share, known = _infer_sold_out(share, known, shop)
    return ShelfBook(
        check(_by_channel(share, known, shop, ledger.at_stockists.to_numpy()), STEPS["shelf"]),
        _on_hand(rolled.end, stock, names, today),
        count_differences(counted, ledger, rows),
        [*problems, *contradiction_problems(found)],
        found,
    )


class _Shop(NamedTuple):
    """What is the same in every part of the work: days down, scents across, sales and what is known of channels."""

    days: pd.DatetimeIndex
    names: list[str]
    sales: pd.DataFrame
    periods: Periods
    calendar: pd.DataFrame
    settings: Settings

    @property
    def to_order(self) -> list[str]:
        """Channels that sell to order."""
        return [channel.name for channel in self.settings.channels if channel.open == "to order"]

    @property
    def channels(self) -> list[str]:
        """All channels: those of the settings, else those of the sales."""
        return [channel.name for channel in self.settings.channels] or sorted(self.sales["channel"].unique())


def _believable(
    stock: pd.DataFrame, moves: pd.DataFrame, runs: pd.DataFrame, today: pd.Timestamp
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, list[Problem]]:
    """Leave out what is dated after today and days of being ready before mixing, each with a problem."""
    stock, late_counts = in_the_past(stock, "stock.csv", today)
    moves, late_moves = in_the_past(moves, "moves.csv", today)
    runs, late_runs = in_the_past(runs, "runs.csv", today)
    runs, early = ready_after_mixing(runs)
    return stock, moves, runs, [*late_counts, *late_moves, *late_runs, *early, *unknown_words(moves)]


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
    return share, known


def _for_sale(sales: pd.DataFrame, scents: pd.DataFrame, days: pd.DatetimeIndex, names: list[str]) -> np.ndarray:
    """Mark the days from the first one for sale (stated, else the first sale) to the last one stated.

    Only days that the sales files cover are marked.
    """
    first = scents.set_index("scent")["first_sold"].reindex(names)
    first = first.fillna(sales.groupby("scent")["day"].min().reindex(names)).fillna(days[0]).to_numpy()
    last = scents.set_index("scent")["last_sold"].reindex(names).fillna(days[-1]).to_numpy()
    day = days.to_numpy()[:, None]
    covered = (day >= sales["day"].min().to_numpy()) & (day <= sales["day"].max().to_numpy()) if len(sales) else False
    return np.asarray((day >= first) & (day <= last) & covered)


def _infer_sold_out(share: np.ndarray, known: np.ndarray, shop: _Shop) -> tuple[np.ndarray, np.ndarray]:
    """Take days without a sale for sold out where they are too many for luck, if the settings say so."""
    free = known == ASSUMED
    if not shop.settings.shelf.infer or not free.any():
        return share, known
    places = [name for name in shop.channels if name not in shop.to_order]
    wanted = shop.sales[(shop.sales["kind"] == "sale") & shop.sales["channel"].isin(places)]
    by_channel = wanted.groupby(["channel", "scent"])["bottles"].sum().unstack()
    by_channel = by_channel.reindex(index=places, columns=shop.names).astype("float64").fillna(0.0)
    worth = worth_by_scent(_weights(share, shop)[places].to_numpy(), by_channel.to_numpy())
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
    opened = open_days(shop.days, shop.channels, shop.calendar, shop.settings).mul(live > 0, axis=0)
    by_channel = sold_by_channel(sold, shop.settings, opened)
    return day_weights(by_channel, there, opened, market_days(shop.days, shop.channels, shop.calendar))


def _by_channel(share: np.ndarray, known: np.ndarray, shop: _Shop, at_stockists: np.ndarray) -> pd.DataFrame:
    """One row a day, scent and channel: a channel that is closed that day has nothing on its shelf.

    A channel that sells to order has what stands at stockists, and else what the shop has.
    """
    weights = _weights(share, shop).to_numpy()
    opened = open_days(shop.days, shop.channels, shop.calendar, shop.settings).to_numpy()
    day, scent = np.nonzero(~np.isnan(share))
    on, how = [], []
    for place, name in enumerate(shop.channels):
        stands = (at_stockists[day, scent] > 0) & (name in shop.to_order)
        on.append(np.where(stands, 1.0, share[day, scent]) * opened[day, place])
        how.append(np.where(stands, ROLLED, known[day, scent]))
    channels = len(shop.channels)
    columns = {
        "day": shop.days[np.repeat(day, channels)],
        "scent": pd.Index(shop.names, dtype="str")[np.repeat(scent, channels)],
        "channel": pd.Index(shop.channels, dtype="str")[np.tile(np.arange(channels), len(day))],
        "on_shelf": np.ravel(on, order="F"),
        "known": np.ravel(how, order="F"),
        "day_weight": weights[np.repeat(day, channels), np.tile(np.arange(channels), len(day))],
    }
    return pd.DataFrame(columns)


def _on_hand(end: np.ndarray, stock: pd.DataFrame, names: list[str], today: pd.Timestamp) -> pd.DataFrame:
    on = stock.groupby("scent")["date"].max().reindex(names)
    known = np.where(on.isna(), ASSUMED, np.where(on == today, "counted", ROLLED))
    bottles = np.nan_to_num(end[-1])
    return pd.DataFrame({"scent": names, "on_hand": bottles, "counted_on": on.to_numpy(), "known": known})
