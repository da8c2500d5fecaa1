"""Small tables for reading and drawing, made from the tables between the steps; nothing here is decided or fitted."""

from collections.abc import Mapping, Sequence

import pandas as pd

from planner.problems import Problem, problem_table
from planner.settings import Settings
from planner.tables import FILES
from planner.words import COLUMNS

ALL_SCENTS = "all scents"
UNKNOWN_ITEM = "is not in scents.csv."  # how the reason of a line with an unknown item ends
MOST_DRAWN = 40  # scents in one picture; more cannot be read, and all are in the tables


def weekly_sales(sales: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return bottles sold per week and channel, weeks without a sale as zero: week, channel, bottles, gap, cut_off.

    `gap` marks a week without a sale in a channel that is open every day, `cut_off` a last week that is not over.
    """
    sold = sales[sales["kind"] == "sale"]
    week = (sold["day"] - pd.to_timedelta(sold["day"].dt.day_of_week, unit="D")).rename("week")
    wide = sold.pivot_table(index=week, columns="channel", values="bottles", aggfunc="sum")
    if len(wide):
        wide = wide.reindex(pd.date_range(wide.index.min(), wide.index.max(), freq="7D", name="week"))
    weekly = wide.fillna(0).rename_axis(columns="channel").stack().rename("bottles").reset_index()
    steady = [name for name in weekly["channel"].unique() if settings.channel(name).open == "every day"]
    weekly["gap"] = (weekly["bottles"] == 0) & weekly["channel"].isin(steady)
    ends = weekly["week"] + pd.Timedelta(days=6)
    return weekly.assign(cut_off=ends > sales["day"].max() if len(weekly) else False)


def lines_of_files(accounts: pd.DataFrame) -> pd.DataFrame:
    """Return what became of the lines of each file, and the days it covers."""
    return accounts[["file", "lines_read", "counted", "merged", "set_aside", "first_day", "last_day"]]


def bottles_of_files(accounts: pd.DataFrame) -> pd.DataFrame:
    """Return the bottles of each file by kind of line."""
    return accounts[["file", "source", "sold", "refunded", "written_off", "free"]]


def reasons(set_aside: pd.DataFrame) -> pd.DataFrame:
    """Return how many lines were set aside for each reason, most first: reason, lines, first (file and row)."""
    first = set_aside["file"] + ", row " + set_aside["row"].astype("str")
    grouped = set_aside.assign(first=first).groupby("reason")["first"].agg(["size", "first"])
    return grouped.reset_index().set_axis(["reason", "lines", "first"], axis=1).sort_values("lines", ascending=False)


def unknown_names(set_aside: pd.DataFrame) -> pd.DataFrame:
    """Return items that are no scent of the shop, most bottles at stake first: item, lines, bottles."""
    unknown = set_aside[set_aside["reason"].str.endswith(UNKNOWN_ITEM)]
    table = unknown.groupby("scent").agg(lines=("row", "size"), bottles=("bottles", "sum")).reset_index()
    table = table.rename(columns={"scent": "item"}).sort_values("bottles", ascending=False, kind="stable")
    return table.reset_index(drop=True)


def to_put_right(problems: Sequence[Problem]) -> pd.DataFrame:
    """Return problems as a list to work through, what stops first: file, row, column, what, what_to_do."""
    table = problem_table(sorted(problems, key=lambda problem: not problem.stops))
    table["row"] = table["row"].astype("Int64").replace(0, pd.NA)
    return table.rename(columns={"todo": "what_to_do"}).drop(columns="stops")


def with_last_year(forecast: pd.DataFrame, demand: pd.DataFrame) -> pd.DataFrame:
    """Return the forecast of all scents by week beside what the same weeks sold a year (52 weeks) before: last_year."""
    family = forecast[(forecast["scent"] == ALL_SCENTS) & forecast["week"].notna()]
    sold = demand[demand["channel"] == "all"].groupby("week")["bottles"].sum(min_count=1)
    before = family["week"] - pd.Timedelta(weeks=52)
    return family.assign(last_year=before.map(sold.astype("float64")))


def family_total(forecast: pd.DataFrame) -> pd.DataFrame:
    """Return the forecast of all scents together over the whole time: one row."""
    total = forecast[forecast["week"].isna() & (forecast["scent"] == ALL_SCENTS)]
    return total.drop(columns=["week", "channel"]).reset_index(drop=True)


def season_totals(forecast: pd.DataFrame) -> pd.DataFrame:
    """Return the forecast of the whole season per scent, most wanted first."""
    totals = forecast[forecast["week"].isna() & (forecast["scent"] != ALL_SCENTS)]
    return totals.sort_values("mean", ascending=False, kind="stable").reset_index(drop=True)


def stock_and_batches(plan: pd.DataFrame, scents: Sequence[str]) -> pd.DataFrame:
    """Return bottles on hand and each planned batch of these scents end to end: scent, part, first, last. [bottles]"""
    rows = []
    for line in plan[plan["scent"].isin(scents)].itertuples(index=False):
        rows.append((line.scent, "on hand", 0.0, float(line.on_hand)))
        each = line.bottles / line.batches if line.batches else 0.0
        for batch in range(int(line.batches)):
            start = line.on_hand + batch * each
            rows.append((line.scent, "to make", start, start + each))
    return pd.DataFrame(rows, columns=["scent", "part", "first", "last"])


def plan_limits(facts: pd.DataFrame) -> pd.DataFrame:
    """Return the plan's limits with each amount written out with its unit: what, amount."""
    known = facts[facts["value"].notna()]
    digits = [0 if value == round(value) else 1 if abs(value) >= 10 else 2 for value in known["value"]]
    amounts = [
        f"{value:,.{places}f} {unit}" for value, unit, places in zip(known["value"], known["unit"], digits, strict=True)
    ]
    return pd.DataFrame({"what": known["what"].to_numpy(), "amount": pd.Series(amounts, dtype="str")})


def batch_list(batches: pd.DataFrame) -> pd.DataFrame:
    """Return what stands on the list of batches to weigh; the rest is the same for every batch of a scent."""
    return batches[
        ["batch", "scent", "bottles", "fill_g", "oil_g", "oil_ml", "vessel", "load_pct", "limit_pct", "binds"]
    ]


PARTS = {  # column of losses: what people call it, in the order of the bar
    "sellable_g": "in bottles to sell, at the label",
    "giveaway_g": "filled above the label",
    "retained_g": "retained samples",
    "rejected_g": "rejected bottles",
    "residue_g": "left in the vessel",
    "unexplained_g": "unexplained",
}


def oil_parts(losses: pd.DataFrame) -> pd.DataFrame:
    """Return where the weighed oil of each run went: lot, date, part, order, grams, share of the oil weighed.

    An unexplained part below zero (more out than in, within the scales' uncertainty) is drawn as nothing.
    """
    kept_back = losses[["giveaway_g", "rejected_g", "retained_g"]].sum(axis=1)
    wide = losses.assign(sellable_g=losses["filled_g"] - kept_back)
    long = wide.melt(["lot", "date", "weighed_g"], list(PARTS), "column", "grams")
    long["order"] = long["column"].map({name: n for n, name in enumerate(PARTS)})
    long["part"] = long["column"].map(PARTS)
    long["grams"] = long["grams"].clip(lower=0)
    long["share"] = long["grams"] / long["weighed_g"]
    return long.drop(columns=["column", "weighed_g"]).sort_values(["date", "lot", "order"], ignore_index=True)


def loss_by_cause(losses: pd.DataFrame) -> pd.DataFrame:
    """Return grams of oil over all runs by cause, most first, and its share of all oil: cause, grams, share."""
    causes = [name for name in PARTS if name not in ("sellable_g", "retained_g")]
    grams = losses[causes].clip(lower=0).sum().rename(index=PARTS)
    table = pd.DataFrame({"cause": grams.index, "grams": grams.to_numpy()})
    table["share"] = table["grams"] / max(losses["weighed_g"].sum(), 1e-9)
    return table.sort_values("grams", ascending=False, kind="stable", ignore_index=True)


ON_AVERAGE = "all, on average"  # the row of all scents together, divided by how many they are


def past_ranges(ranges: pd.DataFrame) -> pd.DataFrame:
    """Return past forecasts by scent with `season` (when foreseen) and `held` (within the 80 % range).

    The row of all scents together is divided by the number of scents of that season, so that one picture holds both.
    """
    single, family = ranges[ranges["scent"] != ALL_SCENTS], ranges[ranges["scent"] == ALL_SCENTS]
    most = single.groupby("scent")["bottles"].sum().nlargest(MOST_DRAWN).index
    amounts = ["bottles", *(name for name in ranges if name.startswith("p") and name[1:].isdigit())]
    count = family["origin"].map(single.groupby("origin").size())
    family = family.assign(scent=ON_AVERAGE, **{name: family[name] / count for name in amounts})
    drawn = pd.concat([family, single[single["scent"].isin(most)]], ignore_index=True)
    season = "foreseen on " + drawn["origin"].dt.strftime("%d %b %Y")
    return drawn.assign(season=season, held=drawn["bottles"].between(drawn["p10"], drawn["p90"]))


CHECKED = {  # headings of the check on the past
    "pinball": "pinball loss",
    "abs_error": "error of the season",
    "mase": "scaled error of weeks",
    "ratio_to_last_year": "error beside last year's",
    "held_50": "held 50 %",
    "held_80": "held 80 %",
    "held_90": "held 90 %",
    "of": "out of",
    "bias_pct": "too high (or low, −)",
}
CHANGED = {"change_share": "share of all", "most_affected": "most affected"}


UNSOLD = {"bottles": "sold", "unsold": "wanted and not there", "unsold_money": "worth at its price"}
PRICES = {
    "now": "price now",
    "before": "price before",
    "change_share": "change",
    "bottles": "bottles sold at other prices",
}
FEW = 10  # bottles: percents of fewer say nothing


def by_method(summary: pd.DataFrame) -> pd.DataFrame:
    """Return the check's summary for reading: errors by method, percents whole; how often ranges held stands apart."""
    columns = ["method", "pinball", "abs_error", "mase", "ratio_to_last_year", "bias_pct"]
    return summary.assign(bias_pct=summary["bias_pct"].round())[columns]


def held_by_scent(ranges: pd.DataFrame) -> pd.DataFrame:
    """Return how often past ranges held, all scents together first: scent, held_50, held_80, held_90, of, bias_pct."""
    table = ranges[["scent", "bottles", "mean"]].assign(of=1)
    for name, (low, high) in {"held_50": ("p25", "p75"), "held_80": ("p10", "p90"), "held_90": ("p05", "p95")}.items():
        table[name] = ranges["bottles"].between(ranges[low], ranges[high]).astype("int64")
    table = table.groupby("scent", sort=False).sum().reset_index()
    table["bias_pct"] = (100 * (table["mean"] / table["bottles"].where(table["bottles"] >= FEW) - 1)).round()
    table = table[["scent", "held_50", "held_80", "held_90", "of", "bias_pct"]]
    return table.sort_values("scent", key=lambda scent: scent != ALL_SCENTS, kind="stable", ignore_index=True)


SHOWN_UNSOLD = 104  # weeks drawn: two years show both Christmases


def weekly_unsold(unsold: pd.DataFrame) -> pd.DataFrame:
    """Return bottles of all scents by week, latest weeks only: week, part (sold, or wanted and not there), bottles."""
    recent = unsold[unsold["week"] > unsold["week"].max() - pd.Timedelta(weeks=SHOWN_UNSOLD)]
    weeks = recent.groupby("week")[["bottles", "unsold"]].sum()
    weeks = weeks.rename(columns={"bottles": "sold", "unsold": "wanted and not there"}).rename_axis(columns="part")
    return weeks.stack().rename("bottles").reset_index()


def unsold_by_scent(unsold: pd.DataFrame, scents: pd.DataFrame) -> pd.DataFrame:
    """Return the last 52 weeks by scent, most missed first: scent, bottles, unsold, unsold_money (at scents' price)."""
    recent = unsold[unsold["week"] > unsold["week"].max() - pd.Timedelta(weeks=52)]
    table = recent.groupby("scent")[["bottles", "unsold"]].sum().reset_index()
    price = scents.dropna(subset="scent").drop_duplicates("scent").set_index("scent")["price"].astype("float64")
    table["unsold_money"] = table["unsold"] * table["scent"].map(price)
    return table.sort_values("unsold", ascending=False, kind="stable", ignore_index=True)


def folder_contents(tables: Mapping[str, pd.DataFrame], absent: Sequence[str]) -> pd.DataFrame:
    """Return what lies in the maker's folder: file, lines, last_day (the latest day in it), a row is what."""
    rows = []
    for name, table in tables.items():
        if name not in absent:
            days = table["date"] if "date" in table else pd.Series(dtype="datetime64[us]")
            rows.append((f"{name}.csv", len(table), days.max(), FILES[name].row))
    return pd.DataFrame(rows, columns=["file", "lines", "last_day", "a_row_is"])


def signals(runs: pd.DataFrame) -> pd.DataFrame:
    """Return the runs that stand out: lot, date, loss_share, signal."""
    return runs.loc[runs["signal"] != "", ["lot", "date", "loss_share", "signal"]].reset_index(drop=True)


def money_units(table: pd.DataFrame, settings: Settings) -> dict[str, str]:
    """Return the unit of each column that holds money, or money per something, in the shop's currency."""
    units = {name: COLUMNS[name].unit for name in table if name in COLUMNS}
    return {name: settings.currency + unit[5:] for name, unit in units.items() if unit.split(" ")[0] == "money"}
