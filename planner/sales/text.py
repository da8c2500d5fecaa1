"""What a file is by its first bytes: its encoding, its delimiter, or no text at all."""

import contextlib
import csv
import io
from collections.abc import Iterator
from itertools import islice

from planner.problems import MakerError, Problem
from planner.tables import SalesFile

SAMPLE = 1 << 18  # first bytes looked at to find encoding, delimiter and headings
MOST_ROWS_ABOVE = 50  # rows that may stand above the headings: titles, blank rows, the shop's address
DELIMITERS = (",", ";", "\t", "|")
# how files that are not text begin
_BINARY = {
    b"PK\x03\x04": "a zip file or a spreadsheet",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet (.xls)",
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"\x1f\x8b": "a compressed file",
}
SAVE_AGAIN = "Export it again as .csv or .xlsx, or open it in a spreadsheet and save it as one of these."


def first_bytes(file: SalesFile) -> bytes:
    """Return the first bytes. Raises MakerError where there is nothing but blanks."""
    with file.open() as stream:
        head = stream.read(SAMPLE)
    if not head.strip(b" \t\r\n\0\xef\xbb\xbf\xff\xfe"):
        raise MakerError(Problem(file.name, 0, "", "is empty.", "Export it again, or take it out of sales/."))
    return head


def is_spreadsheet(file: SalesFile, head: bytes) -> bool:
    """Say whether it is to be opened as .xlsx."""
    return file.name.lower().endswith((".xlsx", ".xlsm")) and head.startswith(b"PK")


def text_encoding(name: str, head: bytes) -> str:
    """Return the encoding of a text by its first bytes; UTF-8 is only supposed, see `_read_text`.

    Raises MakerError where the bytes are no text.
    """
    for start, what in _BINARY.items():
        if head.startswith(start):
            raise MakerError(Problem(name, 0, "", f"is not text but {what}.", SAVE_AGAIN))
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    even, odd = head[0:2000:2].count(0), head[1:2000:2].count(0)
    half = min(len(head), 2000) / 2
    if max(even, odd) > 0.4 * half:  # Latin letters in UTF-16 have a zero for every other byte
        return "utf-16-le" if odd > even else "utf-16-be"
    controls = sum(byte < 32 and byte not in b"\t\n\r\f\x1a\0" for byte in head[:2000])
    if controls > 0.02 * 2 * half or even + odd > 0.02 * 2 * half:
        raise MakerError(Problem(name, 0, "", "is not text.", SAVE_AGAIN))
    return "utf-8-sig"


def _sample_rows(head: bytes, encoding: str, delimiter: str) -> list[list[str]]:
    """Return the first rows of a text, cut at one delimiter."""
    stream = io.StringIO(head.decode(encoding, errors="replace"), newline="")
    rows: list[list[str]] = []
    with contextlib.suppress(csv.Error):  # a cell without end
        rows.extend(islice(csv.reader(stream, delimiter=delimiter), MOST_ROWS_ABOVE + 1))
    return rows


def text_tables(head: bytes, encoding: str) -> Iterator[tuple[str, list[list[str]]]]:
    """Give each delimiter with the first rows of the text as it cuts them."""
    return ((delimiter, _sample_rows(head, encoding, delimiter)) for delimiter in DELIMITERS)
