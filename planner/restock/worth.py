"""What bottles and materials on hand are worth on a day, at cost."""

import numpy as np
import pandas as pd

from planner.restock.needs import PIECE, plain
from planner.tables import STEPS, check


def worth_on_hand(
    on_hand: pd.DataFrame,
    costs: pd.DataFrame,
    material_lots: pd.DataFrame,
    packs: pd.DataFrame,
    materials: pd.DataFrame,
    date: pd.Timestamp,
) -> pd.DataFrame:
    """Return the table worth: bottles on hand at their material cost, materials at the lowest price of a pack today.

    `on_hand` (scent, on_hand) is stock on that day; deliveries received after it are left out. What is past its use-by
    day is worth nothing and is said in `note`. Bottles that still rest are not in it, and neither is the maker's time.
    What has no price has no worth, which is said too.
    """
    cost = costs.drop_duplicates("scent").set_index("scent")["material_cost"]
    bottles = pd.DataFrame(
        {
            "kind": "bottles",
            "what": on_hand["scent"].to_numpy(),
            "amount": on_hand["on_hand"].to_numpy(dtype="float64", na_value=np.nan),
            "unit": "bottles",
            "cost_each": cost.reindex(on_hand["scent"]).to_numpy(dtype="float64", na_value=np.nan),
            "usable": 1.0,
        }
    )
    table = pd.concat([bottles, _materials(material_lots, packs, materials, date)], ignore_index=True)
    table["usable"] = table["amount"].where(table["kind"] == "bottles", table["usable"])
    table["worth"] = table["usable"] * table["cost_each"]
    table = table[table["amount"] != 0]
    notes = [
        _note(*row) for row in zip(table["amount"], table["usable"], table["unit"], table["cost_each"], strict=True)
    ]
    return check(table.assign(date=date, note=pd.Series(notes, index=table.index, dtype="str")), STEPS["worth"])


def _note(amount: float, usable: float, unit: str, cost_each: float) -> str:
    gone = amount - usable
    said = [f"{gone:.0f} {unit} past use-by, worth nothing"] if gone > 0 else []
    said += ["not counted"] if np.isnan(amount) else []
    said += ["no price is known"] if np.isnan(cost_each) else []
    return "; ".join(said)


def _materials(
    material_lots: pd.DataFrame, packs: pd.DataFrame, materials: pd.DataFrame, date: pd.Timestamp
) -> pd.DataFrame:
    """Return what there is of each material, with what of it may still be used."""
    density = materials.drop_duplicates("material").set_index("material")["density_g_per_ml"]
    there = material_lots[material_lots["received"].isna() | (material_lots["received"] <= date)]
    lots = _plain_amounts(there, "on_hand", "on_hand_unit", density)
    lots["usable"] = lots["amount"].where(lots["use_by"].isna() | (lots["use_by"] >= date), 0.0)
    table = lots.groupby(["material", "kind"])[["amount", "usable"]].sum().reset_index()
    offers = _plain_amounts(packs, "pack_size", "pack_unit", density)
    offers = offers[offers["amount"] > 0]
    each = (offers["pack_cost"] / offers["amount"]).groupby([offers["material"], offers["kind"]]).min()
    keys = pd.MultiIndex.from_frame(table[["material", "kind"]])
    table["cost_each"] = each.reindex(keys).to_numpy(dtype="float64") if len(each) else np.nan
    unit = table["kind"].where(table["kind"] != PIECE, "pieces")
    return table.drop(columns=["material", "kind"]).assign(what=table["material"], unit=unit, kind="materials")


def _plain_amounts(table: pd.DataFrame, amount: str, unit: str, density: pd.Series) -> pd.DataFrame:
    """Return the rows whose amount can be read, with amount [g or pieces] and kind (g or piece)."""
    rows = []
    for line in table.to_dict("records"):
        if pd.isna(line[amount]):
            continue
        try:
            written = "" if pd.isna(line[unit]) else str(line[unit])
            size, kind = plain(float(line[amount]), written, density.get(line["material"], np.nan))
        except ValueError:  # said where the batches' needs are worked out
            continue
        rows.append({**line, "amount": size, "kind": kind})
    columns = list(dict.fromkeys([*table.columns, "amount", "kind"]))
    return pd.DataFrame(rows, columns=columns).astype({"amount": "float64"})
