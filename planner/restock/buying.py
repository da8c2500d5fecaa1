"""Buying: what the batches need beyond what is on hand, in whole packs, and by when to order it."""

from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.restock.needs import PIECE, material_needs, plain
from planner.settings import Settings
from planner.tables import STEPS, check, empty

SPARE_PCT = 3.0  # of what is counted in pieces, for what breaks or is lost; common practice, no source
MARGIN_DAYS = 2  # between arrival and first use; our choice
ROUNDING = 1e-9  # sums of grams are not exact [g]


class Buying(NamedTuple):
    """What to have for the plan, and what stands in the way of it."""

    buying: pd.DataFrame
    problems: list[Problem]


class _Stock(NamedTuple):
    density: pd.Series  # by material [g/ml]
    packs: pd.DataFrame  # material, supplier, amount, unit, pack_cost, lead_days, minimum_order
    lots: pd.DataFrame  # material, amount, unit, use_by


def buy(
    bench: pd.DataFrame,
    scents: pd.DataFrame,
    blends: pd.DataFrame,
    formulas: pd.DataFrame,
    packing: pd.DataFrame,
    packs: pd.DataFrame,
    materials: pd.DataFrame,
    material_lots: pd.DataFrame,
    overage: pd.DataFrame,
    settings: Settings,
    today: pd.Timestamp,
) -> Buying:
    """List every material the batches of the table bench need, and buy what is short of it.

    needed = what the batches use and, of pieces, spare_pct more (materials.csv, else 3 %); on_hand = material lots not
    past use_by at the first use; short = the rest; all in `unit`, g or pieces. Bought are whole packs of one size, of
    those that can still arrive the cheapest in all. order_by = the first day the material on hand does not suffice,
    less the supplier's lead days, less 2 days (our choice; fewer where no more are left). Sorted by order_by; what need
    not be bought comes last.
    """
    if bench.empty:
        return Buying(empty(STEPS["buying"]), [])
    density = materials.drop_duplicates("material").set_index("material")["density_g_per_ml"]
    spare = materials.drop_duplicates("material").set_index("material")["spare_pct"]
    needs, problems = material_needs(bench, scents, blends, formulas, packing, overage, density)
    if needs.empty:
        return Buying(
            empty(STEPS["buying"]), [_no_needs(), *(problem for problem in problems if problem.file != "formulas.csv")]
        )
    pack_table, wrong = _plain_table(packs, "packs.csv", "pack_size", "pack_unit", density)
    lot_table, wrong_lots = _plain_table(material_lots, "material_lots.csv", "on_hand", "on_hand_unit", density)
    stock = _Stock(density, pack_table[pack_table["amount"] > 0], lot_table)
    rows = []
    for (material, unit), part in needs.groupby(["material", "unit"], sort=False):
        share = _spare(spare.get(material, np.nan), str(unit))
        row, found = _row(str(material), str(unit), part.assign(amount=part["amount"] * (1 + share)), stock, today)
        rows.append(row)
        problems += found
    table = pd.DataFrame(rows).drop_duplicates("material").sort_values(["order_by", "material"], ignore_index=True)
    problems += wrong + wrong_lots + _below_minimum(table, packs, settings)
    return Buying(check(table, STEPS["buying"]), problems)


def _no_needs() -> Problem:
    what = "what the batches are made of is not known, so nothing can be bought for them."
    todo = "Write the oils of each scent in formulas.csv, and in packing.csv what each bottle takes."
    return Problem("formulas.csv", 0, "", what, todo)


def _spare(spare_pct: float, unit: str) -> float:
    return (SPARE_PCT if unit == PIECE else 0.0) / 100 if pd.isna(spare_pct) else float(spare_pct) / 100


def _plain_table(
    table: pd.DataFrame, file: str, amount: str, unit: str, density: pd.Series
) -> tuple[pd.DataFrame, list[Problem]]:
    """Return the table with its amounts in grams or pieces (columns amount, unit), and lines that cannot be read."""
    rows, problems = [], []
    for line in table.to_dict("records"):
        if pd.isna(line[amount]):
            continue
        try:
            size, kind = plain(
                float(line[amount]),
                "" if pd.isna(line[unit]) else str(line[unit]),
                density.get(line["material"], np.nan),
            )
        except ValueError as error:
            problems.append(Problem(file, int(line.get("row", 0)), unit, str(error), "This line is not counted."))
            continue
        rows.append({**line, "amount": size, "unit": kind})
    columns = list(dict.fromkeys([*table.columns, "amount", "unit"]))
    return pd.DataFrame(rows, columns=columns), problems


