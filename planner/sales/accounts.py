"""The accounting of the sales: for each file, every line and every bottle that came in went somewhere."""

import numpy as np
import pandas as pd

from planner.problems import MakerError, Problem
from planner.sales.exports import FileRead
from planner.sales.kinds import KINDS
from planner.sales.names import Products


def accounts(
    every: pd.DataFrame, sales: pd.DataFrame, aside: pd.DataFrame, read: list[FileRead], sold: Products
) -> pd.DataFrame:
    """Return the accounting by file, counted from the finished tables and held against what was read."""
    names = [file.name for file in read]
    lines = sales.loc[_is_first_of_its_line(sales), ["file"]]
    table = pd.DataFrame({"file": pd.Series(names, dtype="str")})
    table["source"] = pd.Series([file.export.source if file.export else "" for file in read], dtype="str")
    table["lines_read"] = every["file"].value_counts().reindex(range(len(read)), fill_value=0).to_numpy()
    table["counted"] = lines["file"].value_counts().reindex(names, fill_value=0).to_numpy()
    table["merged"] = (
        every.loc[every["merged"] >= 0, "file"].value_counts().reindex(range(len(read)), fill_value=0).to_numpy()
    )
    table["set_aside"] = aside["file"].value_counts().reindex(names, fill_value=0).to_numpy()
    span = every[every["reason"] == ""].groupby("file")["day"].agg(["min", "max"]).reindex(range(len(read)))
    table["first_day"], table["last_day"] = span["min"].to_numpy(), span["max"].to_numpy()
    by_kind = sales["bottles"].astype("int64").abs().groupby([sales["file"], sales["kind"]]).sum().unstack(fill_value=0)
    by_kind = by_kind.reindex(index=names, columns=list(KINDS), fill_value=0)
    table[["sold", "refunded", "written_off", "free"]] = by_kind.to_numpy().astype("int64")
    _balance(table, every, sold)
    return table


def _is_first_of_its_line(sales: pd.DataFrame) -> np.ndarray:
    """Say which rows begin a line of a file: the scents of a gift set stand one below the other."""
    row, file = sales["row"].to_numpy(dtype="int64"), pd.factorize(sales["file"])[0]
    return (np.diff(row, prepend=-1) != 0) | (np.diff(file, prepend=-1) != 0)


def _balance(table: pd.DataFrame, every: pd.DataFrame, sold: Products) -> None:
    """Raise MakerError unless lines read = counted + merged + set aside and no bottle came or went."""
    counted_lines = every[(every["reason"] == "") & (every["merged"] < 0)]
    inside = sold.contents.groupby("product")["of"].first().reindex(range(len(sold.names)), fill_value=0).to_numpy()
    bottles = (counted_lines["bottles"].abs() * inside[counted_lines["product"]]).groupby(counted_lines["file"]).sum()
    bottles = bottles.reindex(table.index, fill_value=0)
    out = table[["sold", "refunded", "written_off", "free"]].sum(axis=1)
    wrong = (table["lines_read"] != table["counted"] + table["merged"] + table["set_aside"]) | (bottles != out)
    if wrong.any():
        what = "lines or bottles went missing while it was read; the books do not balance."
        todo = "This is a fault of the planner: do not use these sales, and report it with the file."
        raise MakerError(*(Problem(name, 0, "", what, todo) for name in table.loc[wrong, "file"]))
