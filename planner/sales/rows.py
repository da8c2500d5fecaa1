"""A text becomes blocks of whole rows: quoted line breaks are inside a row, rows that break the table are marked."""

import csv
import io
import re
from collections.abc import Iterable, Iterator
from functools import cache
from typing import NamedTuple

import numpy as np

LONGEST_ROW = 1 << 20  # bytes; a longer row is no row of a table of sales
MOST_LINES = 100  # lines that one quoted cell may run over; a quote that closes later was never meant to
LONGEST_CELL = 2000  # characters of a needed cell; longer text is no name, day, number or order
UNCLOSED, TOO_LONG, LONG_CELL = 1, 2, 3  # faults of a row; 0 is none
FAULTS = {
    UNCLOSED: 'It has a quote (") that is not closed where its cell ends.',
    TOO_LONG: "It has more cells than there are headings.",
    LONG_CELL: f"It has a cell of more than {LONGEST_CELL:,} characters.",
}


class Shape(NamedTuple):
    """What rows look like: what cuts them, how many cells they have, and which of these hold digits or money."""

    delimiter: str
    width: int = 0  # 0: not known yet
    digits: tuple[int, ...] = ()
    money: tuple[int, ...] = ()


class Block(NamedTuple):
    """Whole rows, each ended by a line feed, the number of each row's fault, and the bytes of the longest row."""

    rows: bytes
    faults: np.ndarray
    longest: int


class TooLongError(Exception):
    """A row that is longer than any row of sales, or has no end."""


def blocks(pieces: Iterable[bytes], shape: Shape, lines_above: int) -> Iterator[Block]:
    """Cut pieces of text into blocks of whole rows, without so many lines at the top.

    Raises TooLongError where a row is longer than LONGEST_ROW, so that memory stays bounded.
    """
    rest, above = b"", lines_above
    for piece in pieces:
        data = rest + piece
        while above and (end := data.find(b"\n")) >= 0:
            data, above = data[end + 1 :], above - 1
        block, rest = _cut(data, shape, last=False)
        if len(rest) > LONGEST_ROW:
            if b"\n" not in rest[:LONGEST_ROW]:
                raise TooLongError
            block, rest = _cut(data, shape, last=True)
        yield _bounded(block)
    if rest:
        yield _bounded(_cut(rest + b"\n" * (not rest.endswith(b"\n")), shape, last=True)[0])


def _bounded(block: Block) -> Block:
    if block.longest > LONGEST_ROW:
        raise TooLongError
    return block


def _cut(data: bytes, shape: Shape, last: bool) -> tuple[Block, bytes]:
    """Return the whole rows of the data, and what is left because its row goes on."""
    end = data.rfind(b"\n") + 1
    whole, rest = data[:end], data[end:]
    if b'"' not in whole:
        return _unquoted(whole, shape), rest
    found = _quoted(whole, shape, last)
    if found is None:
        return _slowly(whole, rest, shape, last)
    block, used = found
    return block, data[used:]


def _unquoted(data: bytes, shape: Shape) -> Block:
    """Return rows without quotes."""
    text = np.frombuffer(data, dtype="uint8")
    is_end = text == _LINE_FEED
    marks = np.flatnonzero(is_end | (text == ord(shape.delimiter)))
    count = int(np.count_nonzero(is_end))
    lasts = marks[shape.width - 1 :: shape.width]
    if len(marks) == count * shape.width and is_end[lasts].all():  # as wide as the table, every one
        return Block(data, np.zeros(count, dtype="int8"), _longest(lasts))
    ends = marks[is_end[marks]]
    return Block(data, _faults(data, marks[~is_end[marks]], ends, shape), _longest(ends))


def _longest(ends: np.ndarray) -> int:
    return int(np.diff(ends, prepend=-1).max(initial=1)) - 1


