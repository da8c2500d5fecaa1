"""What a formula weighs and what a bottle of it costs: blend density, fragrance load, materials, fees, contribution."""

from collections.abc import Hashable
from fractions import Fraction
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.settings import Channel, Settings
from planner.tables import listed
from planner.units import exact, grams, kind_of_unit, label_millilitres, millilitres

FRAGRANCE = "fragrance oil"
INGREDIENTS = (FRAGRANCE, "carrier oil", "additive")  # what a formula can be made of; anything else is not mixed in
CHANNEL = "web"  # whose fees count; where the shop has no such channel, those of its first one

Line = dict[Hashable, Any]  # one row of a table


class Blends(NamedTuple):
    """One row a formula that can be used, and what is wrong with the others."""

    blends: pd.DataFrame
    problems: list[Problem]


class Costs(NamedTuple):
    """One row a scent, and which costs are not known and why."""

    costs: pd.DataFrame
    problems: list[Problem]


def blends(formulas: pd.DataFrame, materials: pd.DataFrame) -> Blends:
    """Compute density and fragrance load of each formula.

    `blends`: formula, density_g_per_ml [g/ml at 20 °C], fragrance_load_pct [% by weight].
    The parts' volumes add up on mixing (ideal mixing), so 1/density is the mean of the parts' 1/density by weight.
    A formula is left out, with a problem, when its percents do not add to 100 exactly as written, when one of
    its materials is not an oil we know, or when one has no density.
    """
    lines = formulas.merge(materials.drop(columns="row", errors="ignore"), on="material", how="left")
    rows, problems = [], []
    for name, parts in lines.groupby("formula", sort=False):
        wrong = _formula_problems(str(name), parts)
        problems += wrong
        if not wrong:
            weight = parts["weight_pct"].to_numpy(float) / 100
            density = 1 / (weight / parts["density_g_per_ml"].to_numpy(float)).sum()
            load = sum((exact(pct) for pct in parts.loc[_is_fragrance(parts), "weight_pct"]), Fraction())
            rows.append((name, density, float(load)))
    table = pd.DataFrame(rows, columns=["formula", "density_g_per_ml", "fragrance_load_pct"])
    return Blends(table.astype({"formula": "str", "density_g_per_ml": float, "fragrance_load_pct": float}), problems)


def _is_fragrance(parts: pd.DataFrame) -> pd.Series:
    return parts["kind"].str.strip().str.lower() == FRAGRANCE


def _formula_problems(name: str, parts: pd.DataFrame) -> list[Problem]:
    problems = [problem for line in parts.to_dict("records") for problem in _line_problems(name, line)]
    if not parts["weight_pct"].isna().any():
        off = sum((exact(pct) for pct in parts["weight_pct"]), Fraction()) - 100
        if off:
            over = "over" if off > 0 else "short of"
            what = f"the percents of '{name}' add to {float(100 + off):.10g}, {float(abs(off)):.10g} {over} 100."
            todo = "Change this line or another one of the formula."
            problems.append(Problem("formulas.csv", _row(parts.to_dict("records")[-1]), "weight_pct", what, todo))
    return problems


def _line_problems(name: str, line: Line) -> list[Problem]:
    """Return what keeps one line of a formula from being weighed."""
    material, kind, pct = line["material"], line["kind"], line["weight_pct"]
    density = line["density_g_per_ml"]
    where = ("formulas.csv", _row(line))
    if pd.isna(pct) or not 0 < pct <= 100:
        what = f"{material} in '{name}' has no percent by weight above 0 and up to 100."
        return [Problem(*where, "weight_pct", what, "Write it, with a plain number.")]
    if pd.isna(kind):
        what = f"'{name}' holds '{material}', which is not in materials.csv."
        return [Problem(*where, "material", what, "Add the material there, or correct its name here.")]
    if kind.strip().lower() not in INGREDIENTS:
        what = f"'{name}' holds {material}, whose kind is '{kind}'."
        todo = f"In materials.csv write one of {', '.join(INGREDIENTS)}; an essential oil is a {FRAGRANCE}."
        return [Problem(*where, "material", what, todo)]
    if pd.isna(density) or density <= 0:
        what = f"'{name}' holds {material}, whose density is not known."
        return [Problem(*where, "material", what, "Write density_g_per_ml in materials.csv, from its data sheet.")]
    return []


