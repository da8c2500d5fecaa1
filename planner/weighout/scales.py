"""Which scale weighs an amount, to which division, and which vessel holds the batch."""

from collections.abc import Sequence
from fractions import Fraction
from math import ceil, floor
from typing import NamedTuple

from planner.settings import Scale, Vessel
from planner.units import exact

PRECISION = Fraction(1, 100)  # wanted of a weighing: 1 % of the amount
# a scale repeats to no better than 0.41 of its division, and two such spreads may be PRECISION of the smallest amount:
# USP <41> (2019) [read-2nd]; 82 divisions at 1 % [computed]
SMALLEST_DIVISIONS = 2 * Fraction(41, 100) / PRECISION
ASSUMED = Scale("", division_g=0.01, capacity_g=1e9)  # where shop.toml names no scale; common practice, no source


class Weighing(NamedTuple):
    """An amount as the scale will show it."""

    grams: Fraction
    division: Fraction  # of the scale [g]
    scale: str
    parts: int  # weighed in so many parts, more than 1 where the scale cannot carry it at once


def smallest_weighing(scale: Scale) -> Fraction:
    """Return the smallest amount the scale weighs to 1 %, in g.

    >>> float(smallest_weighing(Scale("fine", division_g=0.01, capacity_g=500)))
    0.82
    """
    return SMALLEST_DIVISIONS * exact(scale.division_g)


def best_scale(need: Fraction, scales: Sequence[Scale]) -> tuple[Scale, int] | None:
    """Return the finest scale that can weigh an amount [g] and in how many parts; nothing when none is fine enough."""
    able = [scale for scale in scales if need <= exact(scale.capacity_g)]
    fine = [scale for scale in able if need >= smallest_weighing(scale)]
    if fine:
        return min(fine, key=lambda scale: (scale.division_g, scale.capacity_g)), 1
    if able:
        return None
    large = max(scales, key=lambda scale: scale.capacity_g)
    parts = ceil(need / exact(large.capacity_g))
    return (large, parts) if need / parts >= smallest_weighing(large) else None


def weighing(need: Fraction, scales: Sequence[Scale], up: bool) -> Weighing | None:
    """Round an amount [g] to the division of the best scale, up or down; nothing when no scale can weigh it."""
    best = best_scale(need, scales)
    if best is None:
        return None
    scale, parts = best
    division = exact(scale.division_g)
    steps = ceil(need / division) if up else floor(need / division)
    return Weighing(steps * division, division, scale.name, parts)


def tolerance(weighed: Weighing) -> Fraction:
    """Return how far the weight may be off, in g: 1 % of it in whole divisions, and one division at least."""
    return max(floor(PRECISION * weighed.grams / weighed.division), 1) * weighed.division


def find_vessel(oil_ml: float, named: str, vessels: Sequence[Vessel], full_pct: float) -> tuple[str, str]:
    """Return the vessel to mix in, and what to tell the maker about it.

    The one named for the batch when it holds the oil at `full_pct` of its volume, else the smallest that does, else
    equal parts in the largest.
    """
    if not vessels:
        return named, ""
    room = {vessel.name: vessel.holds_ml * full_pct / 100 for vessel in sorted(vessels, key=lambda v: v.holds_ml)}
    if named in room and oil_ml <= room[named]:
        return named, ""
    for name, holds in room.items():
        if oil_ml <= holds:
            said = (
                f"{oil_ml:.0f} ml is more than {named} holds at {full_pct:g} % full; mix in {name}."
                if named in room
                else ""
            )
            return name, said
    name, holds = list(room.items())[-1]
    parts = ceil(oil_ml / holds)
    return name, f"{oil_ml:.0f} ml is more than {name} holds at {full_pct:g} % full; mix in {parts} equal parts."
