"""The choice: one timeline for each scent, together worth most, on bench days and with money that they share.

Exact, by a mixed-integer program that HiGHS solves: one timeline for each scent, one mix of batches for each bench
day, the days holding what the timelines ask for. Choosing whole day mixes and not minutes (the pattern model of
cutting stock: Gilmore and Gomory 1961, from memory) makes the batches of a plan fit whole days always, and brings
the bound close to the best plan. There are far too many timelines to write down, so they are found as needed:
the relaxed program says what bench time in each period is worth, each scent answers with its best timelines at
these prices, until none has a better one (column generation). Then every timeline that at the last prices is
near enough to its scent's best to be part of a better plan than the one found is added, and no other can be.
"""

from collections.abc import Callable
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from planner.restock.bench import day_mixes, pack_days
from planner.restock.program import CLOSE, Answer, Program, solve
from planner.restock.timelines import MOST_NODES

ROUNDING = 1e-6  # sums of minutes and money are not exact [minutes, money]
MOST_MIXES = 400  # day mixes kept apart; with more, batches of nearly the same length count as equally long
MOST_ROUNDS = 60  # of asking for better timelines
NEAR = 5e-4  # of the plan's worth: so much less than a scent's best timelines may be worth at first to be taken along
MOST_TRIES = 3
WIDER = 30.0  # times as much, where no whole plan can be made of the timelines that near
MOST_COLUMNS = 2_000  # timelines in the last solve; with more it would take long, so a gap is left and reported
OVERTIME = 1e6  # charged for breaking a limit, which only wishes that clash make worth it [money]
CHARGE = 3.0  # the same while asking for better timelines: times what one batch could earn, which keeps prices near
WIDTHS = (10, 60, 400)  # timelines begun that are followed while asking quickly, more when fewer find no better
NEW_COLUMNS = 8  # timelines of each scent taken along each time


class Options(NamedTuple):
    """Timelines of one scent that may be picked; `complete` is False where more may be as near to the best."""

    counts: np.ndarray  # [timeline, period] batches
    value: np.ndarray  # [timeline] [money]
    complete: bool = True


class Offer(NamedTuple):
    """One scent as the choice sees it."""

    minutes: float  # of one batch [minutes]
    spend: float  # materials of one batch [money]
    earns: float  # more than one batch can add to what the scent is worth [money]
    near: Callable[[np.ndarray, float, float, int], Options]  # prices, slack, worth known to be reached, how many begun


class Choice(NamedTuple):
    """The timeline picked for each offer, each batch's day, and the most that any choice could be worth."""

    counts: list[np.ndarray]  # by offer: [period] batches
    placed: list[tuple[int, int, int]]  # offer, period, day of the period: one for each batch
    worth: float  # sum of the values picked
    bound: float  # no choice is worth more


class _Shop(NamedTuple):
    offers: list[Offer]
    days: np.ndarray  # [period]
    sizes: np.ndarray  # minutes a batch of each size takes
    mixes: np.ndarray  # [mix, size] batches
    money: float

    def size(self, offer: Offer) -> int:
        """Return which size the offer's batches count as."""
        return int(np.searchsorted(self.sizes, offer.minutes))


def choose(offers: list[Offer], days: np.ndarray, day_minutes: float, money: float = np.inf) -> Choice | None:
    """Pick one timeline of each offer so that together they are worth most.

    `days[period]` bench days of `day_minutes` each; a batch is made within one day; all batches together cost at
    most `money`. Returns None where no choice keeps the limits. Where every offer's best timeline fits, no solver
    is called.
    """
    free = [offer.near(np.zeros(len(days)), 0.0, -np.inf, MOST_NODES) for offer in offers]
    if any(len(options.value) == 0 for options in free):
        return None
    best = [options.counts[options.value.argmax()] for options in free]
    worth = float(sum(options.value.max() for options in free))
    placed = _place(offers, best, days, day_minutes, money)
    if placed is not None and all(options.complete for options in free):
        return Choice(best, placed, worth, worth)
    sizes, mixes = _sizes_and_mixes(offers, day_minutes)
    return _solved(_Shop(offers, days, sizes, mixes, money), free)


def _place(
    offers: list[Offer], rows: list[np.ndarray], days: np.ndarray, day_minutes: float, money: float
) -> list[tuple[int, int, int]] | None:
    """Place the batches of these timelines on days, or return None where time or money does not suffice."""
    if sum(row.sum() * offer.spend for offer, row in zip(offers, rows, strict=True)) > money + ROUNDING:
        return None
    placed = []
    for period, count in enumerate(days):
        batches = _batches(rows, period)
        on = pack_days([offers[number].minutes for number in batches], int(count), day_minutes)
        if on is None:
            return None
        placed += [(number, period, day) for number, day in zip(batches, on, strict=True)]
    return placed


