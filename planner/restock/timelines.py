"""Timelines: in which bench periods the batches of one scent are made, and what each way to time them would sell.

Simulated week by week, a path loses as many sales as all that was wanted so far ever exceeded all that had come so
far (reflection of a storage process at empty: Skorokhod 1961, from memory; the tests compare it with the plain
week-by-week count). Between two arrivals that is largest just before the second, so a path needs to be looked at
only just before each arrival and at the end.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

MOST_NODES = 3_000  # timelines of one scent begun and followed together; with more the rest is left and that is said

FEW = 250  # sample paths that do for a quick look
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


def few_paths(play: Play) -> Play:
    """Return the same with some `FEW` of the paths at least, for a quick look."""
    step = max(len(play.total) // FEW, 1)
    before, total = np.ascontiguousarray(play.before[:, ::step]), np.ascontiguousarray(play.total[::step])
    return play._replace(before=before, total=total)


def chosen(found: Found, rows: np.ndarray) -> Found:
    """Return some of the timelines."""
    return Found(found.counts[rows], found.lost[rows], found.sold_out[rows], found.worth[rows], found.complete)


def soonest(play: Play, most: int) -> Found:
    """Play through 0 to `most` batches that all come as soon as any can: no other timing of so many loses less."""
    counts = np.zeros((most + 1, max(len(play.room), 1)), int)
    counts[:, 0] = np.arange(most + 1)
    return play_through(play, counts[:, : len(play.room)]) if len(play.room) else play_through(play, counts[:1, :0])


def near_best(
    play: Play,
    price: np.ndarray,
    numbers: range,
    keeps: Callable[[Found], np.ndarray],
    slack: float,
    known: float,
    wide: int = MOST_NODES,
) -> Found:
    """Return every timeline that at these prices is worth at most `slack` less than the best one.

    `price[period]` of making a batch in that period [money]; `numbers` of batches; `keeps` says which timelines keep
    the maker's wishes; `known` is a worth at these prices that some timeline is known to reach. Branch and bound over
    the batches in the order in which they are made: a timeline begun is given up when not even making the rest at
    once, at the lowest price still to come, could bring it near enough. Of those begun with equally many batches at
    most the `wide` most promising ones are followed.
    """
    cost, slack = play.per_made + price, slack + ROUNDING
    cheapest = np.minimum.accumulate(np.where(play.room > 0, cost, np.inf)[::-1])[::-1]
    start = np.zeros((1, len(play.total)), play.total.dtype)
    begun = _Begun(np.zeros((1, len(price)), np.int16), np.zeros(1, int), start, np.zeros(1))
    found, complete = list[tuple[Found, np.ndarray]](), True
    top = max(known, _reached(play, cost, numbers, keeps))
    for batches in range(numbers.stop if top > -np.inf else 0):
        if batches >= numbers.start:
            level, worth = _level(begun, play, batches, keeps)
            top = max(top, float(worth.max(initial=-np.inf)))
            found.append((level, worth))
        reach = _could_reach(begun, play, batches, numbers, cheapest)
        rows = np.flatnonzero(reach >= top - slack)
        if len(rows) > wide:
            rows, complete = rows[np.argsort(-reach[rows], kind="stable")[:wide]], False
        begun = _extended(_Begun(*(part[rows] for part in begun)), play, cost, batches)
    return _joined(found, top - slack, len(price), complete)


def _reached(play: Play, cost: np.ndarray, numbers: range, keeps: Callable[[Found], np.ndarray]) -> float:
    """Return what the best of simple timelines is worth: batches as early, or at as low a price, as there is room.

    Minus infinity where no timeline keeps the wishes: none has more on the shelf than the earliest.
    """
    worth = -np.inf
    for order in (np.arange(len(cost)), np.argsort(cost, kind="stable")):
        periods = np.repeat(order, play.room[order])[: max(numbers.stop - 1, 0)]
        counts = np.zeros((len(periods) + 1, len(cost)), np.int16)
        for batches, period in enumerate(periods):
            counts[batches + 1 :, period] += 1
        if numbers.start >= min(len(counts), numbers.stop):
            break
        found = play_through(play, counts[numbers.start :])
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


def _level(begun: _Begun, play: Play, batches: int, keeps: Callable[[Found], np.ndarray]) -> tuple[Found, np.ndarray]:
    """Return those of the timelines that keep the wishes if no batch is added, and their worth at the prices."""
    behind = np.maximum(begun.behind, play.total - begun.behind.dtype.type(play.on_hand + batches * play.per_batch))
    lost = behind.mean(axis=1)
    level = Found(begun.counts, lost, np.count_nonzero(behind, axis=1) / len(play.total), -play.per_lost * lost)
    kept = keeps(level)
    found = Found(begun.counts[kept], lost[kept], level.sold_out[kept], level.worth[kept] - play.per_made * batches)
    return found, level.worth[kept] - begun.cost[kept]


def _could_reach(begun: _Begun, play: Play, batches: int, numbers: range, cheapest: np.ndarray) -> np.ndarray:
    """Return a worth that no extension of each timeline exceeds; concave in the number of batches more."""
    reach = np.full(len(begun.cost), -np.inf)
    rising = np.arange(len(begun.cost)) if len(cheapest) else np.zeros(0, int)
    for more in range(max(1, numbers.start - batches), numbers.stop - batches):
        if not len(rising):
            break
        come = begun.behind.dtype.type(play.on_hand + (batches + more) * play.per_batch)
        lost = np.maximum(begun.behind[rising], play.total - come).mean(axis=1)
        worth = -play.per_lost * lost - begun.cost[rising] - more * cheapest[begun.period[rising]]
        better = worth > reach[rising]
        reach[rising[better]] = worth[better]
        rising = rising[better]
    return reach


def _extended(begun: _Begun, play: Play, cost: np.ndarray, batches: int) -> _Begun:
    """Add one batch to each timeline, in its last period or any later one that has room."""
    periods = np.flatnonzero(play.room)
    parent, choice = np.nonzero(periods[None, :] >= begun.period[:, None])
    period = periods[choice]
    fits = begun.counts[parent, period] < play.room[period]
    parent, period = parent[fits], period[fits]
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
