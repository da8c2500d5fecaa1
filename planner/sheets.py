"""One of the maker's own files, .csv or .xlsx, as a table of text: nothing is interpreted yet."""

import io

import pandas as pd

from planner.problems import MakerError, Problem

# tried in this order; the last reads any byte
ENCODINGS = ("utf-8-sig", "cp1252", "latin-1")
DELIMITERS = (",", ";", "\t")


def read_sheet(name: str, data: bytes) -> pd.DataFrame:
    """Return the file as text cells with its headings as columns and `row` as a spreadsheet counts (header 1).

    Blank rows are dropped. Raises MakerError for a file that is not a table at all.
    """
    try:
        frame = _excel(data) if name.endswith(".xlsx") else _delimited(data)
    except (ValueError, OSError, KeyError, pd.errors.ParserError) as error:
        reason = str(error).splitlines()[0].rstrip(".")
        raise MakerError(
            Problem(name, 0, "", f"cannot be read as a table ({reason}).", "Save it again as CSV.")
        ) from None
    frame.columns = [str(heading).strip() for heading in frame.columns]
    frame = frame.map(str.strip)
    filled = (frame != "").any(axis=1)
    return frame.assign(row=range(2, len(frame) + 2))[filled].reset_index(drop=True)


def _excel(data: bytes) -> pd.DataFrame:
    import zipfile

    try:
        frame = pd.read_excel(io.BytesIO(data), dtype=str, keep_default_na=False, engine="openpyxl")
    except zipfile.BadZipFile:
        raise ValueError("it is not an .xlsx file inside") from None
    # openpyxl gives a day as midnight of that day
    return frame.map(lambda cell: cell.removesuffix(" 00:00:00"))


def _delimited(data: bytes) -> pd.DataFrame:
    if b"\0" in data:
        raise ValueError("it holds bytes that no text has")
    text = _decoded(data)
    if not text.strip():
        raise ValueError("it is empty")
    header = text.lstrip().splitlines()[0]
    delimiter = max(DELIMITERS, key=header.count)
    return pd.read_csv(
        io.StringIO(text), sep=delimiter, dtype=str, keep_default_na=False, skip_blank_lines=False, index_col=False
    ).fillna("")


def _decoded(data: bytes) -> str:
    for encoding in ENCODINGS:
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise AssertionError("latin-1 reads any byte")