def _row(
    material: str, unit: str, part: pd.DataFrame, stock: _Stock, today: pd.Timestamp
) -> tuple[dict[str, Any], list[Problem]]:
    """Return the material's row of the table buying, and what is wrong with it."""
    part = part.sort_values("used_on", kind="stable")
    needed, first_use = float(part["amount"].sum()), part["used_on"].iloc[0]
    lots = stock.lots[(stock.lots["material"] == material) & (stock.lots["unit"] == unit)]
    fresh = lots["use_by"].isna() | (lots["use_by"] >= first_use) if len(lots) else []
    on_hand = float(lots.loc[fresh, "amount"].sum()) if len(lots) else 0.0
    if unit == PIECE:
        needed = float(np.ceil(needed - ROUNDING))
    short = max(needed - on_hand, 0.0)
    row: dict[str, Any] = {"material": material, "supplier": None, "needed": needed, "on_hand": on_hand, "short": short}
    row |= {
        "unit": "pieces" if unit == PIECE else "g",
        "packs": 0,
        "cost": 0.0,
        "order_by": pd.NaT,
        "arrives_by": pd.NaT,
    }
    if short <= ROUNDING:
        return row | {"short": 0.0}, []
    short_on = part.loc[(part["amount"].cumsum() > on_hand + ROUNDING), "used_on"].iloc[:1]
    return _bought(row, unit, short_on.iloc[0] if len(short_on) else part["used_on"].iloc[-1], stock.packs, today)


def _bought(
    row: dict[str, Any], unit: str, short_on: pd.Timestamp, packs: pd.DataFrame, today: pd.Timestamp
) -> tuple[dict[str, Any], list[Problem]]:
    """Choose packs for what is short: in time first, then the lowest cost in all, then the fewest packs."""
    material, short = row["material"], row["short"]
    offers = packs[(packs["material"] == material) & (packs["unit"] == unit)].copy()
    if offers.empty:
        what = (
            f"{short:.0f} {row['unit']} of {material} are needed on {short_on:%Y-%m-%d}, and no pack of it is listed."
        )
        return row | {"packs": pd.NA, "cost": np.nan}, [
            Problem("packs.csv", 0, "material", what, "Add a pack of it and its cost.")
        ]
    offers["count"] = np.ceil(offers["amount"].rdiv(short) - ROUNDING)
    offers["cost"] = offers["count"] * offers["pack_cost"]
    offers["lead"] = offers["lead_days"].astype("float64").fillna(0)
    offers["late"] = short_on - pd.to_timedelta(offers["lead"], unit="D") < today
    best = offers.sort_values(["late", "cost", "count", "supplier"], kind="stable", na_position="last").iloc[0]
    last_moment = short_on - pd.Timedelta(days=best["lead"])
    order_by = last_moment - pd.Timedelta(days=MARGIN_DAYS)
    if last_moment >= today:
        order_by = max(order_by, today)
    row |= {"supplier": best["supplier"], "packs": int(best["count"]), "cost": float(best["cost"])}
    row |= {"order_by": order_by, "arrives_by": order_by + pd.Timedelta(days=best["lead"])}
    return row, [_late(row, best["lead"], short_on, today)] if best["late"] else []


def _late(row: dict[str, Any], lead: float, short_on: pd.Timestamp, today: pd.Timestamp) -> Problem:
    comes = today + pd.Timedelta(days=lead)
    what = (
        f"{row['material']} can no longer arrive in time: it is needed on {short_on:%Y-%m-%d}, and ordered today from "
        f"{row['supplier']} it comes on {comes:%Y-%m-%d}."
    )
    return Problem("packs.csv", 0, "lead_days", what, "Move the batch, or find it elsewhere.", stops=False)


def _below_minimum(table: pd.DataFrame, packs: pd.DataFrame, settings: Settings) -> list[Problem]:
    """Say which suppliers take no order as small as theirs."""
    least = packs.groupby("supplier")["minimum_order"].max()
    orders = table[table["cost"] > 0].groupby("supplier")["cost"].sum()
    problems = []
    for name in [name for name in orders.index if orders[name] < least.get(name, np.nan)]:
        what = (
            f"the order from {name} comes to {orders[name]:.2f} {settings.currency}, its minimum is {least[name]:.2f}."
        )
        todo = "Add to it what will be needed anyway."
        problems.append(Problem("packs.csv", 0, "minimum_order", what, todo, stops=False))
    return problems
