"""The lists of the plan as they are read and printed: bench days, orders, what to have, the next market."""

import numpy as np
import pandas as pd

ROUNDING = 1e-9  # sums of grams are not exact

HEADINGS = {
    "ready_on": "for sale from",
    "latest_on": "latest day",
    "slack_days": "slack",
    "minimum_order_missing": "missing to it",
    "expected_sold": "sold on average",
    "oil_cost": "oil",
    "packing_cost": "packing",
    "time_cost": "own time",
}


def bench_list(bench: pd.DataFrame) -> pd.DataFrame:
    """Return the bench days for reading; the day of filling only where it is another one than that of mixing."""
    first = ["batch", "scent", "mix_on"] + ["fill_on"] * bool((bench["fill_on"] != bench["mix_on"]).any())
    return bench[[*first, "ready_on", "latest_on", "slack_days", "bottles", "vessel"]]


def orders_to_place(supplier_orders: pd.DataFrame) -> pd.DataFrame:
    """Return the orders for reading, where each stands behind its name."""
    columns = ["order", "status", "order_by", "lines", "cost", "minimum_order", "minimum_order_missing"]
    return supplier_orders[columns]


def order_lines(order_list: pd.DataFrame) -> pd.DataFrame:
    """Return what to write on each order: order, material, packs, pack (its size with the unit), cost, status."""
    pack = [f"{size:g} {unit}" for size, unit in zip(order_list["pack_size"], order_list["pack_unit"], strict=True)]
    table = order_list.assign(pack=pd.Series(pack, index=order_list.index, dtype="str"))
    return table[["order", "material", "packs", "pack", "cost", "status"]]


def to_have(buying: pd.DataFrame) -> pd.DataFrame:
    """Return each material with what is needed, there and short, up to a whole gram or piece, and where it stands."""
    whole = buying.assign(needed=np.ceil(buying["needed"] - ROUNDING), short=np.ceil(buying["short"] - ROUNDING))
    return whole[["material", "status", "needed", "on_hand", "short", "unit", "packs", "cost"]]


def next_market(packing: pd.DataFrame) -> pd.DataFrame:
    """Return the packing list of the next market: its first day and those that follow it without a break."""
    first = packing[packing["market"] == packing["market"].iloc[0]] if len(packing) else packing
    days = first["day"].drop_duplicates().sort_values(ignore_index=True)
    together = days.diff().fillna(pd.Timedelta(days=1)).le(pd.Timedelta(days=1)).cummin()
    shown = first[first["day"].isin(days[together]) & (first["wanted"] > 0)]
    return shown[["day", "scent", "take", "wanted", "on_hand", "expected_sold"]].reset_index(drop=True)