def _row(line: Line) -> int:
    return int(line.get("row", 0))


def bottle_costs(
    scents: pd.DataFrame,
    blends: pd.DataFrame,
    formulas: pd.DataFrame,
    packing: pd.DataFrame,
    packs: pd.DataFrame,
    materials: pd.DataFrame,
    settings: Settings,
) -> Costs:
    """Say what one more bottle of each scent costs and brings in.

    `costs`: scent, label_ml [ml: the larger of the label's two quantities], fill_g [g at 20 °C], fragrance_g [g of
    fragrance oil in it], oil_cost_per_g, price, material_cost (oil filled, bottle, packing), fees (of the channel
    "web", else of the first channel), contribution_per_bottle = price less material_cost less fees [money]. A pack
    counts at the lowest price for its amount, whoever sells it. What is not known is missing, never 0.
    """
    known = materials.set_index("material")["density_g_per_ml"] if len(materials) else pd.Series(dtype=float)
    unit_costs, problems = _unit_costs(packs, known)
    oil = _oil_costs(formulas, unit_costs)
    pieces, wrong = _packing_costs(scents, packing, known, unit_costs)
    table = scents[["scent", "formula", "price"]].copy()
    table["label_ml"] = label_millilitres(scents["label_ml"], scents["label_fl_oz"])
    table["fill_g"] = table["label_ml"] * table["formula"].map(blends.set_index("formula")["density_g_per_ml"]).astype(
        float
    )
    load = table["formula"].map(blends.set_index("formula")["fragrance_load_pct"]).astype(float)
    table["fragrance_g"] = table["fill_g"] * load / 100
    table["oil_cost_per_g"] = table["formula"].map(oil).astype(float)
    table["material_cost"] = table["fill_g"] * table["oil_cost_per_g"] + table["scent"].map(pieces).astype(float)
    channel = _channel(settings)
    table["fees"] = table["price"] * channel.fee_pct / 100 + channel.fee_each
    table["contribution_per_bottle"] = table["price"] - table["material_cost"] - table["fees"]
    names = [
        "scent",
        "label_ml",
        "fill_g",
        "fragrance_g",
        "oil_cost_per_g",
        "price",
        "material_cost",
        "fees",
        "contribution_per_bottle",
    ]
    return Costs(table[names].reset_index(drop=True), problems + wrong + _unknown(table, scents["bottle"]))


def _channel(settings: Settings) -> Channel:
    first = settings.channels[0].name if settings.channels else CHANNEL
    named = [channel.name for channel in settings.channels]
    return settings.channel(CHANNEL if CHANNEL in named else first)


def _unit_costs(packs: pd.DataFrame, density: pd.Series) -> tuple[pd.Series, list[Problem]]:
    """Lowest cost of one gram (of what is weighed or poured) or one piece, by material and 'g' or 'piece'."""
    rows, problems = [], []
    for line in packs.to_dict("records"):
        try:
            unit, amount = _amount(line["pack_size"], line["pack_unit"], density.get(line["material"], np.nan))
        except ValueError as error:
            problems.append(Problem("packs.csv", _row(line), "pack_unit", str(error), "Its price is not used."))
            continue
        if not amount > 0 or not line["pack_cost"] >= 0:
            what = f"a pack of {line['material']} needs a size above 0 and a cost of 0 or more."
            problems.append(Problem("packs.csv", _row(line), "pack_size", what, "Correct it; its price is not used."))
            continue
        rows.append((line["material"], unit, line["pack_cost"] / amount))
    table = pd.DataFrame(rows, columns=["material", "unit", "cost"])
    return table.groupby(["material", "unit"])["cost"].min(), problems