def _faults(data: bytes, delimiters: np.ndarray, ends: np.ndarray, shape: Shape) -> np.ndarray:
    """Return the faults of rows from the places of delimiters and of ends of rows."""
    cells = np.diff(np.searchsorted(delimiters, ends), prepend=0) + 1
    faults = np.where(cells > shape.width, TOO_LONG, 0).astype("int8")
    before = np.frombuffer(data, dtype="uint8")[np.maximum(ends - 1, 0)]
    may_end_blank = np.isin(before, np.frombuffer(b' \t"' + shape.delimiter.encode(), dtype="uint8"))
    starts = np.concatenate([[0], ends + 1])
    for at in np.flatnonzero(may_end_blank & (faults == TOO_LONG)):
        if not _has_more(data[starts[at] : ends[at]], shape):
            faults[at] = 0
    return faults


def _has_more(row: bytes, shape: Shape) -> bool:
    """Say whether a row has more cells than the table, other than blank ones that it ends in."""
    cells = cells_of(row, shape.delimiter)
    return len(cells) > shape.width and (any(map(str.strip, cells[shape.width :])) or _moved(cells, shape))


def _moved(cells: list[str], shape: Shape) -> bool:
    """Say whether a cell with a delimiter and no quotes ("Fig, dark" or 14,50) may have moved those behind it."""
    if any(cell.startswith(" ") and cell.strip() for cell in cells[1:]):
        return True
    behind = [(cells[at].strip(), cells[at + 1].strip()) for at in shape.money if at + 1 < len(cells)]
    return shape.delimiter == "," and any(_WHOLE.fullmatch(one) and _REST.fullmatch(other) for one, other in behind)


_WHOLE = re.compile(r"\D*[0-9]{1,3}")  # what may stand before a comma of cents or thousands, and behind it
_REST = re.compile(r"(?:[0-9]{1,2}|[0-9]{3}(?:\.[0-9]*)?)\D*")


def _quoted(data: bytes, shape: Shape, last: bool) -> tuple[Block, int] | None:
    """Return the rows where every quote opens or closes a cell or is doubled; None where one does not."""
    text = np.frombuffer(data, dtype="uint8")
    quotes = np.flatnonzero(text == _QUOTE)
    opens, closes = quotes[0::2], quotes[1::2]
    before = np.where(opens > 0, text[opens - 1], _LINE_FEED)
    borders = np.array([ord(shape.delimiter), _LINE_FEED, _QUOTE], dtype="uint8")
    if not (np.isin(before, borders).all() and np.isin(text[closes + 1], borders).all()):
        return None
    feeds = np.flatnonzero(text == _LINE_FEED)
    inside = np.searchsorted(quotes, feeds) % 2 == 1
    ends = feeds[~inside]
    if len(quotes) % 2 and last:
        return None
    used = int(ends[-1]) + 1 if len(ends) else 0
    if (inside & (feeds < used)).any() and _swallows(data, ends, feeds[inside & (feeds < used)], shape):
        return None
    delimiters = np.flatnonzero(text[:used] == ord(shape.delimiter))
    delimiters = delimiters[np.searchsorted(quotes, delimiters) % 2 == 0]
    return Block(data[:used], _faults(data, delimiters, ends, shape), _longest(ends)), used


def _swallows(data: bytes, ends: np.ndarray, inside: np.ndarray, shape: Shape) -> bool:
    """Say whether one of the rows with line breaks inside holds what looks like rows."""
    starts = np.concatenate([[0], ends + 1])
    for number in np.unique(np.searchsorted(ends, inside)):
        lines = data[starts[number] : ends[number]].split(b"\n")
        if len(lines) > MOST_LINES or any(_looks_like_a_row(line, shape) for line in lines[1:]):
            return True
    return False


def _looks_like_a_row(line: bytes, shape: Shape) -> bool:
    cells = line.split(shape.delimiter.encode())
    return len(cells) == shape.width and all(re.search(rb"[0-9]", cells[at]) for at in shape.digits)


