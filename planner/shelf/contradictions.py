"""What in the maker's files cannot be so: named with file and row, left out, and the rest goes on."""

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.shelf.stock import COMES, GOES, Rolled, said

MOST_ROWS_NAMED = 5  # in one sentence; all stand in the table of contradictions


def in_the_past(table: pd.DataFrame, file: str, today: pd.Timestamp) -> tuple[pd.DataFrame, list[Problem]]:
    """Return the rows of a table that are not dated after today, and a problem for each that is."""
    late = table["date"] > today
    todo = "Put the date right; until then the row is left out."
    problems = [
        Problem(file, row, "date", f"{scent} on {day:%Y-%m-%d} is after today ({today:%Y-%m-%d}).", todo)
        for row, scent, day in zip(
            sheet_rows(table)[late], table.loc[late, "scent"], table.loc[late, "date"], strict=True
        )
    ]
    return table[~late], problems


def ready_after_mixing(runs: pd.DataFrame) -> tuple[pd.DataFrame, list[Problem]]:
    """Return the runs without any day of being ready that lies before its mixing, and a problem for each of those."""
    if "ready_on" not in runs:
        return runs, []
    early = runs["ready_on"] < runs["date"]
    todo = "Put one of the days right; until then it counts as ready after its rest."
    problems = [
        Problem("runs.csv", row, "ready_on", f"Lot {lot} was ready on {ready:%Y-%m-%d}, before it was mixed.", todo)
        for row, lot, ready in zip(
            sheet_rows(runs)[early], runs.loc[early, "lot"], runs.loc[early, "ready_on"], strict=True
        )
    ]
    return runs.assign(ready_on=runs["ready_on"].mask(early)), problems


def more_filled(runs: pd.DataFrame) -> list[Problem]:
    """Return a note for each run of which more bottles were rejected and kept back than filled."""
    out = runs["bottles_rejected"].fillna(0) + runs["retained"].fillna(0)
    bad = out > runs["bottles_filled"]
    if not bad.any():
        return []
    todo = "Put it right; until then none of it is on the shelf."
    return [
        Problem(
            "runs.csv",
            row,
            "bottles_rejected",
            f"Lot {lot}: {n:,.0f} rejected and kept back of {all_:,.0f} filled.",
            todo,
        )
        for row, lot, n, all_ in zip(
            sheet_rows(runs)[bad], runs.loc[bad, "lot"], out[bad], runs.loc[bad, "bottles_filled"], strict=True
        )
    ]


def unknown_words(moves: pd.DataFrame) -> list[Problem]:
    """Return a note for each word in moves.csv that is not known, at its first row."""
    words = said(moves)
    strange = moves.assign(said=words)[~words.isin([*COMES, *GOES])].drop_duplicates("said")
    todo = f"Those bottles count as gone. Known are {', '.join([*GOES, *COMES])}."
    return [
        Problem("moves.csv", row, "why", f"'{why}' is not a word we know.", todo, stops=False)
        for row, why in zip(sheet_rows(strange), strange["why"], strict=True)
    ]


def contradictions(rolled: Rolled, counted: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """Return each count after which more bottles went than there were.

    Columns: counted_on, scent, row (in stock.csv), on_hand, date (first day on which there were too few), bottles (too
    few, until the next count).
    """
    day, scent = np.nonzero(rolled.short > 0)
    last = pd.DataFrame(np.where(counted.notna(), np.arange(len(counted))[:, None], np.nan)).ffill().shift(1)
    count = last.to_numpy()[day, scent].astype(int)
    table = pd.DataFrame(
        {
            "counted_on": counted.index[count],
            "scent": counted.columns[scent],
            "row": rows.to_numpy()[count, scent].astype("int64"),
            "on_hand": counted.to_numpy()[count, scent],
            "date": counted.index[day],
            "bottles": rolled.short[day, scent],
        }
    )
    how = {"row": "first", "on_hand": "first", "date": "min", "bottles": "sum"}
    return table.groupby(["scent", "counted_on"], as_index=False, sort=True).agg(how)


def contradiction_problems(found: pd.DataFrame) -> list[Problem]:
    """Return one problem for each scent whose counts contradict what went after them, at the row of the first."""
    problems = []
    for scent, of in found.groupby("scent", sort=False):
        first = of.iloc[0]
        more = [str(row) for row in of["row"].iloc[1 : 1 + MOST_ROWS_NAMED]]
        left = len(of) - 1 - len(more)
        too = f" So it is after row{'s' * (len(of) > 2)} {', '.join(more)}{f' and {left} more' if left else ''}."
        too = too if more else ""
        what = (
            f"{scent}: {first['on_hand']:,.0f} counted on {first['counted_on']:%Y-%m-%d}, and "
            f"{first['bottles']:,.0f} more went after it than there were, first on {first['date']:%Y-%m-%d}.{too}"
        )
        problems.append(Problem("stock.csv", int(first["row"]), "on_hand", what, _TODO, stops=False))
    return problems


def sheet_rows(table: pd.DataFrame) -> pd.Series:
    """Return the row of each line in the maker's file; 0 where the table did not come from one."""
    return table["row"].fillna(0).astype("int64") if "row" in table else pd.Series(0, index=table.index)


_TODO = (
    "A batch is missing in runs.csv, or a count is wrong; from a sale with none left to the next count or batch it "
    "counts as on the shelf."
)
