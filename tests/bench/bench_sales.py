"""How long many lines of sales take, in two exports that overlap, beside a plain reader that checks nothing.

Run as a script: python tests/bench/bench_sales.py [lines], 1,000,000 if not said. Each reader has a process of its
own, so that time and memory are its own.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from planner.sales import read_sales
from planner.settings import Export, Settings
from planner.tables import FILES, SalesFile, empty

PART = 500_000  # lines written at a time
SCENTS = [f"Scent {number}" for number in range(40)]
COLUMNS = {"day": "Date", "item": "Item", "bottles": "Qty", "price": "Price", "order": "Order"}
EXPORT = Export("*", "web shop", "web", COLUMNS, date_order="day-first", decimal=".")


def write_exports(folder: Path, count: int) -> None:
    """Two exports that share a fifth of the lines; every line has its own second of sale."""
    draw = np.random.default_rng(0)
    seconds = np.sort(draw.integers(0, 1000 * 86_400, count))
    paths = (folder / "web-1.csv", folder / "web-2.csv")
    for start in range(0, count, PART):
        number = np.arange(start, min(start + PART, count))
        lines = pd.DataFrame(
            {
                "Date": (pd.Timestamp("2023-01-01") + pd.to_timedelta(seconds[number], unit="s")).strftime(
                    "%d/%m/%Y %H:%M:%S"
                ),
                "Order": (10**6 + number // 2).astype(str),
                "Item": np.array(SCENTS)[draw.integers(0, len(SCENTS), len(number))],
                "Qty": draw.integers(1, 4, len(number)),
                "Price": draw.integers(8, 20, len(number)) + 0.5,
                "Email": "somebody@example.org",
            }
        )
        for path, part in zip(paths, (number < count * 6 // 10, number >= count * 4 // 10), strict=True):
            lines[part].to_csv(path, mode="a", header=not path.exists(), index=False)


def plain(paths: list[Path]) -> None:
    """Read the same columns in chunks and sum them by day and item."""
    for path in paths:
        for chunk in pd.read_csv(path, usecols=list(COLUMNS.values()), chunksize=PART):
            chunk.assign(day=pd.to_datetime(chunk["Date"], format="%d/%m/%Y %H:%M:%S").dt.floor("D")).groupby(
                ["day", "Item"]
            )["Qty"].sum()


def ours(paths: list[Path]) -> None:
    """Read them as the planner does, with all checks, merging and the accounting."""
    files = [SalesFile(path.name, lambda path=path: path.open("rb")) for path in paths]
    settings = Settings("bench", "EUR", exports=(EXPORT,))
    scents = pd.DataFrame({"scent": SCENTS})
    books = read_sales(files, settings, scents, empty(FILES["sets"]), pd.Timestamp("2026-01-01"))
    print(books.accounts[["file", "lines_read", "counted", "merged", "set_aside"]].to_string(index=False))


def main() -> None:
    if len(sys.argv) == 3:
        reader, folder = sys.argv[1:]
        start = time.perf_counter()
        {"plain": plain, "ours": ours}[reader](sorted(Path(folder).glob("*.csv")))
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{reader}: {time.perf_counter() - start:.1f} s, peak {peak:,.0f} MB")
        return
    with tempfile.TemporaryDirectory() as folder:
        write_exports(Path(folder), int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
        for reader in ("plain", "ours"):
            subprocess.run([sys.executable, __file__, reader, folder], check=True)


if __name__ == "__main__":
    main()
