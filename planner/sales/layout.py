"""Where the table stands in a file: which row has the headings, one or two rows deep, and what is in which column."""

import difflib
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from planner.problems import MakerError, Problem
from planner.sales.months import months_of, no_months, refuse_repeated
from planner.sales.names import shown
from planner.sales.rows import Shape, cells_of, whole_rows
from planner.settings import Export
from planner.tables import listed

MOST_ROWS_ABOVE = 50  # rows that may stand above the headings: titles, blank rows, the shop's address
DELIMITERS = (",", ";", "\t", "|")


class Part(NamedTuple):
    """The first rows of one sheet, or of a text as one delimiter cuts it."""

    name: str  # the delimiter, or the number of the sheet
    rows: list[list[str]]
    ends: list[int]  # lines of the text up to the end of each row
    title: str = ""  # what the sheet is called, where there are several


@dataclass(frozen=True)
class Layout:
    """Where the table stands in a file."""

    heading_row: int  # as a spreadsheet counts; the lower one of two
    lines_above: int  # lines of the text up to the end of the headings
    headings: tuple[str, ...]
    positions: dict[str, int]  # name in EXPORT_COLUMNS: column, counted from 0
    part: str  # the delimiter of a text, the number of the sheet of a spreadsheet
    width: int  # cells in a row
    months: dict[int, str]  # column that is a month: its first day; only where months stand across
    no_months: tuple[str, ...] = ()  # headings that name neither a month nor a total, with numbers below
    sales_above: tuple[int, ...] = ()  # rows above the headings that look like lines of sales


def folded(text: str) -> str:
    """Return a heading as it is compared: without case and double blanks.

    >>> folded(" Unit  Price")
    'unit price'
    """
    return " ".join(text.casefold().split())


def text_parts(lines: list[bytes]) -> Iterator[Part]:
    """Give the first rows of a text as each delimiter cuts them."""
    for delimiter in DELIMITERS:
        rows: list[list[str]] = []
        ends: list[int] = []
        for row, _, end in whole_rows(lines, Shape(delimiter)):
            if len(rows) > 2 * MOST_ROWS_ABOVE:
                break
            rows.append(cells_of(row, delimiter))
            ends.append(end)
        yield Part(delimiter, rows, ends)


def headings_of(part: Part) -> Iterator[tuple[int, list[str]]]:
    """Give the number of each row that may be the headings and its cells, last the rows taken two by two."""
    rows = part.rows[: MOST_ROWS_ABOVE + 1]
    yield from enumerate(rows, 1)
    for number, (upper, lower) in enumerate(pairwise(rows), 2):
        yield number, _two_deep(upper, lower)


def _two_deep(upper: list[str], lower: list[str]) -> list[str]:
    """Return the headings of two rows: what stands above goes on to the right until the next; "Sold" + "Price"."""
    above = ""
    both = []
    for at in range(max(len(upper), len(lower))):
        above = (upper[at].strip() if at < len(upper) else "") or above
        below = lower[at].strip() if at < len(lower) else ""
        both.append(above if above == below else f"{above} {below}".strip())
    return both


class Missing(NamedTuple):
    """What a part without the headings has of them where it has most: how many, which not, and what else it has."""

    found: int
    missing: list[str]
    seen: list[str]
    in_one_cell: int = 0  # row of which one cell has all headings


def find_layout(name: str, parts: Iterable[Part], export: Export) -> Layout:
    """Return the layout of the first row that has all stated headings, whichever the delimiter.

    Raises MakerError where no row has them, or one stands twice.
    """
    tried: list[Missing] = []
    for part in parts:
        layout = _layout_of(name, part, export)
        if isinstance(layout, Layout):
            return layout
        tried.append(layout)
    raise MakerError(_no_headings(name, export, tried))


def find_layouts(name: str, parts: Iterable[Part], export: Export) -> list[Layout | Missing]:
    """Return the layout of each sheet, or what it misses. Raises MakerError where none has one, or a heading twice."""
    found = [_layout_of(name, part, export) for part in parts]
    missing = [one for one in found if isinstance(one, Missing)]
    if len(missing) == len(found):
        raise MakerError(_no_headings(name, export, missing))
    return found


def _layout_of(name: str, part: Part, export: Export) -> Layout | Missing:
    """Return the layout of a part's first row that has all stated headings, or what is missing where most are."""
    wanted = {column: folded(heading) for column, heading in export.columns.items()}
    nearest = Missing(0, [], [])
    for number, cells in headings_of(part):
        seen = [folded(cell) for cell in cells]
        places = {column: _places(heading, seen) for column, heading in wanted.items()}
        months = months_of(cells, export.language) if export.months_across else {}
        missing = [export.columns[column] for column in wanted if not places[column]]
        missing += ["of a month, like Nov 2025"] if export.months_across and not months else []
        if not missing:
            start = f"on sheet {part.title}, " if part.title else ""
            _refuse_repeated(name, number, places, export, start)
            refuse_repeated(name, number, months, start)
            return _layout(part, number, cells, {column: found[0] for column, found in places.items()}, months)
        found = sum(map(bool, places.values()))
        if found > nearest.found:
            nearest = Missing(found, missing, [cell for cell in cells if cell.strip()])
        if not nearest.found and not nearest.in_one_cell and _in_one_cell(cells, wanted.values()):
            nearest = nearest._replace(in_one_cell=number)
    return nearest