def _batches(rows: list[np.ndarray], period: int) -> list[int]:
    """Return the offer of each batch made in the period."""
    return [number for number, row in enumerate(rows) for _ in range(row[period])]


def _sizes_and_mixes(offers: list[Offer], day_minutes: float) -> tuple[np.ndarray, np.ndarray]:
    """Return how long batches take, and the mixes of them that fill a day: `mixes[mix, size]` batches.

    Sizes are merged upwards, so that no day gets longer than it is, until there are few enough mixes. The last size
    stands for batches that no day holds: no mix has any.
    """
    sizes = np.unique([offer.minutes for offer in offers if offer.minutes <= day_minutes + ROUNDING])
    mixes = day_mixes(list(sizes), day_minutes, MOST_MIXES)
    while mixes is None:
        sizes = np.delete(sizes, np.diff(sizes).argmin())
        mixes = day_mixes(list(sizes), day_minutes, MOST_MIXES)
    return np.append(sizes, np.inf), np.column_stack([mixes, np.zeros(len(mixes), int)])


def _solved(shop: _Shop, pools: list[Options]) -> Choice | None:
    charge = min(CHARGE * max(offer.earns for offer in shop.offers) + 1, OVERTIME)
    priced = _ask_for_better(shop, pools, charge) or _ask_for_better(shop, pools, OVERTIME)
    if priced is None:
        return None
    pools, relaxed = priced
    plan, slack, bound = None, NEAR * abs(relaxed.worth), np.inf
    for _ in range(MOST_TRIES):
        pools, relaxed, most, every = _all_near(shop, pools, relaxed, slack)
        bound = min(bound, most)
        found = _plan(shop, pools)
        if found is None:
            slack *= WIDER
            continue
        limit = min(bound, max(found.bound, most - slack)) if every else bound
        plan = found if plan is None or found.worth > plan.worth else plan
        plan = plan._replace(bound=max(plan.worth, limit))
        if plan.bound - plan.worth <= CLOSE or not every:
            break
        slack = bound - plan.worth + CLOSE
    return plan


def _all_near(
    shop: _Shop, pools: list[Options], relaxed: Answer, slack: float
) -> tuple[list[Options], Answer, float, bool]:
    """Add all timelines near the best, at prices at which none betters the relaxed program by much (see `_near`)."""
    for _ in range(MOST_ROUNDS):
        near, most, every = _near(shop, relaxed, slack)
        before = sum(len(pool.value) for pool in pools)
        pools = [_merged(a, b) for a, b in zip(pools, near, strict=True)]
        if most - relaxed.worth <= slack / 4 or sum(len(pool.value) for pool in pools) == before:
            break
        relaxed = solve(_program(shop, pools, OVERTIME), whole=False) or relaxed
    return pools, relaxed, most, every


def _near(shop: _Shop, relaxed: Answer, slack: float) -> tuple[list[Options], float, bool]:
    """Return each offer's timelines within `slack` of its best at the last prices, the bound, and if these are all.

    A plan with any other timeline is worth at most the bound less `slack`; not so where there were too many to list.
    """
    prices = _prices(shop, relaxed)
    near, most = [], relaxed.worth
    for offer, price, known in zip(shop.offers, prices, relaxed.owner_price, strict=False):
        options = offer.near(price, slack, float(known), MOST_NODES)
        most += max(0.0, float((options.value - options.counts @ price).max(initial=-np.inf)) - float(known))
        near.append(options)
    columns = sum(len(options.value) for options in near)
    if columns <= MOST_COLUMNS and all(options.complete for options in near):
        return near, most, True
    share = MOST_COLUMNS // len(near)
    return [_best(options, price, share) for options, price in zip(near, prices, strict=True)], most, False


def _best(options: Options, price: np.ndarray, count: int) -> Options:
    """Return the few options worth most at these prices."""
    rows = np.argsort(options.counts @ price - options.value, kind="stable")[:count]
    return Options(options.counts[rows], options.value[rows])


def _ask_for_better(shop: _Shop, pools: list[Options], charge: float) -> tuple[list[Options], Answer] | None:
    """Add timelines until a quick look finds none that betters the relaxed program; return them and its answer.

    None where a limit is broken for that charge.
    """
    frugal = np.full(len(shop.days), charge)
    pools = [
        _merged(a, offer.near(frugal, 0.0, -np.inf, MOST_NODES)) for a, offer in zip(pools, shop.offers, strict=True)
    ]
    relaxed = solve(_program(shop, pools, charge), whole=False)
    widths = list(WIDTHS)
    for _ in range(MOST_ROUNDS):
        if relaxed is None or not widths:
            break
        prices = _prices(shop, relaxed)
        gains = [_ask(pools, n, offer, prices[n], relaxed, widths[0]) for n, offer in enumerate(shop.offers)]
        if max(gains) <= CLOSE:
            del widths[0]
        else:
            relaxed = solve(_program(shop, pools, charge), whole=False)
    return None if relaxed is None or _breaks(relaxed) else (pools, relaxed)


