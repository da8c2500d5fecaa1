"""The books: every line of every export is counted, merged with the same sale elsewhere, or set aside."""

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.sales.accounts import accounts, came_in
from planner.sales.back import settle_cancelled
from planner.sales.exports import UNKNOWN, FileRead, read_file
from planner.sales.merge import Repeats, order_numbers, repeats
from planner.sales.names import (
    Products,
    counted,
    folded_name,
    products,
    unknown_names,
    unknown_targets,
    without_addresses,
)
from planner.sales.questions import prefix_problem, refund_prefixes
from planner.sales.reading import united
from planner.settings import Settings
from planner.tables import STEPS, SalesFile, check


class Books(NamedTuple):
    """What was sold and how it was found.

    `sales` and `set_aside` as tables.STEPS says (in set_aside `scent` is the item as read). `accounts` has one row a
    file: file, source, lines_read, counted, merged, set_aside [lines], first_day, last_day, sold, refunded,
    written_off, free [bottles]; lines_read = counted + merged + set_aside, lines of files that are set aside whole
    included. `readings` says how each file was read, with the evidence: file, channel, written, columns, days,
    numbers; blank where it could not be.
    """

    sales: pd.DataFrame
    set_aside: pd.DataFrame
    accounts: pd.DataFrame
    problems: list[Problem]
    readings: pd.DataFrame


def read_sales(
    files: Sequence[SalesFile], settings: Settings, scents: pd.DataFrame, sets: pd.DataFrame, today: pd.Timestamp
) -> Books:
    """Return the sales in the files, each line once, and what was not counted.

    Files are read as the first [[export]] of shop.toml says whose `files` fits the name. A file that cannot be read
    is set aside whole, a line that cannot be counted is set aside alone; both leave a problem and the rest goes on.
    Raises MakerError if the books do not balance, which would be our mistake.
    """
    sold = products(scents, sets)
    read: list[FileRead] = []
    lines: list[pd.DataFrame] = []
    for number, file in enumerate(files):
        outcome, found = read_file(file, number, settings, sold, today)
        read.append(outcome)
        lines += [] if found is None else [found]
        del found
    every = _joined(lines)
    order = order_numbers(every["order"])
    _set_aside_cancelled(every, read, order)
    aside = (every["reason"] != "").to_numpy()
    again, differs = _again(every, read, order)
    every["merged"] = np.where(aside, -1, again).astype("int16")
    problems = [
        *sold.problems,
        *unknown_targets(settings.names, sold),
        *(problem for file in read for problem in file.problems),
    ]
    unknown = (every["about"] == UNKNOWN.column).to_numpy() & (again < 0)
    problems += unknown_names(_with_file_names(every.loc[unknown, _STAKES], read), sold)
    problems += _merge_notes(every, differs, read)
    del again, differs, order, unknown
    problems += _prefix_problems(every, read)
    if not files:
        problems.append(Problem("sales", 0, "", "holds no export.", "Put one into it, then run again."))
    set_aside = _aside_table(every[aside], read)
    before = came_in(every, len(read), sold)
    keep = np.flatnonzero(~aside & (every["merged"] < 0).to_numpy())
    good = {name: every.pop(name).array[keep] for name in _SOLD}
    del every, aside, keep
    sales = _sales_table(good, read, sold, settings)
    return Books(sales, set_aside, accounts(before, sales, set_aside, read), problems, _readings(read))


def _readings(read: list[FileRead]) -> pd.DataFrame:
    rows = [
        (
            file.name,
            file.export.channel if file.export else "",
            file.written,
            file.columns,
            file.days,
            file.numbers,
        )
        for file in read
    ]
    return pd.DataFrame(rows, columns=["file", "channel", "written", "columns", "days", "numbers"], dtype="str")


_STAKES = ["file", "row", "item", "bottles"]
_SOLD = ["product", "day", "bottles", "price", "order", "kind", "file", "row"]


def _with_file_names(lines: pd.DataFrame, read: list[FileRead]) -> pd.DataFrame:
    return lines.assign(file=_named(lines["file"], [file.name for file in read]))


_EMPTY = {"row": "int32", "day": "datetime64[us]", "item": "category", "bottles": "float64", "price": "float64"} | {
    "order": "category",
    "kind": "category",
    "reason": "category",
    "about": "category",
    "product": "int32",
    "file": "int16",
    "cancelled": "bool",
}
CANCELLED_SALE = "It was cancelled or paid back, and counts as no sale."


