"""How long a million lines of sales take, in two exports that overlap, beside a plain reader that checks nothing.

Run as a script: python tests/bench/bench_sales.py
"""

import io
import resource
import time

import numpy as np
import pandas as pd

from planner.sales import read_sales
from planner.settings import Export, Settings
from planner.tables import FILES, SalesFile, empty

LINES = 1_000_000
SCENTS = [f"Scent {number}" for number in range(40)]
COLUMNS = {"day": "Date", "item": "Item", "bottles": "Qty", "price": "Price", "order": "Order"}
EXPORT = Export("*", "web shop", "web", COLUMNS, date_order="day-first")


def exports() -> list[bytes]:
    """Two exports that share a fifth of the lines; every line has its own second of sale."""
    draw = np.random.default_rng(0)
    seconds = np.sort(draw.integers(0, 1000 * 86_400, LINES))
    lines = pd.DataFrame(
        {
            "Date": (pd.Timestamp("2023-01-01") + pd.to_timedelta(seconds, unit="s")).strftime("%d/%m/%Y %H:%M:%S"),
            "Order": (10**6 + np.arange(LINES) // 2).astype(str),
            "Item": np.array(SCENTS)[draw.integers(0, len(SCENTS), LINES)],
            "Qty": draw.integers(1, 4, LINES),
            "Price": draw.integers(8, 20, LINES) + 0.5,
            "Email": "somebody@example.org",
        }
    )
    parts = (lines[: LINES * 6 // 10], lines[LINES * 4 // 10 :])
    return [part.to_csv(index=False).encode() for part in parts]


def plain(content: bytes) -> None:
    """Read the same columns in chunks and sum them by day and item."""
    chunks = pd.read_csv(io.BytesIO(content), usecols=list(COLUMNS.values()), chunksize=500_000)
    for chunk in chunks:
        chunk.assign(day=pd.to_datetime(chunk["Date"], format="%d/%m/%Y %H:%M:%S").dt.floor("D")).groupby(
            ["day", "Item"]
        )["Qty"].sum()


def main() -> None:
    contents = exports()
    start = time.perf_counter()
    for content in contents:
        plain(content)
    floor = time.perf_counter() - start
    files = [
        SalesFile(f"web-{n}.csv", lambda content=content: io.BytesIO(content)) for n, content in enumerate(contents)
    ]
    settings = Settings("bench", "EUR", exports=(EXPORT,))
    start = time.perf_counter()
    books = read_sales(
        files, settings, pd.DataFrame({"scent": SCENTS}), empty(FILES["sets"]), pd.Timestamp("2026-01-01")
    )
    ours = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(books.accounts[["file", "lines_read", "counted", "merged", "set_aside"]].to_string(index=False))
    print(f"read_sales {ours:.1f} s; plain reader {floor:.1f} s; {ours / floor:.1f} times; peak {peak:,.0f} MB")


if __name__ == "__main__":
    main()
