"""The bytes of one export become its lines: row by row, only the columns that are needed, all as text."""

import io
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import MakerError, Problem
from planner.sales.by_content import look_like_sales
from planner.sales.layout import (
    MOST_ROWS_ABOVE,
    Layout,
    Missing,
    Part,
    find_layout,
    find_layouts,
    text_parts,
)
from planner.sales.left_out import left_out
from planner.sales.rows import (
    LONG_CELL,
    LONGEST_CELL,
    LONGEST_ROW,
    TOO_LONG,
    UNCLOSED,
    Block,
    Shape,
    TooLongError,
    blocks,
)
from planner.sales.several_sheets import (
    SheetRead,
    day_number_notes,
    not_read,
    refuse_copies,
    row_notes,
    sheets_in_words,
)
from planner.sales.spreadsheet import sheets
from planner.sales.text import SAVE_AGAIN, first_bytes, first_lines, is_spreadsheet, pieces, text_encoding
from planner.sales.totals import names_a_total
from planner.settings import EXPORT_COLUMNS, Export
from planner.tables import SalesFile
from planner.values import without_time


class Reading(NamedTuple):
    """The lines of one file, notes on the file itself, and how it was written, in words.

    lines: row, fault (a number of rows.FAULTS, 0 for none) and the EXPORT_COLUMNS as categories of text.
    """

    lines: pd.DataFrame
    notes: tuple[Problem, ...]
    written: str


def read_lines(file: SalesFile, export: Export, known: Iterable[str] = ()) -> Reading:
    """Return the lines of a file: `row` and one column of text for each of EXPORT_COLUMNS, "" where there is none.

    A line is a row of which a needed cell is filled. Columns are categories, so that a text that comes a million
    times is held once; of days with a time, only the day is held. Where cells may be out of place (a fault of MOVED),
    text in them may be anything, an address too: of it only NOT_KEPT is left. `known` are names that may stand in it:
    they tell which single-byte encoding was meant. Raises MakerError where the file as a whole cannot be read.
    """
    head = first_bytes(file)
    if is_spreadsheet(file, head):
        return _read_sheets(file, export)
    encoding = text_encoding(file, head, (*known, *export.columns.values()))
    layout = find_layout(file.name, text_parts(first_lines(head, encoding.name)), export)
    lines = _as_lines(_read_text(file, encoding.name, layout), layout)
    written = f"{ENCODINGS.get(encoding.name, encoding.name)} text cut at each {CUTS[layout.part]}"
    written += f", headings in row {layout.heading_row}"
    notes = (*encoding.notes, *left_out(file.name, layout))
    return Reading(_unpivoted(_without_moved_text(lines), layout), notes, written)


def _read_sheets(file: SalesFile, export: Export) -> Reading:
    """Return the lines of every sheet that has the headings; rows are counted on from sheet to sheet."""
    book = sheets(file, export.decimal or ".")
    filled = [at for at, rows in enumerate(book.tables) if rows]
    titles = [book.titles[at] if len(filled) > 1 else "" for at in filled]
    parts = [sheet_part(at, book.tables[at], title) for at, title in zip(filled, titles, strict=True)]
    found = find_layouts(file.name, parts, export)
    notes = [*book.notes]
    read: list[SheetRead] = []
    for part, layout in zip(parts, found, strict=True):
        if isinstance(layout, Missing):
            notes.append(not_read(file.name, part.title, layout, export, look_like_sales(book.tables[int(part.name)])))
            continue
        rows, above = book.tables[int(part.name)], read[-1].last if read else 0
        lines = _as_lines([_columns(rows[layout.heading_row :], layout)], layout, above)
        notes += left_out(file.name, layout, above, part.title)
        number = int(part.name) + 1
        read.append(
            SheetRead(part.title, number, layout.heading_row, above, above + len(rows), _unpivoted(lines, layout))
        )
    refuse_copies(file.name, read)
    notes += [*row_notes(file.name, read), *day_number_notes(file.name, read, export.columns.get("day", ""))]
    return Reading(_below_each_other([sheet.lines for sheet in read]), tuple(notes), sheets_in_words(read))


