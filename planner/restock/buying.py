"""Buying: what the batches need beyond what is on hand, in whole packs, and by when to order it."""

from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.restock.hand import cover_uses
from planner.restock.needs import PIECE, material_needs, plain
from planner.restock.packs import Purchase, choose_packs
from planner.restock.suppliers import Orders, place_orders
from planner.settings import Settings
from planner.tables import STEPS, check, empty

SPARE_PCT = 3.0  # of what is counted in pieces, for what breaks or is lost; common practice, no source
ROUNDING = 1e-9  # sums of grams are not exact [g]
LATE, NO_PACK, TO_ORDER, ENOUGH = range(4)  # the order of the list


class Buying(NamedTuple):
    """What to have for the plan, the orders for it, and what stands in the way."""

    buying: pd.DataFrame
    orders: Orders
    problems: list[Problem]


class _Stock(NamedTuple):
    packs: pd.DataFrame  # material, supplier, amount, unit, pack_cost, lead_days, minimum_order
    lots: pd.DataFrame  # material, amount, unit, use_by


class _Line(NamedTuple):
    """One material to have: its row of the table, the packs chosen for it, and what is wrong."""

    row: dict[str, Any]
    chosen: list[dict[str, Any]]
    problems: list[Problem]


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
    more: pd.DataFrame | None = None,
) -> Buying:
    """List every material the batches of the table bench need, and buy what is short of it.

    needed = what the batches use (`more` needs, of gift sets, come on top: material, amount, unit, used_on) and, of
    pieces, spare_pct more (materials.csv, else 3 %); on_hand = material lots not past use_by at the first use; short =
    what they do not cover on the day it is used; all in `unit`, g or pieces. Bought are whole packs of one supplier, of
    those that can still arrive the cheapest in all. needed_on = the first day the material on hand does not suffice;
    order_by = that day less the supplier's lead days, less 2 days (our choice; fewer where no more are left). `status`
    says it in words. First stands what can no longer arrive in time, then what nobody offers, then the rest by
    order_by; what need not be bought comes last.
    """
    nothing = Buying(empty(STEPS["buying"]), place_orders([], packs, settings, today), [])
    if bench.empty and (more is None or more.empty):
        return nothing
    density = materials.drop_duplicates("material").set_index("material")["density_g_per_ml"]
    spare = materials.drop_duplicates("material").set_index("material")["spare_pct"]
    needs, problems = material_needs(bench, scents, blends, formulas, packing, overage, density)
    needs = needs if more is None or more.empty else pd.concat([needs, more], ignore_index=True)
    if needs.empty:
        told = [_no_needs(), *(problem for problem in problems if problem.file != "formulas.csv")]
        return nothing._replace(problems=told)
    pack_table, wrong = _plain_table(packs, "packs.csv", "pack_size", "pack_unit", density)
    lot_table, wrong_lots = _plain_table(material_lots, "material_lots.csv", "on_hand", "on_hand_unit", density)
    stock = _Stock(pack_table[pack_table["amount"] > 0], lot_table)
    lines = []
    for (material, unit), part in needs.groupby(["material", "unit"], sort=False):
        share = _spare(spare.get(material, np.nan), str(unit))
        uses = part.assign(amount=part["amount"] * (1 + share))
        lines.append(_line(str(material), str(unit), uses, stock, today))
    orders = place_orders([pack for line in lines for pack in line.chosen], packs, settings, today)
    problems += [problem for line in lines for problem in line.problems]
    return Buying(_table(lines), orders, problems + wrong + wrong_lots + orders.problems)


def _table(lines: list[_Line]) -> pd.DataFrame:
    """Return the table buying; a material used in grams and in pieces keeps the row that is to be bought first."""
    table = pd.DataFrame([line.row for line in lines])
    table = table.sort_values(["group", "order_by", "material"], ignore_index=True).drop_duplicates("material")
    return check(table, STEPS["buying"])


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


