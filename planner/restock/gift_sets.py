"""Gift sets: how many will be packed, from how many were sold before, and the boxes and ribbons they need."""

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.restock.needs import PIECE, plain

DAYS = 365
SEASONS = 3  # past years looked at; our choice
ENOUGH = 0.9  # sets in so many of the ways the season may go have their box, which costs little; our choice


def sets_sold(sales: pd.DataFrame, sets: pd.DataFrame) -> pd.DataFrame:
    """Return the gift sets in the sales: set, day, channel, sold.

    In the table sales a set stands as its scents, on one row of its file. Such a row is a set where its scents and
    their bottles are those of one in sets.csv. A set of a single scent cannot be told from its bottles and is left out.
    """
    columns = ["set", "day", "channel", "sold"]
    sold = sales[sales["kind"] == "sale"]
    keys = ["file", "row", "day", "channel"]
    many = sold[sold.groupby(keys, dropna=False)["scent"].transform("nunique") > 1]
    parts = []
    for name, inside in sets.groupby("set"):
        holds = inside.groupby("scent")["bottles"].sum().astype("float64")
        if len(holds) < 2:
            continue
        own = many.assign(times=many["bottles"].astype("float64") / many["scent"].map(holds))
        rows = own.groupby(keys)["times"].agg(["min", "max", "size", "count"]).reset_index()
        whole = (rows["size"] == len(holds)) & (rows["count"] == len(holds)) & (rows["min"] == rows["max"])
        hit = rows[whole].rename(columns={"min": "sold"})
        parts.append(hit.assign(set=name)[columns])
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)


def sets_wanted(
    sales: pd.DataFrame,
    sets: pd.DataFrame,
    forecast: pd.DataFrame,
    plan: pd.DataFrame,
    today: pd.Timestamp,
    last_day: pd.Timestamp,
) -> pd.DataFrame:
    """Return the gift sets to have boxes for in each week from today to the last day: set, week, sets.

    sets = share of the set's scents that went out as sets in the same days of up to three past years (else in all of
    the last year) × what of these scents may sell: the bottles that suffice in 9 of 10 ways the season may go, no
    more than are on hand and planned. They are spread over weeks as the forecast of these scents is.
    """
    columns = ["set", "week", "sets"]
    gifts = sets_sold(sales, sets)
    may_sell = _may_sell(forecast, plan)
    weekly = forecast[forecast["week"].notna()]
    parts = []
    for name, inside in sets.groupby("set"):
        scents = inside["scent"].unique()
        share = _share(gifts[gifts["set"] == name], sales[sales["scent"].isin(scents)], today, last_day)
        weeks = weekly[weekly["scent"].isin(scents)].groupby("week")["mean"].sum()
        count = share * float(may_sell.reindex(scents).fillna(0).sum())
        if count > 0 and weeks.sum() > 0:
            spread = weeks / weeks.sum() * np.ceil(count - 1e-9)
            parts.append(pd.DataFrame({"set": name, "week": spread.index, "sets": spread.to_numpy()}))
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)


def _may_sell(forecast: pd.DataFrame, plan: pd.DataFrame) -> pd.Series:
    """Bottles of each scent that may sell by the season's end."""
    season = forecast[forecast["week"].isna() & forecast["scent"].isin(plan["scent"])]
    wanted = season.groupby("scent")[f"p{100 * ENOUGH:.0f}"].sum()
    there = plan.set_index("scent")[["bottles", "on_hand"]].astype("float64").fillna(0).sum(axis=1)
    return np.minimum(wanted.reindex(there.index).fillna(0), there)


def _share(gifts: pd.DataFrame, bottles: pd.DataFrame, today: pd.Timestamp, last_day: pd.Timestamp) -> float:
    """Return the sets sold for each bottle of their scents, in the same days of past years, else in the last year."""
    sold = bottles[bottles["kind"] == "sale"]
    windows = [
        (today - pd.Timedelta(days=364 * back), last_day - pd.Timedelta(days=364 * back))
        for back in range(1, SEASONS + 1)
    ]
    for some in (windows, [(today - pd.Timedelta(days=DAYS), today)]):
        all_bottles = sum(float(_between(sold, *window)["bottles"].sum()) for window in some)
        all_sets = sum(float(_between(gifts, *window)["sold"].sum()) for window in some)
        if all_bottles > 0:
            return all_sets / all_bottles
    return 0.0


def _between(table: pd.DataFrame, first: pd.Timestamp, last: pd.Timestamp) -> pd.DataFrame:
    return table[(table["day"] >= first) & (table["day"] <= last)]


def set_needs(
    wanted: pd.DataFrame, packing: pd.DataFrame, density: pd.Series, today: pd.Timestamp
) -> tuple[pd.DataFrame, list[Problem]]:
    """Return what packing.csv lists for the gift sets wanted: batch (missing), material, amount, unit, used_on.

    What goes with each bottle in a set is needed by its batch and not counted here again. It is used on the first day
    of the week, or today in the week that has begun.
    """
    rows, problems = [], []
    for line in packing[packing["what"].isin(wanted["set"])].to_dict("records"):
        each = 1.0 if pd.isna(line["per_bottle"]) else float(line["per_bottle"])
        unit = PIECE if pd.isna(line["unit"]) else str(line["unit"])
        try:
            amount, kind = plain(each, unit, density.get(line["material"], np.nan))
        except ValueError as error:
            todo = f"{line['material']} is not in the buying list."
            problems.append(Problem("packing.csv", int(line.get("row", 0)), "unit", str(error), todo))
            continue
        for use in wanted[wanted["set"] == line["what"]].itertuples():
            rows.append((pd.NA, line["material"], use.sets * amount, kind, max(use.week, today)))
    table = pd.DataFrame(rows, columns=["batch", "material", "amount", "unit", "used_on"])
    return table.astype({"amount": "float64", "used_on": "datetime64[us]"}), problems
