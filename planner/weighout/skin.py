"""May this formula go on skin: loads against limits, and the papers that state the limits."""

import re
from collections.abc import Hashable, Mapping, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

import pandas as pd

from planner.problems import Problem
from planner.units import exact

FRAGRANCE = "fragrance oil"
AMENDMENT = (
    49  # categories of the IFRA Standards were numbered anew with the 49th Amendment: its category table [read-2nd]
)

Line = Mapping[Hashable, Any]  # one row of a table


class SkinCheck(NamedTuple):
    """`reasons` refuse the formula; `notes` are papers that are missing and overridden."""

    reasons: list[str]
    notes: list[Problem]
    limit_pct: float  # highest fragrance load that every limit allows [% by weight]
    binds: str  # the oil whose limit is nearest


def is_limited(part: Line) -> bool:
    """Say whether a limit is needed: always for a fragrance oil, else where one is given."""
    return str(part["kind"]).strip().lower() == FRAGRANCE or not pd.isna(part["skin_limit_pct"])


def highest_load(parts: Sequence[Line]) -> tuple[Fraction, Fraction, str]:
    """Load of the oils, the highest load that their limits allow in these proportions, and the oil that binds.

    Both loads are % by weight. Limits of several oils are not taken one by one: what is in them is not known, so a
    substance may come from more than one, and the sum of load ÷ limit may not exceed 1. That is the stricter reading;
    for phototoxic materials it is the rule (IFRA Standards, expressed citrus [read-2nd]). No limited oil: limit 100.
    """
    used = [(exact(part["weight_pct"]) / exact(part["skin_limit_pct"]), str(part["material"])) for part in parts]
    load = sum((exact(part["weight_pct"]) for part in parts), Fraction())
    if not used:
        return load, Fraction(100), ""
    whole = sum((share for share, _ in used), Fraction())
    return load, min(load / whole, Fraction(100)), max(used)[1]


def skin_check(
    scent: str, formula: str, parts: Sequence[Line], lots: pd.DataFrame, overrides: pd.DataFrame, today: pd.Timestamp
) -> SkinCheck:
    """Hold a formula against the limits and papers of its oils.

    `parts` are rows with material, kind, weight_pct and skin_limit_pct. An unknown limit or a load above the limit
    always refuses. A paper that is missing, or papers on different editions, refuse unless overrides.csv names the
    scent, the formula or the oil in `what` on a day up to `today`.
    """
    limited = [part for part in parts if is_limited(part)]
    reasons = [reason for part in limited for reason in _limit_reasons(part)]
    limit, binds = Fraction(0), ""
    if not reasons:
        load, limit, binds = highest_load(limited)
        if load > limit:
            reasons.append(_too_much(load, limit, binds, len(limited)))
    notes = []
    for what, oils in _paper_gaps(limited, lots):
        override = _override((scent, formula, *oils), overrides, today)
        if override is None:
            reasons.append(what)
        else:
            said = f"{scent} is made although {what[0].lower()}{what[1:]} Reason given: {override['why']}."
            notes.append(Problem("overrides.csv", int(override.get("row", 0)), "", said, "Get the paper.", stops=False))
    return SkinCheck(reasons, notes, float(limit), binds)


def _limit_reasons(part: Line) -> list[str]:
    limit = part["skin_limit_pct"]
    if pd.isna(limit):
        return [f"The skin limit of {part['material']} is not known; write skin_limit_pct in materials.csv."]
    if not 0 < limit <= 100:
        return [f"The skin limit of {part['material']} is {limit:g} %, so it may not be used; look at its certificate."]
    return []


def _too_much(load: Fraction, limit: Fraction, binds: str, oils: int) -> str:
    whose = f"of {binds}" if oils == 1 else f"that the limits of its {oils} oils allow together ({binds} counts most)"
    return f"Its fragrance load of {float(load):g} % is above the {float(limit):.6g} % {whose}."


def _paper_gaps(limited: Sequence[Line], lots: pd.DataFrame) -> list[tuple[str, tuple[str, ...]]]:
    """Return what is wrong with the papers, and the oils it concerns."""
    gaps: list[tuple[str, tuple[str, ...]]] = []
    editions: dict[str, list[str]] = {}
    for part in limited:
        oil = str(part["material"])
        paper = _latest_certificate(oil, lots)
        if paper is None:
            gaps.append((f"There is no certificate of {oil} in material_lots.csv.", (oil,)))
        elif pd.isna(paper["certificate_basis"]):
            gaps.append((f"The certificate of {oil} has no certificate_basis in material_lots.csv.", (oil,)))
        else:
            editions.setdefault(_edition(paper["certificate_basis"]), []).append(oil)
    if len(editions) > 1:
        said = "; ".join(f"{' and '.join(oils)}: {edition}" for edition, oils in editions.items())
        oils = tuple(oil for group in editions.values() for oil in group)
        gaps.append((f"Its certificates follow different editions, whose categories differ ({said}).", oils))
    return gaps


def _latest_certificate(oil: str, lots: pd.DataFrame) -> Line | None:
    """Return the newest certificate of an oil; it is for the oil, so one delivery's serves all."""
    papers = lots[(lots["material"] == oil) & lots["certificate"].notna()]
    if papers.empty:
        return None
    return papers.sort_values("certificate_date", na_position="first", kind="stable").to_dict("records")[-1]


def _edition(basis: str) -> str:
    """Return which numbering of categories a certificate follows, or the basis as written where it has no number.

    >>> _edition("IFRA 51st Amendment"), _edition("48"), _edition("house rule")
    ('since the 49th Amendment', 'before the 49th Amendment', 'house rule')
    """
    number = re.search(r"\d+", basis)
    if not number:
        return basis.strip()
    return f"{'since' if int(number.group()) >= AMENDMENT else 'before'} the {AMENDMENT}th Amendment"


def _override(names: Sequence[str], overrides: pd.DataFrame, today: pd.Timestamp) -> Line | None:
    """Return the latest override of a paper for one of these names, or nothing."""
    known = {name.strip().lower() for name in names}
    hits = overrides[overrides["what"].str.strip().str.lower().isin(known) & (overrides["date"] <= today)]
    return hits.sort_values("date", kind="stable").to_dict("records")[-1] if len(hits) else None
