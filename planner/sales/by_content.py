"""What a column holds, told by its cells where its heading is in no list: days, names of scents, bottles, months."""

import re
from collections.abc import Collection, Iterator

import pandas as pd

from planner.sales.names import folded_name
from planner.settings import DATE_ORDERS
from planner.values import days, month_heading, numbers

ROWS = 60  # rows below the headings that are looked at
MOST = 0.8  # share of the filled cells that must be days or whole numbers: some rows are totals or comments
SCENTS = 0.3  # share of the filled cells that must be known names: exports hold postage and gift wrap as well
FEW_BOTTLES = 1000  # larger numbers in most cells are codes, not bottles on a line


def months_in(cells: list[str]) -> int:
    """Return how many of the headings are months, as in a sheet with an item in each row and a month in each column."""
    return sum(month_heading(cell) is not None for cell in cells)


def by_content(
    headings: list[str], rows: list[list[str]], taken: Collection[str], known: Collection[str]
) -> Iterator[tuple[str, str]]:
    """Give the names day, item and bottles, each with the heading of the one column that holds it, if one does.

    Columns `taken` by their headings are left out. `known` are the shop's names of scents and gift sets, folded.
    """
    columns = {
        heading: text
        for at, heading in enumerate(headings)
        if heading.strip() and heading not in taken and len(text := _filled(rows, at))
    }
    for name, likely in (("day", _days), ("item", lambda text: _share(text.map(folded_name).isin(known), SCENTS))):
        share = {heading: likely(text) for heading, text in columns.items()}
        best = max(share, key=lambda heading: share[heading], default="")
        if best and share[best]:
            columns.pop(best)
            yield name, best
    fits = {heading: found for heading, text in columns.items() if (found := _bottles(text)) is not None}
    fits = {heading: found for heading, found in fits.items() if not _MONEY.search(heading.casefold())} or fits
    if fits:
        yield "bottles", min(fits, key=lambda heading: fits[heading])


def look_like_sales(rows: list[list[str]]) -> bool:
    """Say whether rows hold a column of days and one of numbers: a sheet that was left out may be one of sales."""
    columns = [_filled(rows, at) for at in range(max(map(len, rows), default=0))]
    columns = [text for text in columns if len(text) > FEWEST_DAYS]
    dated = [max(days(text, order)[0].notna().sum() for order in DATE_ORDERS) >= FEWEST_DAYS for text in columns]
    counts = [numbers(text, ".")[0].notna().sum() >= FEWEST_DAYS for text in columns]
    return any(dated) and any(number and not day for number, day in zip(counts, dated, strict=True))


FEWEST_DAYS = 2  # a cover sheet has the day it was printed


_MONEY = re.compile("fee|amount|price|total|cost|tax|vat|paid|discount|each|preis|betrag|summe|prix|montant|precio")


def _filled(rows: list[list[str]], at: int) -> pd.Series:
    cells = [row[at].strip() for row in rows[:ROWS] if at < len(row)]
    return pd.Series([cell for cell in cells if cell], dtype="str")


def _share(fits: pd.Series, least: float) -> float:
    """Return the share of cells that fit, 0 where it is less than the least."""
    return float(fits.mean()) if fits.mean() >= least else 0.0


def _days(text: pd.Series) -> float:
    return max(_share(days(text, order)[0].notna(), MOST) for order in DATE_ORDERS)


def _bottles(text: pd.Series) -> float | None:
    """Return the middle number where nearly all are whole and few, and one comes twice; None where they are not."""
    values = numbers(text, ".")[0]
    whole = (values % 1 == 0) & (values.abs() <= FEW_BOTTLES)
    return (
        float(values.abs().median()) if _share(whole, MOST) and (values.duplicated().any() or len(values) < 4) else None
    )
