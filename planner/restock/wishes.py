"""Wishes and promises: which timelines of a scent they leave, and which of them cannot be kept together."""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.restock.cases import WEEK, Case
from planner.tables import listed


class Wish(NamedTuple):
    """One thing the maker wants of the plan, for one scent."""

    file: str
    row: int
    column: str
    scent: str
    says: str  # the wish in words
    kind: str  # at_least, at_most, exactly, not_sold_out_pct or order
    amount: float  # batches, percent or bottles
    week: int = 0  # of the plan, in which an order falls due


KINDS = {
    "at_least": "at least {:g} batches of {}",
    "at_most": "at most {:g} batches of {}",
    "exactly": "exactly {:g} batches of {}",
    "not_sold_out_pct": "a {:g} % chance that {} is not sold out",
}


def read_wishes(
    wishes: pd.DataFrame, orders: pd.DataFrame, scents: Sequence[str], weeks: pd.DatetimeIndex
) -> tuple[list[Wish], list[Problem]]:
    """Return the wishes of wishes.csv and the promises of orders.csv, and those that say nothing to this plan."""
    found, problems = [], []
    for line in wishes.to_dict("records"):
        row = int(line.get("row", 0))
        if line["scent"] not in scents:
            problems.append(_unknown("wishes.csv", row, line["scent"]))
            continue
        for kind, words in KINDS.items():
            if pd.notna(line[kind]):
                amount = float(line[kind])
                says = words.format(amount, line["scent"])
                found.append(Wish("wishes.csv", row, kind, line["scent"], says, kind, amount))
    for line in orders.to_dict("records"):
        row = int(line.get("row", 0))
        if line["scent"] not in scents:
            problems.append(_unknown("orders.csv", row, line["scent"]))
        elif pd.isna(line["bottles"]) or pd.isna(line["ready_by"]):
            todo = "Write bottles and ready_by, then run again."
            problems.append(
                Problem("orders.csv", row, "ready_by", f"{line['order']} does not say how many by when.", todo)
            )
        elif line["ready_by"] >= weeks[-1] + WEEK:
            what = f"{line['order']} falls due after the season, so it is not in this plan."
            problems.append(Problem("orders.csv", row, "ready_by", what, "", stops=False))
        else:
            found.append(_promise(line, row, weeks))
    return found, problems


def _promise(line: dict, row: int, weeks: pd.DatetimeIndex) -> Wish:
    day = f"{line['ready_by']:%Y-%m-%d}"
    says = f"{line['bottles']:g} bottles of {line['scent']} for {line['order']} by {day}"
    week = max((line["ready_by"] - weeks[0]) // WEEK, 0)
    return Wish("orders.csv", row, "ready_by", line["scent"], says, "order", float(line["bottles"]), int(week))


def _unknown(file: str, row: int, scent: str) -> Problem:
    what = f"{scent} is not one of the scents that are planned."
    return Problem(file, row, "scent", what, "Write it as in scents.csv, then run again.", stops=False)


def promised(wishes: Sequence[Wish], scent: str, weeks: int) -> np.ndarray:
    """Bottles of the scent promised for each week. [week]"""
    bottles = np.zeros(weeks)
    for wish in wishes:
        if wish.kind == "order" and wish.scent == scent:
            bottles[wish.week] += wish.amount
    return bottles


def allows(
    wish: Wish, case: Case, counts: np.ndarray, sold_out: np.ndarray, arrival: np.ndarray, due: np.ndarray
) -> np.ndarray:
    """Say for each timeline of the wish's scent whether it keeps the wish.

    A promise is kept when what came to the shelf by its week covers all that was promised until then (`due[week]`):
    promises go before other customers.
    """
    batches = counts.sum(axis=1)
    if wish.kind == "at_least":
        return batches >= wish.amount
    if wish.kind == "at_most":
        return batches <= wish.amount
    if wish.kind == "exactly":
        return batches == wish.amount
    if wish.kind == "not_sold_out_pct":
        return sold_out <= 1 - wish.amount / 100 + 1e-9
    come = case.on_hand + case.per_batch * counts[:, arrival <= wish.week].sum(axis=1)
    return come >= due[: wish.week + 1].sum()


def smallest_clash(wishes: list[Wish], can_be: Callable[[list[Wish]], bool]) -> list[Wish]:
    """Return a set of wishes that cannot be kept together, of which none can be left out (deletion filter).

    `can_be` says whether there is any plan that keeps the wishes handed to it; there must be none that keeps all.
    """
    clash = list(wishes)
    for wish in wishes:
        rest = [other for other in clash if other is not wish]
        if not can_be(rest):
            clash = rest
    return clash


def clash_problem(clash: list[Wish], hindrances: Mapping[str, str]) -> Problem:
    """Say which wishes cannot be kept and that the plan is without them.

    `hindrances` says for each scent why no batch of it can be planned, else "".
    """
    first = clash[0]
    together = "cannot be kept" if len(clash) == 1 else "cannot be kept together"
    whys = dict.fromkeys(hindrances[wish.scent] for wish in clash if hindrances[wish.scent])
    because = f", since {listed(list(whys))}" if whys else " within bench days, rest and money"
    what = f"{listed([wish.says for wish in clash])} {together}{because}; planned without."
    return Problem(first.file, first.row, first.column, what, "Change one of them, then run again.")
