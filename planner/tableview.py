"""A table as people read it: a caption, headings with units and meanings, numbers and days written out."""

import html
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from planner.words import COLUMNS, Column

ABSENT = "–"
UNIT_ENDINGS = ("_g_per_ml", "_ml", "_fl_oz", "_g", "_pct")  # the unit stands below the heading instead
# digits after the point, by unit; others get what tells their values apart, two at most
DIGITS = {"bottles": 0, "batches": 0, "packs": 0, "days": 0, "minutes": 0, "money": 2, "bottles a week": 1}
PERCENT = ("share", "share a year")  # written as percent
ROWS_SHOWN = 200  # more are counted below the table; all are in its CSV file


@dataclass(frozen=True)
class TableView:
    """A table ready to show: as HTML in Lab and in pages, as text elsewhere."""

    html: str
    text: str

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        return {"text/html": self.html, "text/plain": self.text}


def as_html(
    frame: pd.DataFrame,
    caption: str,
    units: Mapping[str, str] | None = None,
    headings: Mapping[str, str] | None = None,
    row_heading: int = 1,
    rows: int = ROWS_SHOWN,
    own_page: bool = False,
) -> TableView:
    """Return the table with a caption, to end a notebook cell with.

    Units and meanings come from planner.words; `units` ({"cost": "EUR"}) and `headings` ({"p50": "middle"}) replace
    or add to them by column. The first `row_heading` columns head their rows. At most `rows` rows are shown; a table
    without rows is one line that says so. On paper an `own_page` table begins a new page, in smaller letters.
    """
    if frame.empty:
        return TableView(f'<p class="quiet">{html.escape(caption)}: none.</p>', f"{caption}: none.")
    shown = frame.head(rows)
    columns = [_column(name, units or {}) for name in shown.columns]
    names = [(headings or {}).get(name) or _words(name) for name in shown.columns]
    cells = [_written(shown[name], column) for name, column in zip(shown.columns, columns, strict=True)]
    heads = "".join(map(_heading, names, columns, shown.columns))
    body = "".join(_row(row, columns, row_heading) for row in zip(*cells, strict=True))
    left = len(frame) - len(shown)
    more = f'<p class="quiet">{left:,} more rows are in the CSV file.</p>' if left else ""
    title = html.escape(caption)
    table = f"<table><caption>{title}</caption><thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>"
    kind = "wide own-page" if own_page else "wide"
    wide = f'<div class="{kind}" role="region" tabindex="0" aria-label="{title}">{table}</div>{more}'
    text = pd.DataFrame(dict(zip(names, cells, strict=True))).to_string(index=False)
    return TableView(wide, f"{caption}\n{text}")


def _column(name: str, units: Mapping[str, str]) -> Column:
    known = COLUMNS.get(name, Column("", "", ""))
    return Column(known.kind, units[name], known.meaning) if name in units else known


def _words(name: str) -> str:
    """Return a column's name as words, without the unit at its end.

    >>> _words("fragrance_oil_g"), _words("expected_sold")
    ('fragrance oil', 'expected sold')
    """
    ending = next((ending for ending in UNIT_ENDINGS if name.endswith(ending) and name != ending), "")
    return name.removesuffix(ending).replace("_", " ")


def _heading(words: str, column: Column, name: str) -> str:
    unit = "%" if column.unit in PERCENT else "" if words.endswith(column.unit) else column.unit
    below = f'<br><span class="unit">{html.escape(unit)}</span>' if unit else ""
    meaning = f' title="{html.escape(column.meaning)}"' if column.meaning else ""
    return f'<th scope="col"{_kind(column)}{meaning}>{html.escape(words)}{below}</th>'


def _kind(column: Column) -> str:
    kind = {"number": "number", "count": "number", "date": "day"}.get(column.kind)
    return f' class="{kind}"' if kind else ""


def _row(cells: Sequence[str], columns: Sequence[Column], row_heading: int) -> str:
    texts = [html.escape(cell).replace("\n", "<br>") for cell in cells]
    parts = [
        f'<th scope="row"{_kind(column)}>{text}</th>' if place < row_heading else f"<td{_kind(column)}>{text}</td>"
        for place, (text, column) in enumerate(zip(texts, columns, strict=True))
    ]
    return f"<tr>{''.join(parts)}</tr>"


def _written(values: pd.Series, column: Column) -> list[str]:
    """Return a column's values as text, all numbers of one column with the same digits."""
    if pd.api.types.is_datetime64_any_dtype(values):
        return [ABSENT if pd.isna(day) else f"{day:%a} {day.day} {day:%b %Y}" for day in values]
    if pd.api.types.is_bool_dtype(values):
        return [ABSENT if pd.isna(value) else "yes" if value else "no" for value in values]
    if not pd.api.types.is_numeric_dtype(values):
        return [ABSENT if pd.isna(value) else str(value) for value in values]
    numbers = pd.to_numeric(values).astype("float64") * (100 if column.unit in PERCENT else 1)
    digits = _digits(numbers, column, COLUMNS[str(values.name)].unit if values.name in COLUMNS else column.unit)
    return [
        ABSENT if pd.isna(number) else f"{round(number, digits) + 0.0:,.{digits}f}".replace("-", "−")
        for number in numbers
    ]


def _digits(numbers: pd.Series, column: Column, unit: str) -> int:
    if column.kind == "count":
        return 0
    if column.unit in PERCENT:
        return 1
    known = numbers.dropna()
    fewest = 0 if (known.round(0) == known).all() else 1 if (known.round(1) == known).all() else 2
    return DIGITS.get(unit, fewest)