def _joined(lines: list[pd.DataFrame]) -> pd.DataFrame:
    """Return the lines of all files in one table, categories united. Empties the list, so that they are held once."""
    if len(lines) == 1:
        return lines.pop()[list(_EMPTY)]
    columns = {}
    for name, dtype in _EMPTY.items():
        parts = [frame.pop(name) for frame in lines] or [pd.Series(dtype=dtype)]
        columns[name] = pd.Series(united(parts)) if dtype == "category" else pd.concat(parts, ignore_index=True)
    lines.clear()
    return pd.DataFrame(columns, copy=False)


def _sources(read: list[FileRead]) -> dict[str, list[int]]:
    """Return the numbers of the files that could be read, by source."""
    sources: dict[str, list[int]] = {}
    for number, file in enumerate(read):
        if file.export is not None and file.is_read:
            sources.setdefault(file.export.source, []).append(number)
    return sources


def _set_aside_cancelled(every: pd.DataFrame, read: list[FileRead], order: np.ndarray) -> None:
    """Set aside lines that their status takes back and that are the sale themselves."""
    number = np.zeros(len(read), dtype="int16")
    for source, files in enumerate(_sources(read).values()):
        number[files] = source
    every["cancelled"] &= (every["reason"] == "").to_numpy()
    none = settle_cancelled(every, number[every["file"]], order)
    if none.any():
        reason = every["reason"].cat.add_categories([CANCELLED_SALE])
        reason[none] = CANCELLED_SALE
        every["reason"] = reason


def _again(every: pd.DataFrame, read: list[FileRead], order: np.ndarray) -> Repeats:
    """Return which file's line each line repeats and whether bottles differ; also for lines of unknown items.

    order: a number for each line, -1 for none.
    """
    result = Repeats(np.full(len(every), -1, dtype="int16"), np.zeros(len(every), dtype="bool"))
    sources = _sources(read)
    if all(len(numbers) < 2 for numbers in sources.values()):
        return result
    unknown = (every["about"] == UNKNOWN.column).to_numpy()
    folds = pd.factorize(np.array([folded_name(item) for item in every["item"].cat.categories], dtype=object))[0]
    product = np.where(unknown, (-2 - folds.astype("int32"))[every["item"].cat.codes], every["product"])
    usable = unknown | (every["reason"] == "").to_numpy()
    for numbers in sources.values():
        if len(numbers) > 1:
            which = np.flatnonzero(usable & every["file"].isin(numbers).to_numpy())
            exports = [read[number].export for number in numbers]
            by_order = all("order" in export.columns for export in exports if export)
            by_price = all({"price", "amount"} & set(export.columns) for export in exports if export)
            lines = every if len(which) == len(every) else every.iloc[which]
            orders = order[which] if by_order else np.full(len(which), -1, dtype="int32")
            if all(export.months_across or export.totals for export in exports if export):
                orders = pd.factorize(lines["day"])[0].astype("int32")  # the larger of two totals of a month counts
            found = repeats(lines.assign(product=product[which]), orders, by_price)
            result.of[which], result.differs[which] = found
    return result


def _merge_notes(every: pd.DataFrame, differs: np.ndarray, read: list[FileRead]) -> list[Problem]:
    notes = []
    merged = every["merged"] >= 0
    for (file, other), row in every["row"][merged].groupby([every["file"][merged], every["merged"][merged]]):
        name, first = read[other].name, int(row.iloc[0])
        stand = "stands" if len(row) == 1 else "stand"
        what = f"{counted(len(row), 'line')} {stand} in {name} too and {'is' if len(row) == 1 else 'are'} counted once."
        notes.append(Problem(read[file].name, first, "", what, "Nothing to do.", stops=False))
        other_bottles = row[differs[row.index]]
        if len(other_bottles):
            what = (
                f"{counted(len(other_bottles), 'line')} of orders that have more bottles in {name}; those there count."
            )
            todo = "Look at the order in both files if the larger number is wrong."
            notes.append(Problem(read[file].name, int(other_bottles.iloc[0]), "", what, todo, stops=False))
    return notes


