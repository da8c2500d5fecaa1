"""Timelines: in which bench periods the batches of one scent are made, and what each way to time them would sell.

Simulated week by week, a path loses as many sales as all that was wanted so far ever exceeded all that had come so
far (reflection of a storage process at empty: Skorokhod 1961, from memory; the tests compare it with the plain
week-by-week count). Between two arrivals that is largest just before the second, so a path needs to be looked at
only just before each arrival and at the end.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

MOST_NODES = 20_000  # unfinished timelines of one scent looked at together; with more the search stops and says so

ROUNDING = 1e-7  # sums in another order differ by as much [money]


class Play(NamedTuple):
    """One scent's sample paths, ready to play timelines through."""

    before: np.ndarray  # [period, path] wanted before a batch of that period is on the shelf [bottles]
    total: np.ndarray  # [path] wanted in the whole season [bottles]
    on_hand: float  # [bottles]
    per_batch: float  # for sale from one batch [bottles]
    per_lost: float  # what one lost sale costs: what it earns, and a bottle more left over [money]
    per_made: float  # what one batch costs that sells nothing [money]
    room: np.ndarray  # [period] batches that fit at most, 0 where they would come too late


class Found(NamedTuple):
    """Timelines and how they fare; `complete` is False where more may be as good that were not looked at."""

    counts: np.ndarray  # [timeline, period] batches
    lost: np.ndarray  # bottles wanted and not there, on average [bottles]
    sold_out: np.ndarray  # share of the paths that lose a sale [share]
    worth: np.ndarray  # less lost sales and less batches made, before prices [money]
    complete: bool = True


def prepare(wanted: np.ndarray, on_hand: float, per_batch: float, arrival: np.ndarray, **play: object) -> Play:
    """Get `wanted[path, week]` ready for batches that are on the shelf from week `arrival[period]` on (ascending)."""
    cumulative = np.column_stack([np.zeros(len(wanted), wanted.dtype), wanted.cumsum(axis=1)])
    whole = float(on_hand).is_integer() and float(per_batch).is_integer() and not (cumulative % 1).any()
    cumulative = cumulative.astype(np.int32 if whole and cumulative.max(initial=0) < 1e9 else np.float64)
    before = np.ascontiguousarray(cumulative[:, np.minimum(arrival, wanted.shape[1])].T)
    return Play(before, np.ascontiguousarray(cumulative[:, -1]), on_hand, per_batch, **play)  # type: ignore[arg-type]


def play_through(play: Play, counts: np.ndarray) -> Found:
    """Play the timelines `counts[timeline, period]` through on every path."""
    behind = np.zeros((len(counts), len(play.total)), play.total.dtype)
    come = np.full(len(counts), play.on_hand).astype(behind.dtype)
    for period, before in enumerate(play.before):
        np.maximum(behind, before[None, :] - come[:, None], out=behind)
        come = come + (counts[:, period] * play.per_batch).astype(behind.dtype)
    np.maximum(behind, play.total[None, :] - come[:, None], out=behind)
    lost = behind.mean(axis=1)
    return Found(counts, lost, (behind > 0).mean(axis=1), -play.per_lost * lost - play.per_made * counts.sum(axis=1))


def soonest(play: Play, most: int) -> Found:
    """Play through 0 to `most` batches that all come as soon as any can: no other timing of so many loses less."""
    counts = np.zeros((most + 1, max(len(play.room), 1)), int)
    counts[:, 0] = np.arange(most + 1)
    return play_through(play, counts[:, : len(play.room)]) if len(play.room) else play_through(play, counts[:1, :0])


def near_best(
    play: Play,
    price: np.ndarray,
    fewest: int,
    most: int,
    keeps: Callable[[Found], np.ndarray],
    slack: float,
    known: float,
) -> Found:
    """Return every timeline that at these prices is worth at most `slack` less than the best one.

    `price[period]` of making a batch in that period [money]; `fewest` and `most` batches; `keeps` says which timelines
    keep the maker's wishes; `known` is a worth at these prices that some timeline is known to reach. Branch and bound
    over the batches in the order in which they are made: a timeline begun is given up when not even making the
    rest at once, at the lowest price still to come, could bring it near enough.
    """
    cost = play.per_made + price
    periods = np.flatnonzero(play.room)
    cheapest = np.minimum.accumulate(np.where(play.room > 0, cost, np.inf)[::-1])[::-1]
    begun = _Begun(
        np.zeros((1, len(price)), np.int16),
        np.zeros(1, int),
        np.zeros((1, len(play.total)), play.total.dtype),
        np.zeros(1),
    )
    slack += ROUNDING
    top = max(known, _reached(play, cost, fewest, most, keeps))
    if top == -np.inf:
        return _joined([], top, len(price), True)
    found, complete = [], True
    for batches in range(most + 1):
        lost, sold_out = _lost(begun.behind, play, batches)
        worth = -play.per_lost * lost
        level = Found(begun.counts, lost, sold_out, worth - play.per_made * batches)
        good = worth - begun.cost >= top - slack if batches >= fewest else np.zeros(len(worth), bool)
        good[good] = keeps(_rows(level, good))
        if good.any():
            top = max(top, float((worth - begun.cost)[good].max()))
            found.append((_rows(level, good), (worth - begun.cost)[good]))
        if batches == most or not len(periods):
            break
        open_ = _could_reach(begun, play, batches, fewest, most, cheapest) >= top - slack
        begun = _extended(_Begun(*(part[open_] for part in begun)), play, periods, cost, batches)
        if len(begun.cost) > MOST_NODES:
            complete = False
            break
        if not len(begun.cost):
            break
    return _joined(found, top - slack, len(price), complete)


