"""What a file is by its bytes: its encoding, or no text at all; and its text in pieces, whatever wrote it."""

import codecs
import io
import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np

from planner.problems import MakerError, Problem
from planner.sales.names import counted
from planner.sales.rows import LONGEST_ROW
from planner.tables import SalesFile

SAMPLE = 1 << 18  # first bytes looked at to find encoding, delimiter and headings
PIECE = 1 << 23  # bytes read at a time
# single-byte encodings that may be meant where a file is not UTF-8, the commonest first
SINGLE_BYTE = ("cp1252", "cp1250", "cp1251", "cp1253", "cp1254", "cp1257", "mac_roman", "cp850", "latin-1")
EVIDENCE = 1 << 16  # bytes of lines with letters outside ASCII that are looked at to tell these apart
# how files that are not text begin
_BINARY = {
    b"PK\x03\x04": "a zip file or a spreadsheet",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet (.xls), or one locked with a password",
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
    where none does, by charset-normalizer. A note says where every line stands in quotes as a whole. Raises
    MakerError where the bytes are no text.
    """
    found = _encoding(file, head, tuple(known))
    if not _is_wrapped(_lines(head, found.name)):
        return found
    what = "has every line in quotes as a whole; they are read without these quotes."
    note = Problem(file.name, 0, "", what, "Nothing to do if all else looks right.", stops=False)
    return found._replace(notes=(*found.notes, note))


def _encoding(file: SalesFile, head: bytes, known: tuple[str, ...]) -> Encoding:
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
    return _utf8_or_single_byte(file, known)


def _utf8_or_single_byte(file: SalesFile, known: tuple[str, ...]) -> Encoding:
    """Look at the whole file: text is UTF-8 unless too many letters outside ASCII are not."""
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
    bad += len(decoder.decode(b"", final=True))  # a letter that the file breaks off in
    notes = []
    if zeros:
        what = f"holds {counted(zeros, 'NUL character')} and is read without: no text has any."
        notes.append(Problem(file.name, 0, "", what, "Nothing to do if all else looks right.", stops=False))
    if not bad:
        return Encoding("utf-8-sig", tuple(notes))
    single, names = _single_byte(b"\n".join(evidence), known)
    names_as_utf8 = _score(b"\n".join(evidence), "utf-8", _known_words(known))
    if good > bad or names_as_utf8 > names or (names_as_utf8 == names and MOST_BAD * good >= bad):
        what = f"is UTF-8 text with {counted(bad, 'byte')} that {'is' if bad == 1 else 'are'} not, read as \ufffd."
        todo = "Lines that name an unknown item for it are set aside; correct them in the file."
        return Encoding("utf-8-sig", (*notes, Problem(file.name, 0, "", what, todo, stops=False)))
    return Encoding(single, tuple(notes))


# bad bytes for each letter in UTF-8: more speak for another encoding. In single-byte text two or more letters that
# happen to be one in UTF-8 (a capital and a sign such as ™, or the two letters Чё) are rarer than one in four
MOST_BAD = 3


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


def _single_byte(evidence: bytes, known: tuple[str, ...]) -> tuple[str, int]:
    """Return the likeliest single-byte encoding, and how many known names and amounts speak for it."""
    readable = [encoding for encoding in SINGLE_BYTE if _reads(evidence, encoding)]
    words = _known_words(known)
    score = {one: _score(evidence, one, words) for one in readable}
    best = max(readable, key=lambda one: score[one])  # the commonest of the best
    if score[best]:
        return best, score[best]
    import charset_normalizer

    found = charset_normalizer.from_bytes(evidence, cp_isolation=list(SINGLE_BYTE[:-1]))
    likely = [match.encoding for match in found if found[0].chaos >= match.chaos] if found else []
    return next((one for one in readable if one in likely or not likely), "latin-1"), 0


def _known_words(known: tuple[str, ...]) -> set[str]:
    return {word for name in known for word in _words(name)}


def _score(evidence: bytes, encoding: str, words: set[str]) -> int:
    text = evidence.decode(encoding, "replace")
    return len(words & _words(text)) + _has_money(text)


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

    Lines that all stand in quotes as a whole are given without these. The last piece ends with a line feed.
    """
    found = _pieces(file, encoding)
    yield from _unwrapped_pieces(found) if _is_wrapped(_lines(first_bytes(file), encoding)) else found


def _pieces(file: SalesFile, encoding: str) -> Iterator[bytes]:
    decoder = io.IncrementalNewlineDecoder(codecs.getincrementaldecoder(encoding)("replace"), translate=True)
    for piece in _bytes(file):
        yield _as_utf8(decoder.decode(piece))
    yield _as_utf8(decoder.decode(b"", final=True) + "\n")


def _as_utf8(text: str) -> bytes:
    """Return the text without NUL and without the mark that some old programs end a file with."""
    return text.replace("\0", "").replace("\x1a", "").encode("utf-8", "replace")


def first_lines(head: bytes, encoding: str) -> list[bytes]:
    """Return the lines of a text's first bytes as `pieces` gives them, the last one only where it is whole."""
    lines = _lines(head, encoding)
    return _unwrapped(b"\n".join(lines)).split(b"\n") if _is_wrapped(lines) else lines


def _lines(head: bytes, encoding: str) -> list[bytes]:
    decoder = io.IncrementalNewlineDecoder(codecs.getincrementaldecoder(encoding)("replace"), translate=True)
    lines = _as_utf8(decoder.decode(head, final=len(head) < SAMPLE)).split(b"\n")
    return lines if len(lines) == 1 or len(head) < SAMPLE else lines[:-1]


_WRAPPED = re.compile(rb'"((?:[^"\n]|"")*+)"')
LOOKED_AT = 20  # lines from the top that tell whether all stand in quotes


def _is_wrapped(lines: list[bytes]) -> bool:
    """Say whether lines are quoted as a whole, each a single cell with the delimiters inside: "a,b,c"."""
    first = [line.strip() for line in lines if line.strip()][:LOOKED_AT]
    inside = [found[1] for line in first if (found := _WRAPPED.fullmatch(line))]
    plain = sum(not re.search(b'[",;\t|]', line) for line in first)  # titles have nothing to be quoted for
    return len(inside) > 1 and len(inside) + plain == len(first) and any(all(c in t for t in inside) for c in b",;\t|")


def _unwrapped(lines: bytes) -> bytes:
    """Return whole lines without the quotes around each; lines that have none around stay as they are."""
    return re.sub(rb'(?m)^[ \t]*"((?:[^"\n]|"")*+)"[ \t]*$', lambda found: found[1].replace(b'""', b'"'), lines)


def _unwrapped_pieces(pieces: Iterable[bytes]) -> Iterator[bytes]:
    rest = b""
    for piece in pieces:
        whole, end, rest = (rest + piece).rpartition(b"\n")
        yield _unwrapped(whole) + end
        if len(rest) > LONGEST_ROW:  # no line: told by whoever reads the pieces
            yield rest
            rest = b""


def lines_in(file: SalesFile) -> int:
    """Return about how many lines a file has below its headings that could not be read; 0 where it is no text."""
    try:
        head = first_bytes(file)
        encoding = text_encoding(file, head).name if not is_spreadsheet(file, head) else ""
    except MakerError:
        return 0
    filled = sum(len(_FILLED.findall(piece)) for piece in pieces(file, encoding)) if encoding else 0
    return max(filled - 1, 0)


_FILLED = re.compile(rb"[^\s,;|][^\n]*")