def _below_each_other(tables: list[pd.DataFrame]) -> pd.DataFrame:
    if len(tables) == 1:
        return tables[0]
    joined = pd.concat([table.astype(dict.fromkeys(EXPORT_COLUMNS, "str")) for table in tables], ignore_index=True)
    return joined.astype(dict.fromkeys(EXPORT_COLUMNS, "category"))[["row", "fault", *EXPORT_COLUMNS]]


CUTS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
ENCODINGS = {"utf-8-sig": "UTF-8", "utf-16": "UTF-16", "utf-16-le": "UTF-16", "utf-16-be": "UTF-16"}


def sheet_part(number: int, rows: list[list[str]], title: str = "") -> Part:
    """Return the first rows of a sheet."""
    first = rows[: 2 * MOST_ROWS_ABOVE]
    return Part(str(number), first, list(range(1, len(first) + 1)), title)


def _read_text(file: SalesFile, encoding: str, layout: Layout) -> list[pd.DataFrame]:
    digits = tuple(layout.positions[name] for name in ("day", "bottles") if name in layout.positions)
    money = tuple(layout.positions[name] for name in ("price", "amount") if name in layout.positions)
    shape = Shape(layout.part, layout.width, digits, money)
    try:
        found = blocks(pieces(file, encoding), shape, layout.lines_above)
        return [_parse(block, layout) for block in found if len(block.faults)]
    except TooLongError:
        what = f"has a line of more than {LONGEST_ROW:,} characters, which is no row of sales."
    except pd.errors.ParserError:
        what = "cannot be read as a table of rows and columns."
    raise MakerError(Problem(file.name, 0, "", what, SAVE_AGAIN))


def _parse(block: Block, layout: Layout) -> pd.DataFrame:
    places = _needed(layout)
    as_wide_as_the_table = layout.part * (layout.width - 1) + "\n"  # or pandas takes the first row's width
    frame = pd.read_csv(
        io.BytesIO(as_wide_as_the_table.encode() + block.rows),
        sep=layout.part,
        header=None,
        usecols=places,
        names=range(layout.width),
        dtype="str",
        na_filter=False,
        skip_blank_lines=False,
        lineterminator="\n",
    )
    frame = frame.iloc[1:]
    columns = {at: frame[at] for at in places}
    fault = _shortened(columns, block.faults) if block.longest > LONGEST_CELL else block.faults
    return _categories(columns, layout).assign(fault=fault)


def _columns(rows: Sequence[Sequence[str]], layout: Layout) -> pd.DataFrame:
    places = _needed(layout)
    columns = {at: pd.Series([row[at] if at < len(row) else "" for row in rows], dtype="str") for at in places}
    fault = _shortened(columns, np.zeros(len(rows), dtype="int8"))
    return _categories(columns, layout).assign(fault=fault)


MOVED = (UNCLOSED, TOO_LONG)  # faults by which cells may stand in another column
NOT_KEPT = "…"  # says that there was text


def _without_moved_text(lines: pd.DataFrame) -> pd.DataFrame:
    """Take out the text of rows whose cells may be out of place, but a word for a total; numbers and days stay."""
    moved = np.flatnonzero(lines["fault"].isin(MOVED))
    if not len(moved):
        return lines
    made = {}
    for name in ("item", "order", "status"):
        text = lines[name].astype("str")
        codes, distinct = pd.factorize(text.iloc[moved])
        kept = [one if not one.strip() or names_a_total(one) else NOT_KEPT for one in distinct]
        text.iloc[moved] = np.array(kept, dtype=object)[codes]
        made[name] = text.astype("category")
    return lines.assign(**made)


