"""Needs: which material each batch uses, how much of it, and when; all in grams or pieces."""

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.units import grams, kind_of_unit, label_millilitres, millilitres

PIECE = "piece"


def material_needs(
    bench: pd.DataFrame,
    scents: pd.DataFrame,
    blends: pd.DataFrame,
    formulas: pd.DataFrame,
    packing: pd.DataFrame,
    overage: pd.DataFrame,
    density: pd.Series,
) -> tuple[pd.DataFrame, list[Problem]]:
    """Return a row for each batch and material, with amount, unit (g or pieces) and used_on.

    Oil of a batch = bottles × label quantity × density ÷ (1 − share lost) + what is lost whatever its size [g], split
    by weight percent. Each bottle takes its bottle and what packing.csv lists for the scent (one piece where no amount
    is given). Oils are used on the day of mixing, the rest on the day of filling.
    """
    about = scents.drop_duplicates("scent").set_index("scent")
    batches = bench.join(about[["formula", "bottle"]], on="scent")
    batches["label_ml"] = batches["scent"].map(label_millilitres(about["label_ml"], about["label_fl_oz"])).astype(float)
    oils, problems = _oils(batches, blends, formulas, overage)
    things, wrong = _things(batches, packing, density)
    return pd.concat([oils, things], ignore_index=True), problems + wrong


def _oils(
    batches: pd.DataFrame, blends: pd.DataFrame, formulas: pd.DataFrame, overage: pd.DataFrame
) -> tuple[pd.DataFrame, list[Problem]]:
    density = blends.drop_duplicates("formula").set_index("formula")["density_g_per_ml"]
    fill_g = batches["bottles"].astype(float) * batches["label_ml"] * batches["formula"].map(density).astype(float)
    lost = overage.iloc[0]
    whole = batches.assign(oil_g=fill_g / (1 - float(lost["share"])) + float(lost["fixed_g"]))
    rows = whole.merge(formulas[["formula", "material", "weight_pct"]], on="formula", how="inner")
    rows = rows.assign(amount=rows["oil_g"] * rows["weight_pct"] / 100, unit="g", used_on=rows["mix_on"])
    rows = rows[rows["amount"].notna()]
    unknown = sorted(set(batches["scent"]) - set(rows["scent"]))
    problems = [
        Problem(
            "formulas.csv",
            0,
            "",
            f"the oils for {scent} are not known, so they are not in the buying list.",
            "Write its formula.",
        )
        for scent in unknown
    ]
    return rows[["batch", "material", "amount", "unit", "used_on"]], problems


def _things(batches: pd.DataFrame, packing: pd.DataFrame, density: pd.Series) -> tuple[pd.DataFrame, list[Problem]]:
    bottle = (
        batches[["scent", "bottle"]].drop_duplicates().dropna().rename(columns={"scent": "what", "bottle": "material"})
    )
    listed = packing[packing["what"].isin(batches["scent"])]
    each = pd.concat([bottle.assign(per_bottle=np.nan, unit=PIECE), listed], ignore_index=True)
    each = each.drop_duplicates(["what", "material"])  # a bottle that packing.csv lists too counts once
    problems, amounts = [], []
    for line in each.to_dict("records"):
        per_bottle = 1.0 if pd.isna(line["per_bottle"]) else float(line["per_bottle"])
        unit = PIECE if pd.isna(line["unit"]) else str(line["unit"])
        try:
            amounts.append(
                (line["what"], line["material"], *plain(per_bottle, unit, density.get(line["material"], np.nan)))
            )
        except ValueError as error:
            row = 0 if pd.isna(line.get("row")) else int(line["row"])
            problems.append(
                Problem("packing.csv", row, "unit", str(error), f"{line['material']} is not in the buying list.")
            )
    plain_each = pd.DataFrame(amounts, columns=["scent", "material", "each", "unit"])
    rows = batches[["batch", "scent", "bottles", "fill_on"]].merge(plain_each, on="scent")
    rows = rows.assign(amount=rows["bottles"].astype(float) * rows["each"], used_on=rows["fill_on"])
    return rows[["batch", "material", "amount", "unit", "used_on"]], problems


def plain(amount: float, unit: str, density: float) -> tuple[float, str]:
    """Return an amount in grams or pieces.

    Raises ValueError for a unit that is not read and for a volume without a density.

    >>> plain(0.5, "kg", float("nan")), plain(100, "ml", 0.95)
    ((500.0, 'g'), (95.0, 'g'))
    """
    kind = kind_of_unit(unit)
    if kind == "pieces":
        return float(amount), PIECE
    if kind == "volume":
        if not density > 0:
            raise ValueError(f"'{unit}' is a volume, and the density is not known.")
        return round(millilitres(amount, unit) * density, 9), "g"
    return grams(amount, unit), "g"
