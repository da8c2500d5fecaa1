"""Orders: the packs to buy put together by supplier, the smallest order each takes, and the money week by week."""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.settings import Settings
from planner.tables import STEPS, check, empty

TOGETHER_DAYS = 14  # packs due within so many days of a supplier's first go into the same order; our choice
DAY = pd.Timedelta(days=1)


class Orders(NamedTuple):
    """What to order from whom by when, what each order comes to, and what is spent in which week."""

    order_list: pd.DataFrame
    supplier_orders: pd.DataFrame
    money_by_week: pd.DataFrame
    problems: list[Problem]


def place_orders(
    chosen: Sequence[Mapping[str, Any]], packs: pd.DataFrame, settings: Settings, today: pd.Timestamp
) -> Orders:
    """Put the packs to buy into orders.

    `chosen` has a row for each size of pack: supplier, material, packs, pack_size, pack_unit, cost, order_by,
    needed_on, lead_days, late, status. A supplier's packs that fall due within 14 days (our choice) go in one order,
    by the first of their days; an order below the supplier's minimum takes in the next ones too, so that
    minimum_order_missing is left only where all that is to be bought there does not reach it. What is too late is
    ordered today.

    order-list: a row for each size of pack; arrives_by when ordered by order_by. supplier-orders: a row for each order;
    cost is of what has a price. First stand the orders that hold something too late. money-by-week: from this week to
    the last order's; money_left of money_available.
    """
    if not chosen:
        return Orders(empty(STEPS["order-list"]), empty(STEPS["supplier-orders"]), empty(STEPS["money-by-week"]), [])
    lines = pd.DataFrame([dict(line) for line in chosen])
    lines["order_by"] = lines["order_by"].clip(lower=today)
    lines = lines.sort_values(["supplier", "order_by", "material", "pack_size"], kind="stable", ignore_index=True)
    least = packs.groupby("supplier")["minimum_order"].max()
    parts = [_numbered(part, float(least.get(name, np.nan))) for name, part in lines.groupby("supplier", sort=False)]
    lines = pd.concat(parts, ignore_index=True)
    lines["order_by"] = lines.groupby("order")["order_by"].transform("min")
    lines["arrives_by"] = lines["order_by"] + pd.to_timedelta(lines["lead_days"], unit="D")
    lines["first"] = ~lines["late"].groupby(lines["order"]).transform("any")
    lines = lines.sort_values(
        ["first", "order_by", "order", "late"], ascending=[True, True, True, False], kind="stable"
    )
    orders = _orders(lines, least, settings)
    money = money_by_week(orders, settings, today)
    return Orders(check(lines, STEPS["order-list"]), orders, money, _below_minimum(orders, settings))


def _numbered(part: pd.DataFrame, minimum: float) -> pd.DataFrame:
    """Return one supplier's packs with the number of the order each is in."""
    numbers: list[int] = []
    number, first, total = 1, part["order_by"].iloc[0], 0.0
    for when, cost in zip(part["order_by"], part["cost"].fillna(0), strict=True):
        if when - first > TOGETHER_DAYS * DAY and not total < minimum:
            number, first, total = number + 1, when, 0.0
        total += cost
        numbers.append(number)
    if number > 1 and total < minimum:  # the last one is too small for itself
        numbers = [min(each, number - 1) for each in numbers]
    return part.assign(order=[f"{name} {each}" for name, each in zip(part["supplier"], numbers, strict=True)])


def _orders(lines: pd.DataFrame, least: pd.Series, settings: Settings) -> pd.DataFrame:
    rows = []
    for order, part in lines.groupby("order", sort=False):
        supplier, cost = part["supplier"].iloc[0], float(part["cost"].sum())
        minimum = float(least.get(supplier, np.nan))
        missing = max(minimum - cost, 0.0) if minimum == minimum else 0.0
        row = {"order": order, "supplier": supplier, "order_by": part["order_by"].iloc[0], "lines": len(part)}
        row |= {"cost": cost, "minimum_order": minimum, "minimum_order_missing": missing}
        rows.append(row | {"status": _status(part, missing, settings)})
    return check(pd.DataFrame(rows), STEPS["supplier-orders"])


def _status(part: pd.DataFrame, missing: float, settings: Settings) -> str:
    late = list(dict.fromkeys(part.loc[part["late"], "material"]))
    said = [f"too late for {', '.join(late)}: ask whether it can come sooner"] if late else []
    if missing > 0:
        said.append(f"{missing:,.2f} {settings.currency} below the smallest order")
    if part["cost"].isna().any():
        said.append("not every price is known")
    return "; ".join(said) or "in time"


def money_by_week(orders: pd.DataFrame, settings: Settings, today: pd.Timestamp) -> pd.DataFrame:
    """Return what the orders (supplier-orders) cost in each week from this one to the last: table money-by-week."""
    if orders.empty:
        return empty(STEPS["money-by-week"])
    monday = orders["order_by"] - pd.to_timedelta(orders["order_by"].dt.day_of_week, unit="D")
    first = today.normalize() - pd.Timedelta(days=today.day_of_week)
    weeks = pd.date_range(first, monday.max(), freq=7 * DAY)
    cost = orders["cost"].groupby(monday).sum().reindex(weeks, fill_value=0.0)
    spent = cost.cumsum()
    money = np.nan if settings.money_available is None else settings.money_available
    table = pd.DataFrame({"week": weeks, "cost": cost.to_numpy(), "spent_so_far": spent.to_numpy()})
    return check(table.assign(money_left=money - table["spent_so_far"]), STEPS["money-by-week"])


def _below_minimum(orders: pd.DataFrame, settings: Settings) -> list[Problem]:
    """Say which suppliers take no order as small as theirs."""
    problems = []
    for line in orders[orders["minimum_order_missing"] > 0].itertuples():
        what = (
            f"the order from {line.supplier} comes to {line.cost:.2f} {settings.currency}, its minimum is "
            f"{line.minimum_order:.2f}: {line.minimum_order_missing:.2f} are missing."
        )
        todo = "Add to it what will be needed anyway."
        problems.append(Problem("packs.csv", 0, "minimum_order", what, todo, stops=False))
    return problems
