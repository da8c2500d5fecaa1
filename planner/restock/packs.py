"""Packs: the cheapest whole packs that cover what is short, from a supplier from whom they still come in time."""

import math
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

ROUNDING = 1e-9  # sums of grams are not exact
MOST_MIXES = 20_000  # mixes of pack sizes tried; beyond it the largest size covers most of it
MARGIN_DAYS = 2  # between arrival and first use; our choice


class Purchase(NamedTuple):
    """Whole packs of one material from one supplier."""

    supplier: str
    packs: tuple[tuple[int, int], ...]  # (place of the pack in the offers, how many)
    cost: float  # [money], missing where a price is not known
    lead: float  # [days]
    order_by: pd.Timestamp
    late: bool  # ordered today it comes after it is needed
    lead_known: bool  # False where packs.csv does not say, and it is taken to come the same day


def choose_packs(offers: pd.DataFrame, short: float, needed_on: pd.Timestamp, today: pd.Timestamp) -> Purchase | None:
    """Return what to buy of a material that is short, or None where nothing of it is offered.

    `offers` (supplier, amount, pack_cost, lead_days) are packs of one material in one unit. In time goes first, then
    the lowest cost, then the fewest packs, then the least left over. Packs of different sizes of one supplier may be
    mixed. order_by = needed_on less the lead days less 2 days (our choice; fewer where no more are left).
    """
    found = [_from_one(str(supplier), part, short, needed_on, today) for supplier, part in offers.groupby("supplier")]
    return min(found, key=_rank)[1] if found else None


def _rank(found: tuple[float, Purchase]) -> tuple[Any, ...]:
    left, bought = found
    unknown = math.isnan(bought.cost)
    packs = sum(count for _, count in bought.packs)
    return bought.late, unknown, 0.0 if unknown else bought.cost, packs, left, bought.supplier


def _from_one(
    supplier: str, part: pd.DataFrame, short: float, needed_on: pd.Timestamp, today: pd.Timestamp
) -> tuple[float, Purchase]:
    """Return the best purchase from one supplier; packs that come too late count only where all of them do."""
    lead = part["lead_days"].astype("float64").fillna(0)
    late = needed_on - pd.to_timedelta(lead, unit="D") < today
    part, lead = (part, lead) if late.all() else (part[~late], lead[~late])
    sizes, costs = part["amount"].to_numpy(float), part["pack_cost"].to_numpy(float)
    counts = cheapest_cover(sizes, costs, short)
    used = counts > 0
    longest = float(lead.to_numpy()[used].max())
    last_moment = needed_on - pd.Timedelta(days=longest)
    order_by = last_moment - pd.Timedelta(days=MARGIN_DAYS)
    if last_moment >= today:
        order_by = max(order_by, today)
    packs = tuple((int(part.index[n]), int(counts[n])) for n in np.flatnonzero(used))
    cost = float((counts * costs)[used].sum())
    known = bool(part["lead_days"].notna().to_numpy()[used].all())
    return float(counts @ sizes) - short, Purchase(supplier, packs, cost, longest, order_by, bool(late.all()), known)


def cheapest_cover(sizes: np.ndarray, costs: np.ndarray, short: float) -> np.ndarray:
    """Return how many packs of each size cover `short` at the lowest cost, then with the fewest packs.

    Every sensible mix is tried, so that the choice is exact. Sizes without a price are taken only where none has one.

    >>> cheapest_cover(np.array([30.0, 100.0]), np.array([9.0, 20.0]), 120.0).tolist()
    [1, 1]
    """
    priced = np.isfinite(costs)
    if not priced.all() and priced.any():
        counts = np.zeros(len(sizes), int)
        counts[priced] = cheapest_cover(sizes[priced], costs[priced], short)
        return counts
    mixes = _mixes(sizes, short)
    totals = mixes @ np.where(priced, costs, 0.0)
    order = np.lexsort((mixes @ sizes, mixes.sum(axis=1), np.round(totals, 6)))
    return mixes[order[0]]


def _mixes(sizes: np.ndarray, short: float) -> np.ndarray:
    """Return mixes that cover `short` and would not without one of their packs, `[mix, size]`."""
    order = np.argsort(-sizes, kind="stable")
    open_mixes: list[tuple[tuple[int, ...], float]] = [((), short)]
    for place, number in enumerate(order):
        size, last = sizes[number], place == len(order) - 1
        grown = []
        for mix, left in open_mixes:
            need = max(math.ceil(left / size - ROUNDING), 0)
            counts = [need] if last or len(open_mixes) * need > MOST_MIXES else range(need, -1, -1)
            grown += [((*mix, count), left - count * size) for count in counts]
        open_mixes = grown
    table = np.zeros((len(open_mixes), len(sizes)), int)
    table[:, order] = [mix for mix, _ in open_mixes]
    return table
