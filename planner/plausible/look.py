"""Look over the sales as a whole: the odd things, most serious first, and few enough to be read."""

import numpy as np
import pandas as pd

from planner.plausible.finding import Finding
from planner.plausible.gaps import cut_off, old_exports, silent_channels, silent_markets
from planner.plausible.lines import after_today, far_in_the_past, out_of_its_time, too_large
from planner.plausible.prices import far_off, monthly_prices, other_prices, price_changes
from planner.plausible.twice import same_in_two_sources, same_orders
from planner.settings import Settings

MOST = 15  # findings in all; a longer list is not read
MOST_OF_A_KIND = 4  # the first ones show what it is; the rest are counted
COLUMNS = list(Finding._fields)
TEXT = ["scent", "channel", "kind", "file"]


def look_over(
    sales: pd.DataFrame,
    accounts: pd.DataFrame,
    scents: pd.DataFrame,
    calendar: pd.DataFrame,
    settings: Settings,
    today: pd.Timestamp,
) -> pd.DataFrame:
    """Return what does not look right in the sales, most serious first: what, where, finding, would_change.

    sales, scents, calendar as planner.tables says; accounts: one row a file with file, source, last_day. Nothing is
    changed or left out for it: each row is a question to the maker, with what it would change in later numbers.
    An empty table says that nothing is odd.
    """
    lines = _lines(sales)
    accounts = accounts.assign(last_day=pd.to_datetime(accounts["last_day"]))
    future = lines["day"] > today
    past, lines = far_in_the_past(lines[~future]), lines[future]
    late, lines = after_today(lines, today), past.lines
    sold = lines[lines["kind"] == "sale"]
    newest = _newest(lines, accounts, today)
    monthly = monthly_prices(sold, settings)
    groups = [  # most serious first
        too_large(sold, lines[lines["kind"] == "refund"]),
        same_in_two_sources(sold, accounts) or same_orders(sales, accounts),
        silent_channels(lines, calendar, settings, newest),
        past.findings + late,
        old_exports(newest, today),
        silent_markets(sold, calendar, settings, newest),
        out_of_its_time(sold, scents),
        other_prices(monthly, scents, newest),
        far_off(sold),
        price_changes(monthly),
        cut_off(lines, accounts, settings, newest, today),
    ]
    found = [finding for group in groups for finding in _first_of(group)]
    return pd.DataFrame(found[:MOST], columns=COLUMNS, dtype="str")


def _lines(sales: pd.DataFrame) -> pd.DataFrame:
    """Return the lines that have a day, names held as categories, and `in_set`: it shares its line with other scents.

    A gift set's scents stand one below the other; their prices are shares of the set's, not prices asked.
    """
    columns = {name: sales[name].astype("category") for name in TEXT}
    lines = pd.DataFrame({**columns, "day": sales["day"].astype("datetime64[us]").to_numpy()}, index=sales.index)
    for name in ("bottles", "unit_price", "row"):
        lines[name] = sales[name].astype("float64")
    lines["bottles"] = lines["bottles"].fillna(0)
    day, file = lines["day"].to_numpy().astype("int64"), lines["file"].cat.codes.to_numpy()
    same = (np.diff(lines["row"]) == 0) & (np.diff(file) == 0) & (np.diff(day) == 0)
    lines["in_set"] = np.append(same, False)[: len(lines)] | np.append(False, same)[: len(lines)]
    return lines[lines["day"].notna() & lines["scent"].notna() & lines["channel"].notna()]


def _newest(lines: pd.DataFrame, accounts: pd.DataFrame, today: pd.Timestamp) -> pd.Timestamp:
    """Return the last day any file covers, today at the latest; NaT without a line."""
    days = [lines["day"].max(), accounts.loc[accounts["last_day"] <= today, "last_day"].max()]
    return max((pd.Timestamp(when) for when in days if not pd.isna(when)), default=pd.NaT)


def _first_of(group: list[Finding]) -> list[Finding]:
    """Return the first few; the last of them says how many more there are."""
    shown = group[:MOST_OF_A_KIND]
    if len(group) > len(shown):
        more = f"And {len(group) - len(shown):,} more like it."
        shown[-1] = shown[-1]._replace(finding=f"{shown[-1].finding} {more}")
    return shown
