"""The invented shop day by day: batches made, bottles sold while there are any, moves and what went unwritten."""

from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

import numpy as np
import pandas as pd
from example_facts import SET, SET_HOLDS
from example_wants import CHANNELS, FIRST, ITEMS, LAUNCHED, TODAY, Wants, market_weekends, usual_rates

BENCH_WEEKDAYS = (1, 3)  # Tuesday and Thursday
COVER_DAYS = 16  # bottles for so many days of usual demand after the rest make the maker content
LAST_BATCH = pd.Timestamp("2026-09-10")  # then the maker stops until the plan for the season is made
NO_OIL = {  # the oil could not be had: no batches, and the scent sells out
    "Clove Ferry": (date(2024, 10, 16), date(2024, 12, 3)),
    "Quince Ember": (date(2025, 9, 30), date(2025, 12, 1)),
}
SPILL_AFTER, SPILT_BOTTLES = pd.Timestamp("2026-07-05"), 5
FIRST_STOCK_DAYS = 45
ONLY_SALE = {"Bog Myrtle Rain": pd.Timestamp("2024-11-16")}  # the scent that never sells, sold once
UNSOLD_STOCK = 23

STOCKISTS = (  # day, order, scents with bottles; made from the shelf, at the trade price
    ("2023-10-12", "S-01", {"Tidewrack": 12, "Saltmarsh Rose": 6}),
    ("2024-03-05", "S-02", {"Tidewrack": 6, "Amber Tern": 6}),
    ("2024-06-18", "S-03", {"Tidewrack": 12, "Fig Boathouse": 6}),
    ("2024-10-08", "S-04", {"Quince Ember": 12, "Peatsmoke Pear": 6}),
    ("2025-04-03", "S-05", {"Tidewrack": 12, "Larkmilk": 6}),
    ("2025-06-24", "S-06", {"Quince Ember": 6, "Saltmarsh Rose": 6}),
    ("2025-10-07", "S-07", {"Tidewrack": 12, "Clove Ferry": 12}),
    ("2026-03-03", "S-08", {"Saltmarsh Rose": 12, "Tidewrack": 6}),
    ("2026-06-23", "S-09", {"Plum Lantern": 12, "Quince Ember": 6}),
)
FREE_A_DAY = 0.02  # a bottle given to a customer for nothing, as a line of price 0 in the web shop
WRITTEN_OFF = (("2025-01-13", "Clove Ferry", 3), ("2026-01-12", "Larkmilk", 2))  # leaked, taken out in the web shop
KNOWN_MOVES = (  # moves that are not left to chance: day, scent, bottles, why
    ("2024-11-02", "Peatsmoke Pear", 1, "found"),
    ("2025-12-30", "Amber Tern", 1, "return"),
    ("2026-05-12", "Tidewrack", 6, "to stockist"),
    ("2026-05-12", "Fig Boathouse", 4, "to stockist"),
    ("2026-08-04", "Fig Boathouse", 2, "from stockist"),
)
COMES = ("return", "from stockist", "found")


class Run(NamedTuple):
    """One batch made."""

    day: pd.Timestamp
    scent: str
    filled: int
    rejected: int
    retained: int
    spilled: bool
    ready_on: pd.Timestamp


class Sold(NamedTuple):
    """Bottles (or sets) of one item that one customer got on one day."""

    day: pd.Timestamp
    channel: str
    item: str
    order: str = ""  # stockists' orders; "free" and "write-off" for bottles that were not paid for


@dataclass
class Shop:
    """The state of the simulated shop: what is on the shelf and what has been written down."""

    stock: dict[str, int]
    runs: list[Run] = field(default_factory=list)
    sold: list[Sold] = field(default_factory=list)
    missed: list[Sold] = field(default_factory=list)
    moves: list[tuple] = field(default_factory=list)
    shelf: list[dict[str, int]] = field(default_factory=list)  # at the end of each day, before new batches
    shelved: list[tuple] = field(default_factory=list)  # day, scent, stock just after a new batch came


def run_shop(wants: Wants, scents: pd.DataFrame, rng: np.random.Generator) -> Shop:
    """Simulate every day from the first to the day before today."""
    coming = pd.date_range(FIRST, TODAY + pd.Timedelta(days=120))
    usual = pd.DataFrame(_opened(usual_rates(coming).sum(axis=2)), index=coming, columns=list(scents["scent"]))
    shop = Shop({scent: round(usual[scent].iloc[:FIRST_STOCK_DAYS].sum()) for scent in usual})
    markets = {day for weekend in market_weekends() for day in weekend}
    for day, wanted in zip(wants.days, wants.wanted, strict=True):
        _launch(shop, day, usual)
        _sell(shop, day, wanted, rng)
        _move(shop, day, day in markets, rng)
        shop.shelf.append(dict(shop.stock))
        if day.weekday() in BENCH_WEEKDAYS and day not in markets and day <= LAST_BATCH:
            _make(shop, day, usual, scents.set_index("scent"), rng)
        _shelve(shop, day)
    return shop


