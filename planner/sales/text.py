"""What a file is by its bytes: its encoding, or no text at all; and its text in pieces, whatever wrote it."""

import codecs
import io
import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np

from planner.problems import MakerError, Problem
from planner.tables import SalesFile

SAMPLE = 1 << 18  # first bytes looked at to find encoding, delimiter and headings
PIECE = 1 << 23  # bytes read at a time
# single-byte encodings that may be meant where a file is not UTF-8, the commonest first
SINGLE_BYTE = ("cp1252", "cp1250", "cp1251", "cp1253", "cp1254", "cp1257", "mac_roman", "cp850", "latin-1")
EVIDENCE = 1 << 16  # bytes of lines with letters outside ASCII that are looked at to tell these apart
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


class Encoding(NamedTuple):
    """How the bytes of a text are letters, and what was found wrong with them."""

    name: str
    notes: tuple[Problem, ...] = ()


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


def text_encoding(file: SalesFile, head: bytes, known: Iterable[str] = ()) -> Encoding:
    """Return the encoding of a text: by its first bytes, else UTF-8 where the whole file is, else a single-byte one.

    Which single-byte one is told by the `known` names and headings and the money signs that then stand in it, and
    where none does, by charset-normalizer. Raises MakerError where the bytes are no text.
    """
    for start, what in _BINARY.items():
        if head.startswith(start):
            raise MakerError(Problem(file.name, 0, "", f"is not text but {what}.", SAVE_AGAIN))
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return Encoding("utf-16")
    even, odd = head[0:2000:2].count(0), head[1:2000:2].count(0)
    half = min(len(head), 2000) / 2
    if max(even, odd) > 0.4 * half and min(even, odd) < 0.1 * half:  # Latin letters: a zero for every other byte
        return Encoding("utf-16-le" if odd > even else "utf-16-be")
    controls = sum(byte < 32 and byte not in b"\t\n\r\f\x1a\0" for byte in head[:2000])
    if controls > 0.02 * 2 * half or even + odd > 0.3 * 2 * half:
        raise MakerError(Problem(file.name, 0, "", "is not text.", SAVE_AGAIN))
    return _utf8_or_single_byte(file, tuple(known))


def _utf8_or_single_byte(file: SalesFile, known: tuple[str, ...]) -> Encoding:
    """Look at the whole file: text is UTF-8 unless most letters outside ASCII are not."""
    decoder = codecs.getincrementaldecoder("utf-8")("replace")
    good = bad = zeros = 0
    evidence: list[bytes] = []
    for piece in _bytes(file):
        zeros += piece.count(0)
        ends_inside = bool(decoder.getstate()[0])
        if piece.isascii() and not ends_inside:
            continue
        text = decoder.decode(piece)
        wrong = text.count("\ufffd")
        bad += wrong
        good += len(text) - wrong - int(np.count_nonzero(np.frombuffer(piece, dtype="int8") >= 0))
        evidence += _outside_ascii(piece, EVIDENCE - sum(map(len, evidence)))
    notes = []
    if zeros:
        what = f"holds {zeros} NUL characters, which no text has; they are left out."
        notes.append(Problem(file.name, 0, "", what, "Nothing to do if all else looks right.", stops=False))
    if not bad:
        return Encoding("utf-8-sig", tuple(notes))
    if good > bad:
        what = f"is UTF-8 text with {bad} bytes that are not; each is read as \ufffd."
        todo = "Lines that name an unknown item for it are set aside; correct them in the file."
        return Encoding("utf-8-sig", (*notes, Problem(file.name, 0, "", what, todo, stops=False)))
    return Encoding(_single_byte(b"\n".join(evidence), known), tuple(notes))


def _outside_ascii(piece: bytes, most: int) -> list[bytes]:
    """Return lines with letters outside ASCII, up to so many bytes."""
    found: list[bytes] = []
    for line in piece.replace(b"\r", b"\n").split(b"\n") if most > 0 else ():
        if not line.isascii():
            found.append(line[:most])
            most -= len(line)
        if most <= 0:
            break
    return found


def _single_byte(evidence: bytes, known: tuple[str, ...]) -> str:
    readable = [encoding for encoding in SINGLE_BYTE if _reads(evidence, encoding)]
    words = {word for name in known for word in _words(name)}
    score = {one: len(words & _words(evidence.decode(one))) + _has_money(evidence.decode(one)) for one in readable}
    best = max(readable, key=lambda one: score[one])  # the commonest of the best
    if score[best]:
        return best
    import charset_normalizer

    found = charset_normalizer.from_bytes(evidence, cp_isolation=list(SINGLE_BYTE[:-1]))
    likely = [match.encoding for match in found if found[0].chaos >= match.chaos] if found else []
    return next((one for one in readable if one in likely or not likely), "latin-1")


def _has_money(text: str) -> bool:
    """Say whether a euro or pound sign stands at an amount, as it does in the right encoding only."""
    return re.search(r"[0-9] ?[€£]|[€£] ?[0-9]", text) is not None


def _words(text: str) -> set[str]:
    """Return the words with letters outside ASCII, without case."""
    return {word for word in re.findall(r"\w+", text.casefold()) if not word.isascii()}


def _reads(evidence: bytes, encoding: str) -> bool:
    try:
        evidence.decode(encoding)
    except UnicodeDecodeError:
        return False
    return True


def _bytes(file: SalesFile) -> Iterator[bytes]:
    with file.open() as stream:
        while piece := stream.read(PIECE):
            yield piece


def pieces(file: SalesFile, encoding: str) -> Iterator[bytes]:
    """Give the text in pieces as UTF-8, every end of line a line feed; NUL left out, bytes that are no text as U+FFFD.

    The last piece ends with a line feed.
    """
    decoder = io.IncrementalNewlineDecoder(codecs.getincrementaldecoder(encoding)("replace"), translate=True)
    for piece in _bytes(file):
        yield _as_utf8(decoder.decode(piece))
    yield _as_utf8(decoder.decode(b"", final=True) + "\n")


def _as_utf8(text: str) -> bytes:
    """Return the text without NUL and without the mark that some old programs end a file with."""
    return text.replace("\0", "").replace("\x1a", "").encode("utf-8", "replace")


def first_lines(head: bytes, encoding: str) -> list[bytes]:
    """Return the lines of a text's first bytes as `pieces` gives them, the last one only where it is whole."""
    decoder = io.IncrementalNewlineDecoder(codecs.getincrementaldecoder(encoding)("replace"), translate=True)
    lines = _as_utf8(decoder.decode(head, final=len(head) < SAMPLE)).split(b"\n")
    return lines if len(lines) == 1 or len(head) < SAMPLE else lines[:-1]
