"""The plan as tables: what each scent gets and why, the limits, and what other numbers of batches would bring."""

import numpy as np
import pandas as pd

from planner.restock.choose import Choice
from planner.restock.look import Limits, Look, contribution
from planner.restock.timelines import play_through
from planner.restock.wishes import Wish
from planner.tables import STEPS, check

MORE_STEPS = 2  # batches beyond what is worth making, so that the chart shows the turn


def plan_table(looks: list[Look], choice: Choice, wishes: list[Wish], limits: Limits, unit: str) -> pd.DataFrame:
    """Return the table plan, a row for each scent, with the reason for its number of batches in `why`."""
    rows = []
    spare = limits.money - sum(look.case.spend * int(row.sum()) for look, row in zip(looks, choice.counts, strict=True))
    for look, row in zip(looks, choice.counts, strict=True):
        batches, found = int(row.sum()), play_through(look.play, row[None])
        sold = look.wanted - float(found.lost[0])
        rows.append(
            {
                "scent": look.case.scent,
                "batches": batches,
                "bottles": batches * look.case.per_batch,
                "on_hand": look.case.on_hand,
                "expected_sold": sold,
                "expected_left_over": look.case.on_hand + batches * look.case.per_batch - sold,
                "chance_sold_out": float(found.sold_out[0]),
                "contribution": float(contribution(look, found)[0]),
                "why": _why(look, row, wishes, limits, spare, unit),
            }
        )
    return check(pd.DataFrame(rows, columns=list(STEPS["plan"].columns)), STEPS["plan"])


def _why(look: Look, row: np.ndarray, wishes: list[Wish], limits: Limits, spare: float, unit: str) -> str:
    """Say what the last batch earns, what one more would, and what stands in its way."""
    case, batches = look.case, int(row.sum())
    if case.hindrance:
        return f"No batch: {case.hindrance}."
    if not (look.arrival < len(look.due)).any():
        return "No batch: none would be ready before the season ends."
    if case.minutes > limits.day_minutes:
        return f"No batch: one takes {case.minutes:.0f} minutes, a bench day has {limits.day_minutes:.0f}."
    more, next_one = _one_more(look, row), "one more" if batches else "the first"
    if batches == 0:
        head = f"No batch: {case.on_hand} on hand" if case.on_hand else "No batch: none on hand"
    else:
        asked = _asked_for(look, row, wishes)
        head = f"{batches} batch{'es' if batches > 1 else ''}{asked}: the last one {_earns(_last(look, row), unit)}"
    if more > 0:
        stands = _hindrance(look, batches, wishes, spare)
        return f"{head}; {next_one}, with time and money for it, would earn {_amount(more, unit)}, but {stands}."
    return f"{head}; {next_one} would {'lose' if more < 0 else 'bring'} {_amount(more, unit)}."


def _asked_for(look: Look, row: np.ndarray, wishes: list[Wish]) -> str:
    """Name the wish that the plan would break with one batch less."""
    fewer = play_through(look.play, row - np.eye(len(row), dtype=int)[row > 0])
    for wish in wishes:
        if wish.scent != look.case.scent:
            continue
        if wish.kind == "not_sold_out_pct" and 100 * (1 - fewer.sold_out.min()) < wish.amount:
            return f", since you asked for {wish.amount:g} % not to sell out"
        if wish.kind in ("at_least", "exactly") and row.sum() - 1 < wish.amount:
            return f", since you asked for {wish.kind.replace('_', ' ')} {wish.amount:g}"
    return ""


def _earns(amount: float, unit: str) -> str:
    return f"{'earns' if amount >= 0 else 'loses'} {_amount(amount, unit)}"


def _amount(amount: float, unit: str) -> str:
    return f"{abs(amount):.0f} {unit}" if abs(amount) >= 1 or amount == 0 else f"less than 1 {unit}"


def _last(look: Look, row: np.ndarray) -> float:
    """Return what the plan would bring less with its least useful batch not made. [money]"""
    fewer = row - np.eye(len(row), dtype=int)[row > 0]
    return float(play_through(look.play, row[None]).worth[0] - play_through(look.play, fewer).worth.max())


def _one_more(look: Look, row: np.ndarray) -> float:
    """Return what one batch more would bring in the best period for it, hours and money apart. [money]"""
    more = (row + np.eye(len(row), dtype=int))[look.arrival < len(look.due)]
    return float(play_through(look.play, more).worth.max() - play_through(look.play, row[None]).worth[0])


def _hindrance(look: Look, batches: int, wishes: list[Wish], spare: float) -> str:
    asked = [wish for wish in wishes if wish.scent == look.case.scent and wish.kind in ("at_most", "exactly")]
    for wish in asked:
        if batches >= wish.amount:
            return f"you asked for {wish.kind.replace('_', ' ')} {wish.amount:g}"
    if look.case.spend > spare:
        return "the money that is left does not pay for one more"
    return "no bench day in time has room for it, or other batches bring more there"


def step_table(looks: list[Look], choice: Choice) -> pd.DataFrame:
    """Return for each scent and number of batches what they would bring if all came as soon as any can.

    Columns scent, batches, bottles (for sale from them), contribution (hours and money left out of account),
    chance_sold_out. A scent of which no batch can be made has one row, that without any.
    """
    parts = []
    for look, row in zip(looks, choice.counts, strict=True):
        last = max(int(look.best.worth.argmax()), int(row.sum())) + MORE_STEPS
        batches = np.arange(1 if look.case.hindrance else min(last + 1, len(look.best.worth)))
        part = {
            "scent": look.case.scent,
            "batches": batches,
            "bottles": batches * look.case.per_batch,
            "contribution": contribution(look, look.best)[batches],
            "chance_sold_out": look.best.sold_out[batches],
        }
        parts.append(pd.DataFrame(part))
    columns = ["scent", "batches", "bottles", "contribution", "chance_sold_out"]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)


def fact_table(looks: list[Look], choice: Choice, limits: Limits, unit: str, currency: str) -> pd.DataFrame:
    """Return figures about the plan: what, value, unit. Contributions are in `unit`, the currency or bottles."""
    picked = list(zip(looks, choice.counts, strict=True))
    minutes = sum(look.case.minutes * int(row.sum()) for look, row in picked)
    idle = sum(float(contribution(look, look.best)[0]) for look in looks)
    rows = [
        ("batches", sum(int(row.sum()) for look, row in picked), "batches"),
        ("bottles for sale from them", sum(int(row.sum()) * look.case.per_batch for look, row in picked), "bottles"),
        ("bench hours used", minutes / 60, "hours"),
        ("bench hours available in time", len(limits.days) * limits.day_minutes / 60, "hours"),
        ("money needed for materials", sum(look.case.spend * int(row.sum()) for look, row in picked), currency),
        ("money available", limits.money if np.isfinite(limits.money) else np.nan, currency),
        (
            "expected contribution",
            sum(float(contribution(look, play_through(look.play, row[None]))[0]) for look, row in picked),
            unit,
        ),
        ("expected contribution without any batch", idle, unit),
        (
            "proven gap: no plan can be better by more than",
            100 * (choice.bound - choice.worth) / max(abs(choice.worth), 1),
            "%",
        ),
    ]
    return pd.DataFrame(rows, columns=["what", "value", "unit"]).astype({"value": "float64"})
