"""The same sales under two sources: they count twice, since sources are never merged with each other."""

import numpy as np
import pandas as pd

from planner.plausible.finding import Finding, day, number, some

SAME_LINES = 5  # a day with fewer lines may be alike by chance
SAME_DAYS = 3  # and so may be one or two days
NEARLY_ALL = 0.9  # of all days on which both sold: then days with a line or two count as well
SAME_ORDERS = 2  # order numbers of two shops may meet, hardly twice with day, scent and bottles the same
SAME_SHARE = 0.5  # of the orders of those days; receipts of two tills that begin with 1 each morning meet now and then


def same_orders(sales: pd.DataFrame, accounts: pd.DataFrame) -> list[Finding]:
    """Return pairs of sources that have orders in common: the same number, day, scent and bottles."""
    source = accounts.drop_duplicates("file").set_index("file")["source"]
    if source.nunique() < 2 or not sales["order"].notna().any():
        return []
    sold = sales.loc[(sales["kind"] == "sale") & sales["order"].notna(), ["file", "row", *_SAME]]
    sold = sold.assign(source=sold["file"].map(source))
    shared = sold.drop_duplicates(["source", "order"])["order"]
    lines = sold[sold["order"].isin(shared[shared.duplicated()])].drop_duplicates(["source", *_SAME])
    pairs = lines.merge(lines, on=_SAME, suffixes=("", "_other"))
    pairs = pairs[pairs["source"] < pairs["source_other"]]
    found = []
    for (one, other), common in pairs.groupby(["source", "source_other"]):
        orders = list(common.drop_duplicates(["day", "order"])["order"])
        days = sold[sold["day"].isin(common["day"]) & sold["source"].isin([one, other])]
        most = days.drop_duplicates(["source", "day", "order"]).groupby("source").size().min()
        if len(orders) >= max(SAME_ORDERS, SAME_SHARE * most):
            what = (
                f"{number(len(orders), 'order')} stand in {one} and in {other} with the same day, scents and bottles: "
            )
            where = f"{common['file'].iloc[0]}, row {common['row'].iloc[0]}"
            found.append(_twice(where, what + f"{some(orders)}.", common["bottles"].sum()))
    return found


_SAME = ["order", "day", "scent", "bottles"]


def _twice(where: str, finding: str, bottles: float) -> Finding:
    return Finding(
        "the same in two sources",
        where,
        finding,
        f"If both tell of the same sales, {number(bottles, 'bottle')} count twice: give both exports the same source "
        "in shop.toml, or take one file out.",
    )


def same_in_two_sources(sold: pd.DataFrame, accounts: pd.DataFrame) -> list[Finding]:
    """Return pairs of sources whose days hold the same scents and bottles, line by line."""
    files = accounts.drop_duplicates("file").set_index("file")["source"].reindex(sold["file"].cat.categories)
    if files.nunique() < 2:
        return []
    number_of, sources = pd.factorize(files)
    source = pd.Categorical.from_codes(np.append(number_of, -1)[sold["file"].cat.codes], list(sources))
    mixed = (sold["scent"].cat.codes.to_numpy("int64") + 1) * 1_000_003 + sold["bottles"].to_numpy().astype("int64")
    mixed = (mixed * 2_654_435_761 % 2_147_483_647) ** 2 % 1_073_741_789  # sums of this tell multisets apart
    lines = pd.DataFrame({"source": source, "day": sold["day"].to_numpy(), "mark": mixed})
    lines["bottles"] = sold["bottles"].to_numpy()
    days = lines.groupby(["source", "day"], observed=True).agg(
        lines=("day", "size"), mark=("mark", "sum"), bottles=("bottles", "sum")
    )
    days = days.reset_index()
    pairs = days.merge(days, on="day", suffixes=("", "_other"))
    pairs = pairs[pairs["source"].cat.codes < pairs["source_other"].cat.codes]
    pairs["same"] = (pairs["lines"] == pairs["lines_other"]) & (pairs["mark"] == pairs["mark_other"])
    found = []
    for (one, other), common in pairs.groupby(["source", "source_other"], observed=True):
        nearly_all = common["same"].mean() >= NEARLY_ALL and common["lines"].sum() >= SAME_DAYS * SAME_LINES
        full = common if nearly_all else common[common[["lines", "lines_other"]].min(axis=1) >= SAME_LINES]
        same = full[full["same"]]
        if len(same) >= SAME_DAYS and 2 * len(same) >= len(full):
            found.append(_same_in_two_sources(one, other, same, len(full)))
    return found


def _same_in_two_sources(one: str, other: str, same: pd.DataFrame, common: int) -> Finding:
    days = [day(when) for when in same["day"]]
    what = (
        f"On {len(same):,} of {number(common, 'day')} on which {one} and {other} both sold enough to compare, they "
        "have the same scents and bottles, line for line."
    )
    return _twice(f"{one} and {other}, {some(days)}", what, same["bottles"].sum())