def _shortened(columns: dict[int, pd.Series], faults: np.ndarray) -> np.ndarray:
    """Keep the beginning only of cells that are too long, and return the faults with those of their rows."""
    for at, text in columns.items():
        is_long = (text.str.len() > LONGEST_CELL).to_numpy()
        if is_long.any():
            columns[at] = text.where(~is_long, text.str.slice(stop=KEPT) + "…")
            faults = np.where(is_long & (faults == 0), LONG_CELL, faults).astype("int8")
    return faults


KEPT = 60  # characters that are kept of a cell that is too long: enough to find it by


def _needed(layout: Layout) -> list[int]:
    return sorted({*layout.positions.values(), *layout.months})


def _categories(columns: dict[int, pd.Series], layout: Layout) -> pd.DataFrame:
    """Return columns of text as categories, days freed of their time."""
    made = {}
    for at, text in columns.items():
        codes, distinct = pd.factorize(text)
        if at == layout.positions.get("day"):
            short, distinct = pd.factorize(pd.Series(without_time(distinct.tolist()), dtype="str"))
            codes = short[codes]
        made[at] = pd.Categorical.from_codes(codes, pd.Index(distinct, dtype="str"))
    return pd.DataFrame(made)


def _as_lines(chunks: list[pd.DataFrame], layout: Layout, above: int = 0) -> pd.DataFrame:
    """Return the lines of a table. above: rows of the sheets before it."""
    count, first = sum(map(len, chunks)), above + layout.heading_row + 1
    fault = np.concatenate([np.zeros(0, dtype="int8"), *(chunk["fault"].to_numpy() for chunk in chunks)])
    lines: dict[str, object] = {
        "row": np.arange(first, first + count, dtype="int32"),
        "fault": fault,
    }
    blank = fault == 0
    places = list(layout.positions.values())
    for name in EXPORT_COLUMNS:
        at = layout.positions.get(name)
        if at is None or not chunks:
            lines[name] = pd.Categorical.from_codes(np.zeros(count, dtype="int8"), pd.Index([""], dtype="str"))
            continue
        joined = united([chunk.pop(at) if places.count(at) == 1 else chunk[at] for chunk in chunks])
        lines[name] = joined
        blank &= _is_blank(joined.categories)[joined.codes]
    for at in layout.months if chunks else ():
        joined = united([chunk[at] for chunk in chunks])
        lines[str(at)] = joined
        blank &= _is_blank(joined.categories)[joined.codes]
    frame = pd.DataFrame(lines, copy=False)
    return frame[~blank].reset_index(drop=True) if blank.any() else frame


def _is_blank(texts: pd.Index) -> np.ndarray:
    """Say which texts are blank, without writing millions of them again."""
    each = texts.to_numpy(dtype=object)
    return np.fromiter((not text or text.isspace() for text in each), dtype="bool", count=len(each))


def united(parts: list[pd.Series]) -> pd.Categorical:
    """Return categories one below the other, without the look-up table that pandas keeps for them: it is larger."""
    joined = pd.api.types.union_categoricals(parts)
    return pd.Categorical.from_codes(joined.codes, pd.Index(joined.categories.to_numpy(), dtype="str"))


def _unpivoted(lines: pd.DataFrame, layout: Layout) -> pd.DataFrame:
    """Return one line for each filled cell under a month, its day the first of the month; other tables as they are."""
    if not layout.months or lines.empty:
        return lines
    parts = []
    for at, day in layout.months.items():
        cells = lines[str(at)].astype("str").str.strip()
        part = lines[["row", "fault", *EXPORT_COLUMNS]].assign(day=day, bottles=cells)
        parts.append(part[~cells.isin(_NOTHING)])
    joined = pd.concat(parts).sort_values(["row", "day"], kind="stable", ignore_index=True)
    return joined.astype(dict.fromkeys(EXPORT_COLUMNS, "str")).astype(dict.fromkeys(EXPORT_COLUMNS, "category"))


_NOTHING = ["", "0", "-", "–", "0.0", "0,0", "0.00", "0,00"]  # what stands in a month without sales