def _line(material: str, unit: str, uses: pd.DataFrame, stock: _Stock, today: pd.Timestamp) -> _Line:
    """Return what there is to say of one material in one unit."""
    cover = cover_uses(uses, stock.lots[(stock.lots["material"] == material) & (stock.lots["unit"] == unit)])
    needed, short = float(uses["amount"].sum()), cover.short
    if unit == PIECE:
        needed, short = float(np.ceil(needed - ROUNDING)), float(np.ceil(short - ROUNDING))
    row: dict[str, Any] = {"material": material, "needed": needed, "on_hand": cover.on_hand, "short": short}
    row |= {"unit": "pieces" if unit == PIECE else "g", "needed_on": cover.needed_on, "supplier": None}
    row |= {"packs": 0, "cost": 0.0, "order_by": pd.NaT, "arrives_by": pd.NaT}
    problems = [_expired(row, cover.expired)] if cover.expired > 0 else []
    if short <= ROUNDING:
        return _Line(row | {"short": 0.0, "group": ENOUGH, "status": "enough on hand"}, [], problems)
    offers = stock.packs[(stock.packs["material"] == material) & (stock.packs["unit"] == unit)]
    bought = choose_packs(offers.reset_index(drop=True), short, cover.needed_on, today)
    if bought is None:
        row |= {"packs": pd.NA, "cost": np.nan, "group": NO_PACK}
        status = f"no pack of it is listed; needed on {_day(cover.needed_on)}"
        return _Line(row | {"status": status}, [], [*problems, _no_pack(row)])
    late = [_late(row, bought, today)] if bought.late else []
    return _Line(*_bought(row, bought, offers.reset_index(drop=True), today), problems + late)


def _bought(
    row: dict[str, Any], bought: Purchase, offers: pd.DataFrame, today: pd.Timestamp
) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return the material's row with what is bought, and a row for each size of pack, as place_orders takes them."""
    lead = pd.Timedelta(days=bought.lead)
    row |= {
        "supplier": bought.supplier,
        "packs": sum(count for _, count in bought.packs),
        "cost": bought.cost,
        "order_by": bought.order_by,
        "arrives_by": bought.order_by + lead,
        "group": LATE if bought.late else TO_ORDER,
        "status": _status(row["needed_on"], bought, today),
    }
    chosen = []
    for place, count in bought.packs:
        pack = offers.loc[place]
        line = {name: row[name] for name in ("supplier", "material", "order_by", "needed_on", "status")}
        line |= {"packs": count, "pack_size": pack["pack_size"], "pack_unit": pack["pack_unit"]}
        own_lead = 0 if pd.isna(pack["lead_days"]) else int(pack["lead_days"])
        chosen.append(line | {"cost": count * pack["pack_cost"], "lead_days": own_lead, "late": bought.late})
    return row, chosen


def _status(needed_on: pd.Timestamp, bought: Purchase, today: pd.Timestamp) -> str:
    if bought.late:
        comes = today + pd.Timedelta(days=bought.lead)
        return f"too late: needed on {_day(needed_on)}, ordered today it comes on {_day(comes)}"
    unknown = "" if bought.lead_known else "; its lead days are not known"
    if bought.order_by == today:
        return f"order today: needed on {_day(needed_on)}{unknown}"
    return f"in time if ordered by {_day(bought.order_by)}{unknown}"


def _day(when: pd.Timestamp) -> str:
    return f"{when:%a} {when.day} {when:%b}"


def _expired(row: dict[str, Any], amount: float) -> Problem:
    what = f"{amount:.0f} {row['unit']} of {row['material']} will be past its use-by day when it is needed."
    todo = "It is not counted. Do not use it; take it out of stock."
    return Problem("material_lots.csv", 0, "use_by", what, todo, stops=False)


def _no_pack(row: dict[str, Any]) -> Problem:
    need = f"{row['short']:.0f} {row['unit']} of {row['material']}"
    what = f"{need} are needed on {row['needed_on']:%Y-%m-%d}, and no pack of it is listed."
    return Problem("packs.csv", 0, "material", what, "Add a pack of it and its cost.")


def _late(row: dict[str, Any], bought: Purchase, today: pd.Timestamp) -> Problem:
    comes = today + pd.Timedelta(days=bought.lead)
    what = (
        f"{row['material']} can no longer arrive in time: it is needed on {row['needed_on']:%Y-%m-%d}, and ordered "
        f"today from {bought.supplier} it comes on {comes:%Y-%m-%d}."
    )
    return Problem("packs.csv", 0, "lead_days", what, "Move the batch, or find it elsewhere.", stops=False)