def _in_one_cell(cells: list[str], wanted: Iterable[str]) -> bool:
    """Say whether one cell has all headings, cut by a delimiter."""
    filled = [cell for cell in cells if cell.strip()]
    cut = [{folded(heading.strip('"')) for heading in filled[0].split(by)} for by in DELIMITERS if len(filled) == 1]
    return any(len(headings) > 1 and headings.issuperset(wanted) for headings in cut)


def _places(heading: str, seen: list[str]) -> list[int]:
    """Return the columns that a heading names; "Price #2" is the second that is called Price."""
    places = [at for at, cell in enumerate(seen) if cell == heading]
    numbered = re.fullmatch(r"(.+) ?#([1-9])", heading)
    if places or not numbered:
        return places
    called = [at for at, cell in enumerate(seen) if cell == numbered[1].strip()]
    return called[int(numbered[2]) - 1 : int(numbered[2])]


def _refuse_repeated(name: str, row: int, places: dict[str, list[int]], export: Export, start: str) -> None:
    for column, found in places.items():
        if len(found) > 1:
            heading = export.columns[column]
            what = f"{start}{len(found)} columns are called {heading}, columns {listed([str(at + 1) for at in found])}."
            todo = f'Say which under its [[export]] in shop.toml: {column} = "{heading} #1" is the first of them.'
            raise MakerError(Problem(name, row, heading, what, todo))


def _layout(part: Part, number: int, cells: list[str], positions: dict[str, int], months: dict[int, str]) -> Layout:
    """Return the layout; a table may be wider than its headings where most rows end in the same blank cells."""
    below = [row for row in part.rows[number:] if any(cell.strip() for cell in row)]
    width = len(cells)
    usual, times = next(iter(Counter(map(len, below)).most_common(1)), (0, 0))
    if usual > width and 2 * times > len(below):
        money = [positions[column] for column in ("price", "amount") if column in positions and part.name == ","]
        if not any(cell.strip() for row in below for cell in row[width:]) and not _cents(below, money):
            width = usual
    others = no_months(cells, below, {*positions.values(), *months}) if months else ()
    above = [at for at, row in enumerate(part.rows[: number - 1], 1) if _may_be_a_sale(row, positions, months)]
    end = part.ends[number - 1]
    return Layout(number, end, tuple(cells), positions, part.name, width, months, others, tuple(above))


def _may_be_a_sale(row: list[str], positions: dict[str, int], months: dict[int, str]) -> bool:
    """Say whether a row has an item, a day and a number of bottles where the table has them."""
    cells = {name: row[at].strip() for name, at in positions.items() if at < len(row)}
    bottles = [cells.get("bottles", ""), *(row[at].strip() for at in months if at < len(row))]
    is_dated = bool(months) or re.search("[0-9].*[0-9]", cells.get("day", "")) is not None
    return bool(cells.get("item")) and is_dated and any(re.fullmatch("-?[0-9]{1,4}", text) for text in bottles)


def _cents(rows: list[list[str]], money: list[int]) -> bool:
    """Say whether an unquoted decimal comma may have pushed the cents into the cell behind the price."""
    return any(
        re.fullmatch("[0-9]{1,2}", cell.strip()) for row in rows for at in money for cell in row[at + 1 : at + 2]
    )


def _no_headings(name: str, export: Export, tried: list[Missing]) -> Problem:
    """Return the problem that no part of a file has the headings: which are missing where most are."""
    found, missing, seen, _ = max(tried, key=lambda one: one.found, default=Missing(0, [], []))  # the first of the best
    quoted = next((one.in_one_cell for one in tried if one.in_one_cell), 0)
    if quoted and found < len(export.columns):
        what = "has all its headings in one cell: its lines are not cut into cells."
        todo = "Split the column in a spreadsheet, or export again with quotes around cells and not around whole lines."
        return Problem(name, quoted, "", what, todo)
    if not seen:
        what = f"has no row with the headings {listed(list(export.columns.values()))}."
        return Problem(name, 0, "", what, "Write in shop.toml, under its [[export]], the headings that it has.")
    what = f"has no heading {listed(missing)}. It has {listed([shown(cell) for cell in seen])}."
    near = difflib.get_close_matches(missing[0], seen, 1)
    hint = f"Is {missing[0]} now called {near[0]}? " if near else ""
    return Problem(name, 0, "", what, f"{hint}Change the heading in shop.toml, under its [[export]].")