def _opened(daily: np.ndarray) -> np.ndarray:
    """Daily rates of the scents with the bottles of the sets added."""
    of_scents = daily[:, : len(ITEMS) - 1].copy()
    for scent in SET_HOLDS:
        of_scents[:, ITEMS.index(scent)] += daily[:, -1]
    return of_scents


def _launch(shop: Shop, day: pd.Timestamp, usual: pd.DataFrame) -> None:
    for scent, first in LAUNCHED.items():
        if day == pd.Timestamp(first):
            weeks = usual.loc[day : day + pd.Timedelta(days=28), scent].sum()
            shop.stock[scent] = round(weeks) or UNSOLD_STOCK
            shop.shelved.append((day - pd.Timedelta(days=1), scent, shop.stock[scent]))


def _sell(shop: Shop, day: pd.Timestamp, wanted: np.ndarray, rng: np.random.Generator) -> None:
    """Serve the day's customers in a random order while there are bottles."""
    queue = [Sold(day, CHANNELS[c], ITEMS[i]) for i, c in np.argwhere(wanted) for _ in range(wanted[i, c])]
    queue += [Sold(day, "market", scent) for scent, once in ONLY_SALE.items() if day == once]
    queue = [queue[n] for n in rng.permutation(len(queue))]
    for when, order, bottles in STOCKISTS:
        if day == pd.Timestamp(when):
            queue = [Sold(day, "wholesale", scent, order) for scent, n in bottles.items() for _ in range(n)] + queue
    if rng.random() < FREE_A_DAY:
        queue.append(Sold(day, "web", ITEMS[rng.integers(9)], "free"))
    queue += [
        Sold(day, "web", scent, "write-off")
        for when, scent, n in WRITTEN_OFF
        if str(day.date()) == when
        for _ in range(n)
    ]
    for customer in queue:
        parts = SET_HOLDS if customer.item == SET else (customer.item,)
        if all(shop.stock[scent] > 0 for scent in parts):
            for scent in parts:
                shop.stock[scent] -= 1
            shop.sold.append(customer)
        else:
            shop.missed.append(customer)


def _move(shop: Shop, day: pd.Timestamp, market: bool, rng: np.random.Generator) -> None:
    """Take away testers, gifts and broken bottles, and now and then one that nobody writes down."""
    chances = {"tester": 0.06 if market else 0.0, "gift": 0.012, "breakage": 0.012, "": 0.012}
    for why, chance in chances.items():
        scent, happens = ITEMS[rng.integers(len(ITEMS) - 1)], rng.random() < chance
        if happens and shop.stock[scent] > 3:
            shop.stock[scent] -= 1
            if why:
                shop.moves.append((day, scent, 1, why))
    for when, scent, bottles, why in KNOWN_MOVES:
        if day == pd.Timestamp(when):
            shop.stock[scent] += bottles if why in COMES else -bottles
            shop.moves.append((day, scent, bottles, why))


def _make(shop: Shop, day: pd.Timestamp, usual: pd.DataFrame, scents: pd.DataFrame, rng: np.random.Generator) -> None:
    """Make batches of the scents that are shortest against what usually sells, at most what a day holds."""
    resting = dict.fromkeys(usual, 0)
    for run in shop.runs:
        if run.ready_on > day:
            resting[run.scent] += run.filled
    cover = {}
    for scent, rest in scents["rest_days"].items():
        until = day + pd.Timedelta(days=int(rest) + COVER_DAYS)
        need = usual.loc[day:until, scent].sum()
        launched = day >= pd.Timestamp(LAUNCHED.get(scent, FIRST))
        if need > 0 and launched and not _no_oil(scent, day):
            cover[scent] = (shop.stock[scent] + resting[scent]) / need
    short = sorted((share, scent) for scent, share in cover.items() if share < 1.1)
    for _, scent in short[: 4 if day.month >= 10 else 2]:
        _fill(shop, day, scents.loc[scent].rename(scent), rng)


def _no_oil(scent: str, day: pd.Timestamp) -> bool:
    first, last = NO_OIL.get(scent, (date.max, date.max))
    return first <= day.date() <= last


def _fill(shop: Shop, day: pd.Timestamp, scent: pd.Series, rng: np.random.Generator) -> None:
    spilled = day > SPILL_AFTER and not any(run.spilled for run in shop.runs)
    filled = int(scent["batch_bottles"]) - SPILT_BOTTLES * spilled
    rejected = int(rng.random() < 0.06)
    ready_on = day + pd.Timedelta(days=int(scent["rest_days"]))
    shop.runs.append(Run(day, str(scent.name), filled, rejected, int(scent["retained"]), spilled, ready_on))


def _shelve(shop: Shop, day: pd.Timestamp) -> None:
    """Put the batches that are ready tomorrow on the shelf, after closing."""
    for run in shop.runs:
        if run.ready_on == day + pd.Timedelta(days=1):
            shop.stock[run.scent] += run.filled - run.rejected - run.retained
            shop.shelved.append((day, run.scent, shop.stock[run.scent]))
