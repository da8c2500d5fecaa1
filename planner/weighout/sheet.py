"""The weigh-out: from the bench plan to grams, batch by batch, or the reason why a batch must not be made."""

from collections.abc import Hashable, Mapping, Sequence
from fractions import Fraction
from math import ceil
from typing import Any, NamedTuple

import pandas as pd

from planner.problems import Problem
from planner.settings import Filling, Scale, Settings
from planner.tables import STEPS, check
from planner.units import exact, label_millilitres
from planner.weighout.scales import ASSUMED, Weighing, find_vessel, tolerance, weighing
from planner.weighout.skin import SkinCheck, is_limited, skin_check

Line = Mapping[Hashable, Any]  # one row of a table that was handed in
Row = dict[str, Any]  # one row of a table made here

BATCHES = {  # columns of the table of batches
    **dict.fromkeys(("batch", "scent", "formula"), "str"),
    "bottles": "Int64",
    **dict.fromkeys(("fill_ml", "fill_g", "oil_g", "oil_ml"), "float64"),
    "vessel": "str",
    **dict.fromkeys(("load_pct", "limit_pct"), "float64"),
    "binds": "str",
    **dict.fromkeys(("headspace_pct", "density_g_per_ml"), "float64"),
}


class WeighOut(NamedTuple):
    """Tables of the weigh-out.

    `weigh_out`: batch, scent, material, grams, tolerance_g, scale, in the order of weighing. `batches`: one row a batch
    that may be made (columns: BATCHES). `refused`: batch, scent, reason.
    """

    weigh_out: pd.DataFrame
    batches: pd.DataFrame
    refused: pd.DataFrame
    problems: list[Problem]


def weigh_out(
    bench: pd.DataFrame,
    scents: pd.DataFrame,
    formulas: pd.DataFrame,
    blends: pd.DataFrame,
    materials: pd.DataFrame,
    packing: pd.DataFrame,
    material_lots: pd.DataFrame,
    overrides: pd.DataFrame,
    overage: pd.DataFrame,
    settings: Settings,
    today: pd.Timestamp,
) -> WeighOut:
    """Grams of every material of every batch on the bench plan, or why a batch is refused.

    Oil for a batch = bottles × fill ÷ (1 − share lost) + what is lost whatever the size [g]; `overage` holds both.
    Oils with a limit are rounded down and may weigh less (tolerance below zero), the others are rounded up and may
    weigh more (tolerance above zero), and carrier makes up for what a scale's last digit hides: no weighing that the
    sheet allows goes above a limit. Limited oils come first, smallest first, so that a slip can still be put right
    with carrier (common practice, no source). `oil_g` is the sum of the grams; `load_pct` is of those grams.
    """
    facts = _scent_facts(scents, blends, materials, packing)
    lines = formulas[formulas["formula"].isin(blends["formula"])]
    lines = lines.merge(materials.drop(columns="row", errors="ignore"), on="material", how="left")
    recipes = {name: rows.to_dict("records") for name, rows in lines.groupby("formula", sort=False)}
    rows: list[Row] = []
    batches: list[Row] = []
    refused, problems = [], _scale_notes(settings)
    for batch in bench.to_dict("records"):
        fact = facts.get(batch["scent"], {})
        recipe = recipes.get(fact.get("formula"), [])
        skin = skin_check(batch["scent"], str(fact.get("formula")), recipe, material_lots, overrides, today)
        reasons = _fact_reasons(batch, fact, settings.filling) + skin.reasons
        grams, unweighable = (
            ([], []) if reasons else _grams(batch, recipe, _need(batch, fact, overage), settings.scales)
        )
        if reasons + unweighable:
            refused.append((batch["batch"], batch["scent"], " ".join(reasons + unweighable)))
            continue
        made, notes = _batch(batch, fact, skin, grams, settings)
        rows, batches, problems = rows + grams, [*batches, made], problems + skin.notes + notes
    return WeighOut(
        check(pd.DataFrame(rows, columns=list(STEPS["weigh-out"].columns)), STEPS["weigh-out"]),
        pd.DataFrame(batches, columns=list(BATCHES)).astype(BATCHES),
        pd.DataFrame(refused, columns=["batch", "scent", "reason"]).astype("str"),
        list(dict.fromkeys(problems)),  # an override is told once, however many batches it serves
    )


def _need(batch: Line, fact: Line, overage: pd.DataFrame) -> Fraction:
    """Return the oil to weigh for a batch, in g."""
    lost = overage.to_dict("records")[0]
    return Fraction(batch["bottles"] * fact["fill_g"] / (1 - lost["share"]) + lost["fixed_g"])


def _scent_facts(
    scents: pd.DataFrame, blends: pd.DataFrame, materials: pd.DataFrame, packing: pd.DataFrame
) -> dict[Hashable, Line]:
    """Return by scent: formula, fill [ml, g], density, and the room in its bottle [ml]."""
    table = scents[["scent", "formula", "bottle"]].copy()
    table["fill_ml"] = label_millilitres(scents["label_ml"], scents["label_fl_oz"])
    table["density"] = table["formula"].map(blends.set_index("formula")["density_g_per_ml"]).astype(float)
    table["fill_g"] = table["fill_ml"] * table["density"]
    table["brimful_ml"] = table["bottle"].map(materials.set_index("material")["brimful_ml"]).astype(float)
    table["displaced_ml"] = table["scent"].map(packing.groupby("what")["displaced_ml"].sum()).astype(float).fillna(0.0)
    return {line["scent"]: line for line in table.to_dict("records")}