def _amount(size: float, unit: str, density: float) -> tuple[str, float]:
    """Return an amount as grams or pieces; a volume needs a density to become grams."""
    kind = kind_of_unit("" if pd.isna(unit) else unit)
    if kind == "pieces":
        return "piece", float(size)
    if kind == "weight":
        return "g", grams(size, unit)
    if kind == "volume" and not density > 0:
        raise ValueError("it is bought by volume and its density is not known.")
    return "g", millilitres(size, "" if pd.isna(unit) else unit) * density


def _oil_costs(formulas: pd.DataFrame, unit_costs: pd.Series) -> pd.Series:
    """Cost of one gram of each formula; missing when one of its oils has no price [money/g]."""
    cost = [unit_costs.get((material, "g"), np.nan) for material in formulas["material"]]
    part = formulas["weight_pct"] / 100 * cost
    return part.groupby(formulas["formula"]).agg(lambda parts: parts.sum(skipna=False))


def _packing_costs(
    scents: pd.DataFrame, packing: pd.DataFrame, density: pd.Series, unit_costs: pd.Series
) -> tuple[pd.Series, list[Problem]]:
    """Cost of the bottle and of all that goes with it, by scent; an amount not given is one piece."""
    problems = []
    costs = {
        line["scent"]: _piece_cost(line["bottle"], 1.0, "piece", density, unit_costs)
        for line in scents.to_dict("records")
    }
    bottle = scents.set_index("scent")["bottle"]
    for line in packing[packing["what"].isin(scents["scent"])].to_dict("records"):
        if line["material"] == bottle[line["what"]]:
            continue  # counted already
        unit, amount = (
            ("piece" if pd.isna(line["unit"]) else line["unit"]),
            (1.0 if pd.isna(line["per_bottle"]) else line["per_bottle"]),
        )
        try:
            costs[line["what"]] += _piece_cost(line["material"], amount, unit, density, unit_costs)
        except ValueError as error:
            problems.append(
                Problem("packing.csv", _row(line), "unit", str(error), "The cost of the bottle is not known.")
            )
            costs[line["what"]] = np.nan
    return pd.Series(costs, dtype=float), problems


def _piece_cost(material: str, amount: float, unit: str, density: pd.Series, unit_costs: pd.Series) -> float:
    if pd.isna(material):
        return 0.0
    kind, size = _amount(amount, unit, density.get(material, np.nan))
    return size * unit_costs.get((material, kind), np.nan)


def _unknown(table: pd.DataFrame, bottle: pd.Series) -> list[Problem]:
    """Say, once for each reason, which scents have no contribution, or one without the bottle in it."""
    price = "scents.csv", "price", "no price is given", "Write the price of one bottle."
    formula = "scents.csv", "formula", "no formula that can be used is given", "Name it here, write it in formulas.csv."
    label = "scents.csv", "label_ml", "no label quantity is given", "Write label_ml or label_fl_oz."
    cost = "packs.csv", "", "one of its materials has no price", "Write what its oils, bottle and packing cost."
    problems, told = [], pd.Series(False, index=table.index)
    for column, (file, where, what, todo) in zip(
        ("label_ml", "price", "fill_g", "material_cost"), (label, price, formula, cost), strict=True
    ):
        hit = table[column].isna() & ~told
        told |= hit
        if hit.any():
            what = f"what a bottle of {listed(table.loc[hit, 'scent'].tolist())} earns is not known: {what}."
            problems.append(Problem(file, 0, where, what, todo, stops=False))
    bare = bottle.isna() & ~told
    if bare.any():
        what = f"the cost of {listed(table.loc[bare, 'scent'].tolist())} is without a bottle: none is named."
        problems.append(
            Problem("scents.csv", 0, "bottle", what, "Name the bottle, unless packing.csv does.", stops=False)
        )
    return problems