def _ask(pools: list[Options], number: int, offer: Offer, price: np.ndarray, relaxed: Answer, wide: int) -> float:
    """Add the offer's best timelines at these prices to its pool; return what the best adds to the relaxed program."""
    known = float(relaxed.owner_price[number])
    options = offer.near(price, NEAR * abs(relaxed.worth), known, wide)
    gain = float((options.value - options.counts @ price).max(initial=-np.inf)) - known
    if gain > CLOSE:
        pools[number] = _merged(pools[number], _best(options, price, NEW_COLUMNS))
    return max(gain, 0.0)


def _breaks(answer: Answer) -> bool:
    """Say whether the answer breaks a limit for the charge."""
    limits = len(answer.limit_price)
    return bool(answer.amount[-limits - 1 : -1].sum() > ROUNDING)


def _merged(one: Options, other: Options) -> Options:
    """Put the options together, each timeline once."""
    counts, rows = np.unique(np.concatenate([one.counts, other.counts]), axis=0, return_index=True)
    return Options(counts, np.concatenate([one.value, other.value])[rows])


def _prices(shop: _Shop, relaxed: Answer) -> list[np.ndarray]:
    """Return what a batch of each offer has to pay in each period for bench time and money. [period]"""
    kinds = len(shop.sizes)
    bench = relaxed.limit_price[:-1].reshape(len(shop.days), kinds)
    return [bench[:, shop.size(offer)] + relaxed.limit_price[-1] * offer.spend for offer in shop.offers]


def _program(shop: _Shop, pools: list[Options], charge: float) -> Program:
    """Rows: one timeline an offer, so many day mixes a period; limits: each size in each period, and money.

    The last owner breaks a limit for a charge, so that the relaxed program always has an answer.
    """
    periods, kinds = len(shop.days), len(shop.sizes)
    limits, blocks = periods * kinds, []
    for offer, pool in zip(shop.offers, pools, strict=True):
        use = np.zeros((len(pool.value), periods, kinds))
        use[:, :, shop.size(offer)] = pool.counts
        blocks.append(np.column_stack([use.reshape(len(use), -1), pool.counts.sum(axis=1) * offer.spend]))
    for period in range(periods):
        give = np.zeros((len(shop.mixes), periods, kinds))
        give[:, period] = -shop.mixes
        blocks.append(np.column_stack([give.reshape(len(shop.mixes), -1), np.zeros(len(shop.mixes))]))
    blocks.append(-np.eye(limits + 2, limits + 1) * np.append(np.ones(limits), 100.0))
    charges = np.append(np.full(limits + 1, -charge), 0.0)
    return Program(
        value=np.concatenate([*(pool.value for pool in pools), np.zeros(periods * len(shop.mixes)), charges]),
        owner=np.repeat(np.arange(len(blocks)), [len(block) for block in blocks]),
        use=np.concatenate(blocks),
        picks=np.concatenate([np.ones(len(pools)), shop.days, [1000]]),
        most=np.append(np.zeros(limits), min(shop.money, OVERTIME * 1000)),
    )


def _plan(shop: _Shop, pools: list[Options]) -> Choice | None:
    """Return the best whole plan from these timelines, with the bound that holds for them."""
    answer = solve(_program(shop, pools, OVERTIME), whole=True)
    if answer is None or _breaks(answer):
        return None
    starts = np.cumsum([0, *(len(pool.value) for pool in pools)])
    picked = [int(answer.amount[a:b].argmax()) for a, b in pairwise(starts)]
    rows = [pool.counts[pick] for pool, pick in zip(pools, picked, strict=True)]
    worth = float(sum(pool.value[pick] for pool, pick in zip(pools, picked, strict=True)))
    mixes = len(shop.days) * len(shop.mixes)
    amount = answer.amount[starts[-1] : starts[-1] + mixes].astype(int).reshape(len(shop.days), len(shop.mixes))
    return Choice(rows, _placed(shop, rows, amount), worth, max(worth, answer.bound))


def _placed(shop: _Shop, rows: list[np.ndarray], amount: np.ndarray) -> list[tuple[int, int, int]]:
    """Give each batch a place in the day mixes of its period; the fullest days come first."""
    placed = []
    for period, times in enumerate(amount):
        waiting = _batches(rows, period)
        loads: list[list[int]] = []
        for mix in np.repeat(shop.mixes, times, axis=0):
            load: list[int] = []
            for size, room in enumerate(mix):
                load += [number for number in waiting if shop.size(shop.offers[number]) == size][:room]
            for number in load:
                waiting.remove(number)
            loads.append(load)
        loads.sort(key=lambda load: -sum(shop.offers[number].minutes for number in load))
        placed += [(number, period, day) for day, load in enumerate(loads) for number in load]
    return placed
