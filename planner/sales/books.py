"""The books: every line of every export is counted, merged with the same sale elsewhere, or set aside."""

from collections.abc import Sequence
from dataclasses import replace
from fnmatch import fnmatchcase
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import MakerError, Problem
from planner.sales.evidence import settle
from planner.sales.kinds import ASKED_FOR, KINDS, Reason, kinds_of
from planner.sales.merge import repeats
from planner.sales.names import Products, counted, match, products, unknown_names
from planner.sales.proposal import proposal
from planner.sales.reading import read_lines
from planner.settings import Export, Settings
from planner.tables import STEPS, SalesFile, check, listed

UNKNOWN = Reason("'{text}' is not in scents.csv.", "unknown")
SEVERAL = Reason("'{text}' may be {names}.", "several", "Say which under [names] in shop.toml.")
MOST_ROWS_SHOWN = 5  # rows named in one sentence; all of them stand in set-aside.csv


class Books(NamedTuple):
    """What was sold and how it was found.

    `sales` and `set_aside` as tables.STEPS says (in set_aside `scent` is the item as read). `accounts` has one row a
    file: file, source, lines_read, counted, merged, set_aside [lines], first_day, last_day, sold, refunded,
    written_off, free [bottles]; lines_read = counted + merged + set_aside.
    """

    sales: pd.DataFrame
    set_aside: pd.DataFrame
    accounts: pd.DataFrame
    problems: list[Problem]


class _FileRead(NamedTuple):
    """One export: its lines with values, kinds and reasons; None where the file is set aside whole."""

    name: str
    export: Export | None
    lines: pd.DataFrame | None
    problems: list[Problem]


def read_sales(
    files: Sequence[SalesFile], settings: Settings, scents: pd.DataFrame, sets: pd.DataFrame, today: pd.Timestamp
) -> Books:
    """Return the sales in the files, each line once, and what was not counted.

    Files are read as the first [[export]] of shop.toml says whose `files` fits the name. A file that cannot be read
    is set aside whole, a line that cannot be counted is set aside alone; both leave a problem and the rest goes on.
    Raises MakerError if the books do not balance, which would be our mistake.
    """
    sold = products(scents, sets)
    read = [_read_file(file, number, settings, sold, today) for number, file in enumerate(files)]
    lines = [file.lines for file in read if file.lines is not None]
    every = _joined(lines)
    aside = (every["reason"] != "").to_numpy()
    every["merged"] = -1
    every.loc[~aside, "merged"] = _merged(every[~aside], read)
    problems = [*sold.problems, *(problem for file in read for problem in file.problems)]
    problems += unknown_names(_unknown_lines(every, read), sold) + _merge_notes(every, read)
    if not files:
        problems.append(Problem("sales", 0, "", "holds no export.", "Put one into it, then run again."))
    sales = _sales_table(every[~aside & (every["merged"] < 0).to_numpy()], read, sold)
    set_aside = _aside_table(every[aside], read)
    return Books(sales, set_aside, _accounts(every, sales, set_aside, read, sold), problems)


def _read_file(file: SalesFile, number: int, settings: Settings, sold: Products, today: pd.Timestamp) -> _FileRead:
    name = file.name.casefold()
    export = next((export for export in settings.exports if fnmatchcase(name, export.files.casefold())), None)
    try:
        if export is None:
            raise MakerError(proposal(file, today))
        text, notes = read_lines(file, export, (*sold.names, *settings.names, *settings.not_products))
        order, decimal, said = settle(file.name, text, export, today)
        lines = kinds_of(text, replace(export, date_order=order, decimal=decimal), settings.not_products, today)
    except MakerError as error:
        return _FileRead(file.name, export, None, list(error.problems))
    lines = _with_products(lines, sold, settings).assign(file=number)
    return _FileRead(file.name, export, lines, [*notes, *said, *_line_problems(file.name, lines, export)])


def _with_products(lines: pd.DataFrame, sold: Products, settings: Settings) -> pd.DataFrame:
    """Add `product`, its number, or -1 and a reason where the item fits none or several."""
    items = lines["item"].cat
    found, several = match(items.categories, sold, settings.names)
    product = found[items.codes]
    lines = lines.assign(product=product)
    lost = np.flatnonzero((product < 0) & (lines["reason"] == "").to_numpy())
    if len(lost):
        texts = lines["item"].iloc[lost].astype("str")
        reasons = [_name_reason(text.strip(), several.get(text)) for text in texts]
        lines.iloc[lost, lines.columns.get_indexer(["reason", "about"])] = reasons
    return lines


def _name_reason(text: str, several: list[str] | None) -> list[str]:
    reason = SEVERAL if several else UNKNOWN
    return [reason.sentence.format(text=text, names=" or ".join(several or [])), reason.column]


def _unknown_lines(every: pd.DataFrame, read: list[_FileRead]) -> pd.DataFrame:
    lines = every.loc[every["about"] == UNKNOWN.column, ["file", "row", "item", "bottles"]]
    return lines.assign(file=[read[number].name for number in lines["file"]])