def _slowly(data: bytes, rest: bytes, shape: Shape, last: bool) -> tuple[Block, bytes]:
    """Return the rows line by line, lines with a quote that is not closed marked and freed of it."""
    lines = data.split(b"\n")[:-1]
    rows: list[bytes] = []
    faults: list[int] = []
    used = 0
    for row, fault, after in whole_rows(lines, shape, last):
        rows.append(row)
        faults.append(fault)
        used = after
    left = b"".join(line + b"\n" for line in lines[used:]) + rest
    longest = max(map(len, rows), default=0)
    return Block(b"".join(row + b"\n" for row in rows), np.array(faults, dtype="int8"), longest), left


def whole_rows(lines: list[bytes], shape: Shape, last: bool = True) -> Iterator[tuple[bytes, int, int]]:
    """Give each row with its fault and the number of lines up to its end; a row that goes on only if it is the last.

    A line with a quote that closes nowhere, or only after what looks like further rows, stands alone, marked and
    without its quotes; the lines below it are rows of their own.
    """
    at = 0
    while at < len(lines):
        end = at + 1 if b'"' not in lines[at] else _row_end(lines, at, shape)
        if end is None and not last and _goes_on(lines, at, shape):
            return
        if end is None:
            yield lines[at].replace(b'"', b""), UNCLOSED, at + 1
        else:
            row = b"\n".join(lines[at:end])
            yield row, TOO_LONG if shape.width and _has_more(row, shape) else 0, end
        at = end or at + 1


def cells_of(row: bytes, delimiter: str) -> list[str]:
    """Return the cells of one whole row."""
    text = row.decode("utf-8", "replace")
    if len(text) > csv.field_size_limit():
        return text.split(delimiter)
    return next(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter), [])


class _Patterns(NamedTuple):
    whole: re.Pattern[bytes]  # a row that ends on its line
    opened: re.Pattern[bytes]  # one whose last cell goes on
    inside: re.Pattern[bytes]  # a line inside a quoted cell
    closed: re.Pattern[bytes]  # the line that ends the cell and the row
    closed_and_opened: re.Pattern[bytes]  # the line that ends the cell, and opens another that goes on


@cache
def _patterns(delimiter: str) -> _Patterns:
    cut = re.escape(delimiter.encode())
    text = rb'(?:[^"]|"")*+'  # inside quotes
    cell = rb'(?:"' + text + rb'"|(?:[^"\n' + cut + rb"][^\n" + cut + rb"]*+)?)"
    more = rb"(?:" + cut + cell + rb")*+"
    opens = rb"(?:" + cell + cut + rb')*+"' + text
    shapes = (cell + more, opens, text, text + rb'"' + more, text + rb'"' + cut + opens)
    return _Patterns(*map(re.compile, shapes))


def _row_end(lines: list[bytes], at: int, shape: Shape) -> int | None:
    """Return the number of the line after the row, None where no line ends it."""
    patterns = _patterns(shape.delimiter)
    if patterns.whole.fullmatch(lines[at]):
        return at + 1
    if not patterns.opened.fullmatch(lines[at]):
        return None
    for below in range(at + 1, min(at + MOST_LINES, len(lines))):
        line = lines[below]
        if shape.width and _looks_like_a_row(line, shape):
            return None
        if b'"' not in line or patterns.inside.fullmatch(line):
            continue
        if patterns.closed.fullmatch(line):
            return below + 1
        if not patterns.closed_and_opened.fullmatch(line):
            return None
    return None


def _goes_on(lines: list[bytes], at: int, shape: Shape) -> bool:
    """Say whether the row may end in lines that are still to come."""
    patterns = _patterns(shape.delimiter)
    if at + MOST_LINES <= len(lines) or not patterns.opened.fullmatch(lines[at]):
        return False
    below = lines[at + 1 :]
    fits = (patterns.inside, patterns.closed_and_opened)
    return not any(_looks_like_a_row(line, shape) for line in below) and all(
        any(pattern.fullmatch(line) for pattern in fits) for line in below
    )


_LINE_FEED, _QUOTE = ord("\n"), ord('"')
