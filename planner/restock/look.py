"""A look at one scent: all its timelines played through, and what any number of batches would bring at best."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.restock.cases import Case
from planner.restock.timelines import Found, Play, prepare, soonest
from planner.restock.wishes import Wish, promised

MOST_A_DAY = 20  # batches of one scent on one day: more than any bench, where a batch takes no time


class Limits(NamedTuple):
    """What all scents share: bench days, put together in periods, and money."""

    days: pd.DatetimeIndex
    period: np.ndarray  # [day]
    arrival: np.ndarray  # [scent, period] week of the plan in which a batch of that period is on the shelf
    day_minutes: float
    money: float  # infinite where the settings name none

    @property
    def counts(self) -> np.ndarray:
        """Bench days in each period."""
        return np.bincount(self.period, minlength=self.arrival.shape[1])


class Look(NamedTuple):
    """One scent with its promises counted in, ready to play timelines through."""

    case: Case
    arrival: np.ndarray  # [period] week of the plan
    due: np.ndarray  # [week] bottles promised
    wanted: float  # in the whole season, promises included, on average [bottles]
    play: Play
    most: int  # batches: more cannot be worth making, and no wish needs them
    best: Found  # row n: n batches that all come as soon as any can


def look_at(case: Case, wishes: list[Wish], arrival: np.ndarray, limits: Limits, weeks: int) -> Look:
    """Get the scent's timelines ready, of up to as many batches as could be worth making or are wished for.

    One more batch never adds more to a timeline than it adds where all come as soon as they can, so batches beyond
    the number at which that stops being worth while need not be tried.
    """
    due = promised(wishes, case.scent, weeks)
    wanted = case.wanted + due if due.any() else case.wanted
    room = np.where(arrival < weeks, _room(case, limits), 0)
    costs = {"per_lost": case.earns + case.left_over, "per_made": case.per_batch * case.left_over + case.retained}
    play = prepare(wanted, case.on_hand, case.per_batch, arrival, room=room, **costs)
    enough = int(max(np.ceil((play.total.max(initial=0) - case.on_hand) / max(case.per_batch, 1)), 0))
    wished = _wished(case, wishes)
    best = soonest(play, min(enough, int(room.sum())) + wished + 3)
    safe = _safe(case, wishes, best.sold_out)
    most = min(max(_worth_making(best.worth), wished, safe), int(room.sum()))
    return Look(case, arrival, due, float(play.total.mean()), play, most, best)


def _room(case: Case, limits: Limits) -> np.ndarray:
    """Batches of the scent alone that fit each period at most."""
    if case.hindrance or case.minutes > limits.day_minutes:
        return np.zeros(len(limits.counts), int)
    return limits.counts * min(int(limits.day_minutes // max(case.minutes, 1)), MOST_A_DAY)


def contribution(look: Look, found: Found) -> np.ndarray:
    """Return the expected contribution of each timeline (see plan_batches). [money]"""
    left_over_at_least = look.case.on_hand - look.wanted
    return look.wanted * look.case.earns - left_over_at_least * look.case.left_over + found.worth


def batch_range(look: Look, wishes: list[Wish]) -> tuple[int, int]:
    """Fewest and most batches that these wishes for the scent leave."""
    highest = [wish.amount for wish in wishes if wish.kind in ("at_most", "exactly")]
    fewest = max(_wished(look.case, wishes), _safe(look.case, wishes, look.best.sold_out))
    return fewest, int(min([look.most, *highest]))


def _worth_making(best: np.ndarray) -> int:
    """Return the number of batches after which one more brings nothing (what they bring is concave)."""
    return int(np.append(np.diff(best) > 0, False).argmin())


def _wished(case: Case, wishes: list[Wish]) -> int:
    """Return the number of batches that the scent's wishes and promises may need."""
    mine = [wish for wish in wishes if wish.scent == case.scent]
    promises = sum(wish.amount for wish in mine if wish.kind == "order") - case.on_hand
    numbers = [wish.amount for wish in mine if wish.kind in ("at_least", "exactly")]
    return int(max(0, *numbers, np.ceil(promises / max(case.per_batch, 1)))) if mine else 0


def _safe(case: Case, wishes: list[Wish], sold_out: np.ndarray) -> int:
    """Return the number of batches that reach the wished chance of not selling out; too many where none does."""
    wished = [wish.amount for wish in wishes if wish.scent == case.scent and wish.kind == "not_sold_out_pct"]
    return int(np.append(sold_out <= 1 - max(wished) / 100 + 1e-9, True).argmax()) if wished else 0