def _line_problems(name: str, lines: pd.DataFrame, export: Export) -> list[Problem]:
    """Return one problem for each reason in a file; unknown names are listed apart, what was asked for is not one."""
    aside = lines[(lines["reason"] != "") & ~lines["reason"].isin(ASKED_FOR) & (lines["about"] != UNKNOWN.column)]
    problems = []
    for (about, _), group in aside.groupby(["about", aside["reason"].str.replace(_READ, "…", regex=True)], sort=False):
        heading = export.columns.get(str(about), "")
        rows = [str(row) for row in group["row"].iloc[:MOST_ROWS_SHOWN]]
        what = group["reason"].iloc[0]
        if len(group) > 1:
            more = " and others" if len(group) > MOST_ROWS_SHOWN else ""
            what = (
                f"{what} So are {len(group)} lines in all, rows {listed(rows) if not more else ', '.join(rows)}{more}."
            )
        todo = SEVERAL.todo if about == SEVERAL.column else Reason.todo
        problems.append(Problem(name, int(group["row"].iloc[0]), heading, what, todo))
    return problems


_READ = r"'.*'|[-+(]*\d\S*"  # the cell inside a reason


_EMPTY = {"row": "int64", "day": "datetime64[us]", "item": "category", "bottles": "float64", "price": "float64"} | {
    "order": "category",
    "kind": "category",
    "reason": "str",
    "about": "str",
    "product": "int64",
    "file": "int64",
}


def _joined(lines: list[pd.DataFrame]) -> pd.DataFrame:
    """Return the lines of all files in one table, categories united."""
    if not lines:
        return pd.DataFrame({name: pd.Series(dtype=dtype) for name, dtype in _EMPTY.items()})
    columns = {}
    for name, dtype in _EMPTY.items():
        parts = [frame[name] for frame in lines]
        joined = pd.api.types.union_categoricals(parts) if dtype == "category" else pd.concat(parts, ignore_index=True)
        columns[name] = pd.Series(joined)
    return pd.DataFrame(columns)


def _merged(good: pd.DataFrame, read: list[_FileRead]) -> np.ndarray:
    """Return for each line the number of the file whose line it repeats, or -1."""
    result = pd.Series(-1, index=good.index)
    sources: dict[str, list[int]] = {}
    for number, file in enumerate(read):
        if file.export is not None and file.lines is not None:
            sources.setdefault(file.export.source, []).append(number)
    for numbers in sources.values():
        if len(numbers) > 1:
            lines = good[good["file"].isin(numbers)]
            exports = [read[number].export for number in numbers]
            by_order = all("order" in export.columns for export in exports if export)
            by_price = all({"price", "amount"} & set(export.columns) for export in exports if export)
            result[lines.index] = repeats(lines, by_order, by_price)
    return result.to_numpy()


def _merge_notes(every: pd.DataFrame, read: list[_FileRead]) -> list[Problem]:
    both = every[every["merged"] >= 0].groupby(["file", "merged"])["row"].agg(["size", "first"])
    return [
        Problem(
            read[file].name,
            int(line["first"]),
            "",
            f"{counted(line['size'], 'line')} stand in {read[other].name} too and are counted once.",
            "Nothing to do.",
            stops=False,
        )
        for (file, other), line in both.iterrows()
    ]


def _sales_table(good: pd.DataFrame, read: list[_FileRead], sold: Products) -> pd.DataFrame:
    """Return one row for each scent on each line: a gift set gives several, its price shared by bottles."""
    inside = sold.contents.sort_values("product", kind="stable")
    each = np.bincount(inside["product"], minlength=len(sold.names))
    start = np.cumsum(each) - each
    product = good["product"].to_numpy()
    times = each[product]
    line = np.repeat(np.arange(len(good)), times)
    nth = np.arange(len(line)) - np.repeat(np.cumsum(times) - times, times)
    content = inside.iloc[start[product[line]] + nth].reset_index(drop=True)
    rows = good.iloc[line].reset_index(drop=True)
    channels = [file.export.channel if file.export else "" for file in read]
    table = pd.DataFrame(
        {
            "line": np.arange(1, len(rows) + 1),
            "day": rows["day"],
            "scent": content["scent"],
            "bottles": rows["bottles"] * content["bottles"],
            "unit_price": rows["price"] / content["of"],
            "channel": _named(rows["file"], channels),
            "order": rows["order"].astype("str").replace("", None),
            "kind": rows["kind"],
            "file": _named(rows["file"], [file.name for file in read]),
            "row": rows["row"],
        }
    )
    return check(table, STEPS["sales"])


def _named(numbers: pd.Series, names: Sequence[str]) -> pd.Series:
    return pd.Series(np.array(names, dtype=object)[numbers.to_numpy()], index=numbers.index, dtype="str")


def _aside_table(aside: pd.DataFrame, read: list[_FileRead]) -> pd.DataFrame:
    whole = aside["bottles"].where(aside["bottles"] % 1 == 0)
    table = pd.DataFrame(
        {
            "file": _named(aside["file"], [file.name for file in read]),
            "row": aside["row"],
            "reason": aside["reason"],
            "day": aside["day"],
            "scent": aside["item"].astype("str").str.strip().replace("", None),
            "bottles": whole.astype("Int64"),
            "unit_price": aside["price"],
            "order": aside["order"].astype("str").replace("", None),
        }
    )
    return check(table, STEPS["set-aside"])


def _accounts(
    every: pd.DataFrame, sales: pd.DataFrame, aside: pd.DataFrame, read: list[_FileRead], sold: Products
) -> pd.DataFrame:
    """Return the accounting by file, counted from the finished tables and held against what was read."""
    names = [file.name for file in read]
    lines = sales.drop_duplicates(["file", "row"])
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
