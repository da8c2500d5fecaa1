"""The accounting of the sales: for each file, every line and every bottle that came in went somewhere."""

import numpy as np
import pandas as pd

from planner.problems import MakerError, Problem
from planner.sales.exports import FileRead
from planner.sales.kinds import KINDS
from planner.sales.merge import PART
from planner.sales.names import Products


def came_in(every: pd.DataFrame, files: int, sold: Products) -> pd.DataFrame:
    """Return what was read of each file: lines_read, merged [lines], first_day, last_day, bottles to be counted.

    every: one row a line: file, day, reason, merged, product, bottles.
    """
    numbers = range(files)
    good = every["reason"] == ""
    table = pd.DataFrame(index=numbers)
    table["lines_read"] = every["file"].value_counts().reindex(numbers, fill_value=0)
    table["merged"] = every.loc[every["merged"] >= 0, "file"].value_counts().reindex(numbers, fill_value=0)
    span = every.loc[good, ["file", "day"]].groupby("file")["day"].agg(["min", "max"]).reindex(numbers)
    table["first_day"], table["last_day"] = span["min"], span["max"]
    inside = sold.contents.groupby("product")["of"].first().reindex(range(len(sold.names)), fill_value=0).to_numpy()
    lines = every.loc[good & (every["merged"] < 0), ["file", "bottles", "product"]]
    bottles = lines["bottles"].abs() * inside[lines["product"]]
    table["bottles"] = bottles.groupby(lines["file"]).sum().reindex(numbers, fill_value=0)
    return table


def accounts(before: pd.DataFrame, sales: pd.DataFrame, aside: pd.DataFrame, read: list[FileRead]) -> pd.DataFrame:
    """Return the accounting by file, counted from the finished tables and held against what came in."""
    names = [file.name for file in read]
    lines = sales.loc[_is_first_of_its_line(sales), "file"]
    table = pd.DataFrame({"file": pd.Series(names, dtype="str")})
    table["source"] = pd.Series([file.export.source if file.export else "" for file in read], dtype="str")
    table["lines_read"] = before["lines_read"].to_numpy()
    table["counted"] = lines.value_counts().reindex(names, fill_value=0).to_numpy()
    table["merged"] = before["merged"].to_numpy()
    table["set_aside"] = aside["file"].value_counts().reindex(names, fill_value=0).to_numpy()
    table["first_day"], table["last_day"] = before["first_day"].to_numpy(), before["last_day"].to_numpy()
    table[["sold", "refunded", "written_off", "free"]] = _bottles_by_kind(sales, names)
    _balance(table, before["bottles"])
    whole = np.array([0 if file.is_read else file.lines for file in read], dtype="int64")
    table["lines_read"] += whole
    table["set_aside"] += whole
    return table


def _bottles_by_kind(sales: pd.DataFrame, names: list[str]) -> np.ndarray:
    """Return the bottles of each file (rows) and kind (columns), added up in parts so that little memory is needed."""
    bottles = np.zeros((len(names), len(KINDS)), dtype="int64")
    for start in range(0, len(sales), PART):
        part = sales[["bottles", "file", "kind"]].iloc[start : start + PART]
        by_kind = part["bottles"].abs().groupby([part["file"], part["kind"]]).sum().unstack(fill_value=0)
        bottles += by_kind.reindex(index=names, columns=list(KINDS), fill_value=0).to_numpy(dtype="int64")
    return bottles


def _is_first_of_its_line(sales: pd.DataFrame) -> np.ndarray:
    """Say which rows begin a line of a file: the scents of a gift set stand one below the other.

    Where months stand across, one row of the file gives a line for each month.
    """
    day = sales["day"].to_numpy().astype("int64")
    row, file = sales["row"].to_numpy(dtype="int64"), pd.factorize(sales["file"])[0]
    return (np.diff(row, prepend=-1) != 0) | (np.diff(file, prepend=-1) != 0) | (np.diff(day, prepend=day[:1]) != 0)


def _balance(table: pd.DataFrame, bottles: pd.Series) -> None:
    """Raise MakerError unless lines read = counted + merged + set aside and no bottle came or went."""
    out = table[["sold", "refunded", "written_off", "free"]].sum(axis=1)
    wrong = (table["lines_read"] != table["counted"] + table["merged"] + table["set_aside"]) | (bottles != out)
    if wrong.any():
        what = "lines or bottles went missing while it was read; the books do not balance."
        todo = "This is a fault of the planner: do not use these sales, and report it with the file."
        raise MakerError(*(Problem(name, 0, "", what, todo) for name in table.loc[wrong, "file"]))