def _fact_reasons(batch: Line, fact: Line, filling: Filling) -> list[str]:
    """Return why a batch cannot be reckoned or filled, safety apart."""
    if not fact:
        return ["It is not in scents.csv."]
    if pd.isna(batch["bottles"]) or batch["bottles"] < 1:
        return ["It has no number of bottles."]
    if pd.isna(fact["fill_ml"]) or fact["fill_ml"] <= 0:
        return ["It has no label quantity in scents.csv."]
    if pd.isna(fact["density"]):
        return ["It has no formula that can be used; see formulas.csv and materials.csv."]
    room = fact["brimful_ml"]
    if pd.isna(room):
        return []
    full = exact(fact["fill_ml"]) + exact(fact["displaced_ml"])
    if full > exact(room) * (1 - exact(filling.headspace_pct) / 100):
        inside = f" and {fact['displaced_ml']:g} ml of what is inside" if fact["displaced_ml"] else ""
        empty = f"{filling.headspace_pct:g} % of the bottle's {room:g} ml empty."
        return [f"{fact['fill_ml']:.6g} ml{inside} do not leave {empty}"]
    return []


def _grams(batch: Line, recipe: Sequence[Line], need: Fraction, scales: Sequence[Scale]) -> tuple[list[Row], list[str]]:
    """Return the rows of one batch in the order of weighing, or why no scale can weigh it."""
    order = sorted(recipe, key=lambda part: (not is_limited(part), part["weight_pct"]))
    weighed: list[Weighing] = []
    for part in order:
        amount = need * exact(part["weight_pct"]) / 100
        found = weighing(amount, scales or (ASSUMED,), up=not is_limited(part))
        if found is None:
            said = f"{float(amount):.3g} g of {part['material']} is less than a scale weighs to 1 %; make more at once."
            return [], [said]
        weighed.append(found)
    weighed = _topped_up(order, weighed)
    names = {"batch": batch["batch"], "scent": batch["scent"]}
    rows: list[Row] = []
    for part, found in zip(order, weighed, strict=True):
        off = tolerance(found) * (-1 if is_limited(part) else 1)
        amounts = {"grams": float(found.grams), "tolerance_g": float(off), "scale": found.scale or None}
        rows.append(
            {**names, "material": part["material"], **amounts, "limited": is_limited(part), "parts": found.parts}
        )
    return rows, []


def _topped_up(order: Sequence[Line], weighed: list[Weighing]) -> list[Weighing]:
    """Add carrier where half a division on every scale, the wrong way each, would take the load above a limit."""
    both = list(zip(order, weighed, strict=True))
    high = [(part, found.grams + found.parts * found.division / 2) for part, found in both if is_limited(part)]
    low = [found.grams - found.parts * found.division / 2 for part, found in both if not is_limited(part)]
    if not high or not low:
        return weighed
    whole = sum((grams * 100 / exact(part["skin_limit_pct"]) for part, grams in high), Fraction())
    lacking = whole - sum((grams for _, grams in high), Fraction()) - sum(low, Fraction())
    if lacking <= 0:
        return weighed
    last = weighed[-1]  # the largest of the others
    return [*weighed[:-1], last._replace(grams=last.grams + ceil(lacking / last.division) * last.division)]


def _batch(
    batch: Line, fact: Line, skin: SkinCheck, grams: Sequence[Row], settings: Settings
) -> tuple[Row, list[Problem]]:
    """Return the row of a batch that may be made, and what to tell the maker about it."""
    filling = settings.filling
    oil_g = sum(line["grams"] for line in grams)
    oil_ml = oil_g / fact["density"]
    named = "" if pd.isna(batch["vessel"]) else str(batch["vessel"])
    vessel, said = find_vessel(oil_ml, named, settings.vessels, filling.vessel_full_pct)
    notes = [said] if said else []
    notes += [f"weigh {line['material']} in {line['parts']} parts." for line in grams if line["parts"] > 1]
    if pd.isna(fact["brimful_ml"]):
        notes.append("whether the oil fits is not known: its bottle has no brimful_ml in materials.csv.")
    row: Row = {
        **{name: batch[name] for name in ("batch", "scent", "bottles")},
        **{name: fact[name] for name in ("formula", "fill_ml", "fill_g")},
        "oil_g": oil_g,
        "oil_ml": oil_ml,
        "vessel": vessel or None,
        "load_pct": 100 * sum(line["grams"] for line in grams if line["limited"]) / oil_g,
        "limit_pct": skin.limit_pct,
        "binds": skin.binds or None,
        "headspace_pct": 100 * (1 - (fact["fill_ml"] + fact["displaced_ml"]) / fact["brimful_ml"]),
        "density_g_per_ml": fact["density"],
    }
    what = f"batch {batch['batch']} of {batch['scent']}: "
    return row, [Problem("weigh-out", 0, "", what + note, "", stops=False) for note in notes]


def _scale_notes(settings: Settings) -> list[Problem]:
    if settings.scales:
        return []
    what = f"names no scale, so amounts are rounded to {ASSUMED.division_g} g."
    return [Problem("shop.toml", 0, "[[scale]]", what, "Write your scales there.", stops=False)]