def _prefix_problems(every: pd.DataFrame, read: list[FileRead]) -> list[Problem]:
    found = []
    for prefix, orders in refund_prefixes(every["order"].cat.categories).items():
        sold = every[every["order"].isin(orders) & (every["kind"] == "sale") & (every["reason"] == "")]
        for number, lines in sold.groupby("file"):
            export = read[int(number)].export
            if export and not export.refund_orders:
                known = sorted(lines["order"].astype("str").unique())
                found.append(prefix_problem(read[int(number)].name, int(lines["row"].iloc[0]), export, prefix, known))
    return found


def _sales_table(good: dict[str, Any], read: list[FileRead], sold: Products, settings: Settings) -> pd.DataFrame:
    """Return one row for each scent on each line: a gift set gives several, its price shared by bottles.

    good: arrays by name in _SOLD; emptied on the way, because there may be millions of lines.
    """
    inside = sold.contents.sort_values("product", kind="stable")
    each = np.bincount(inside["product"], minlength=len(sold.names))
    start = np.cumsum(each) - each
    product = np.asarray(good.pop("product"))
    times = each[product]
    place = start[product].astype("int32")
    if (times != 1).any():
        line = np.repeat(np.arange(len(product)), times)
        place = place[line] + np.arange(len(line)) - np.repeat(np.cumsum(times) - times, times)
        good.update({name: values[line] for name, values in good.items()})
    del product, times
    columns = {"line": pd.array(np.arange(1, len(place) + 1), dtype="Int64"), "day": good.pop("day")}
    columns["scent"] = _text(place, inside["scent"])
    columns["channel"] = _channels(good, read, settings)
    columns["bottles"] = pd.array(good.pop("bottles") * inside["bottles"].to_numpy()[place], dtype="Int64")
    columns["unit_price"] = good.pop("price") / inside["of"].to_numpy()[place]
    for name in ("order", "kind"):
        text = good.pop(name)
        columns[name] = _text(text.codes, map(without_addresses, text.categories.to_numpy(dtype=object)))
    columns["file"] = _text(good.pop("file"), [file.name for file in read])
    columns["row"] = pd.array(np.asarray(good.pop("row")), dtype="Int64")
    return check(pd.DataFrame(columns, copy=False), STEPS["sales"])


def _channels(good: dict[str, Any], read: list[FileRead], settings: Settings) -> pd.Series:
    """Return the channel of each line: its file's, or that of stockists where so many bottles are asked to be.

    What takes bottles of such an order back goes to the stockists too.
    """
    to_order = next((channel.name for channel in settings.channels if channel.open == "to order"), "wholesale")
    names = [*(file.export.channel if file.export else "" for file in read), to_order]
    least = np.array([file.export.wholesale_from if file.export else 0 for file in read], dtype="float64")
    numbers, bottles = np.asarray(good["file"]), np.asarray(good["bottles"])
    if (least > 0).any():
        is_many = np.abs(bottles) >= np.where(least > 0, least, np.inf)[numbers]
        order = good["order"]
        of_many = np.isin(order.codes, np.unique(order.codes[is_many])) & (np.asarray(order) != "")
        numbers = np.where(is_many | (of_many & (bottles < 0)), len(read), numbers)
    return _text(numbers, names)


def _text(numbers: Sequence[int] | pd.Series | np.ndarray, names: Iterable[str]) -> pd.Series:
    """Return the names by number, each held once; a blank one is missing."""
    known = np.array([name if name else None for name in names], dtype=object)
    return pd.Series(known[np.asarray(numbers)], dtype="str", copy=False)


def _named(numbers: pd.Series, names: Sequence[str]) -> pd.Series:
    return _text(numbers, names).set_axis(numbers.index)


def _items(text: pd.Series) -> pd.Series:
    """Return text as read, without blanks around it and without addresses of customers."""
    return text.astype("str").str.strip().map(without_addresses).replace("", None)


def _aside_table(aside: pd.DataFrame, read: list[FileRead]) -> pd.DataFrame:
    whole = aside["bottles"].where((aside["bottles"] % 1 == 0) & (aside["bottles"].abs() < 2**53))
    table = pd.DataFrame(
        {
            "file": _named(aside["file"], [file.name for file in read]),
            "row": aside["row"],
            "reason": aside["reason"].astype("str"),
            "day": aside["day"],
            "scent": _items(aside["item"]),
            "bottles": whole.astype("Int64"),
            "unit_price": aside["price"],
            "order": _items(aside["order"]),
        }
    )
    return check(table, STEPS["set-aside"])