def _reached(play: Play, cost: np.ndarray, fewest: int, most: int, keeps: Callable[[Found], np.ndarray]) -> float:
    """Return what the best of simple timelines is worth: batches as early, or at as low a price, as there is room.

    Minus infinity where no timeline keeps the wishes: none has more on the shelf than the earliest.
    """
    worth = -np.inf
    for order in (np.arange(len(cost)), np.argsort(cost, kind="stable")):
        periods = np.repeat(order, play.room[order])[:most]
        counts = np.zeros((len(periods) + 1, len(cost)), np.int16)
        for batches, period in enumerate(periods):
            counts[batches + 1 :, period] += 1
        if fewest >= len(counts):
            break
        found = play_through(play, counts[fewest:])
        kept = keeps(found)
        if kept.any():
            priced = found.worth - found.counts @ (cost - play.per_made)
            worth = max(worth, float(priced[kept].max()))
        elif worth == -np.inf:
            break
    return worth


class _Begun(NamedTuple):
    """Timelines with the same number of batches that may be extended by batches in their last period or later."""

    counts: np.ndarray
    period: np.ndarray  # of the last batch
    behind: np.ndarray  # [timeline, path] the furthest behind so far
    cost: np.ndarray


def _rows(found: Found, rows: np.ndarray) -> Found:
    return Found(found.counts[rows], found.lost[rows], found.sold_out[rows], found.worth[rows])


def _lost(behind: np.ndarray, play: Play, batches: int) -> tuple[np.ndarray, np.ndarray]:
    lost = np.maximum(behind, play.total - behind.dtype.type(play.on_hand + batches * play.per_batch))
    return lost.mean(axis=1), np.count_nonzero(lost, axis=1) / lost.shape[1]


def _could_reach(begun: _Begun, play: Play, batches: int, fewest: int, most: int, cheapest: np.ndarray) -> np.ndarray:
    """Return a worth that no extension of each timeline exceeds; concave in the number of batches more."""
    reach = np.full(len(begun.cost), -np.inf)
    rising = np.arange(len(begun.cost))
    for more in range(max(1, fewest - batches), most - batches + 1):
        lost = np.maximum(
            begun.behind[rising], play.total - begun.behind.dtype.type(play.on_hand + (batches + more) * play.per_batch)
        ).mean(axis=1)
        worth = -play.per_lost * lost - begun.cost[rising] - more * cheapest[begun.period[rising]]
        better = worth > reach[rising]
        reach[rising[better]] = worth[better]
        rising = rising[better]
        if not len(rising):
            break
    return reach


def _extended(begun: _Begun, play: Play, periods: np.ndarray, cost: np.ndarray, batches: int) -> _Begun:
    """Add one batch to each timeline, in its last period or any later one that has room."""
    parent, choice = np.nonzero(periods[None, :] >= begun.period[:, None])
    period = periods[choice]
    fits = begun.counts[parent, period] < play.room[period]
    parent, period = parent[fits], period[fits]
    if len(parent) > MOST_NODES:  # given up by the caller: nothing is worked out for them
        return _Begun(begun.counts[:0], period, begun.behind[:0], np.zeros(len(parent)))
    counts = begun.counts[parent]
    counts[np.arange(len(parent)), period] += 1
    come = begun.behind.dtype.type(play.on_hand + batches * play.per_batch)
    behind = np.maximum(begun.behind[parent], (play.before - come)[period])
    return _Begun(counts, period, behind, begun.cost[parent] + cost[period])


def _joined(found: list[tuple[Found, np.ndarray]], least: float, periods: int, complete: bool) -> Found:
    if not found:
        none = np.zeros(0)
        return Found(np.zeros((0, periods), np.int16), none, none, none, complete)
    near = np.concatenate([worth for _, worth in found]) >= least
    counts, lost, sold_out, worth = (np.concatenate([part[column] for part, _ in found])[near] for column in range(4))
    return Found(counts, lost, sold_out, worth, complete)
