"""One export becomes lines with values, kinds, products and reasons; or it is set aside whole."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import MakerError, Problem
from planner.sales.evidence import settle
from planner.sales.kinds import HEADINGS, REMARK, TOTAL, Items, Reason, kinds_of
from planner.sales.names import Products, counted, match, shown
from planner.sales.no_products import NOT_A_PRODUCT, TAKEN_FOR, why_no_products
from planner.sales.proposal import proposal
from planner.sales.questions import columns_in_words, status_notes
from planner.sales.reading import read_lines
from planner.sales.text import lines_in
from planner.settings import Export, Settings
from planner.tables import SalesFile, listed

UNKNOWN = Reason("'{text}' is not in scents.csv.", "unknown")
SEVERAL = Reason("'{text}' may be {names}.", "several", "Say which under [names] in shop.toml.")
ASKED_FOR = (NOT_A_PRODUCT, TOTAL, HEADINGS, REMARK)  # reasons that need no attention
MOST_ROWS_SHOWN = 5  # rows named in one sentence; all of them stand in set-aside.csv


class FileRead(NamedTuple):
    """One export: how it was to be read, whether it could be, what was wrong, its lines; how it was read, in words."""

    name: str
    export: Export | None
    is_read: bool
    problems: list[Problem]
    lines: int
    written: str = ""
    columns: str = ""
    days: str = ""
    numbers: str = ""


def read_file(
    file: SalesFile, number: int, settings: Settings, sold: Products, today: pd.Timestamp
) -> tuple[FileRead, pd.DataFrame | None]:
    """Return what became of one export, and its lines; None where the file is set aside whole.

    lines: what `kinds_of` returns, `product` (number in sold.names, -1 for none) and `file` (its number).
    """
    export = settings.export_of(file.name)
    count = 0
    try:
        if export is None:
            found = proposal(file, today, sold.names)
            count = found.lines
            raise MakerError(found.problem)
        text, notes, written = read_lines(file, export, (*sold.names, *settings.names, *settings.not_products))
        count = len(text)
        settled = settle(file.name, text, export, today)
        items = text["item"].cat.categories
        product, several = match(items, sold, settings.names)
        known = (product >= 0) | items.isin(list(several))
        named = Items(why_no_products(items, known, settings.not_products, sold.names), known)
        lines = kinds_of(text, replace(export, date_order=settled.order, decimal=settled.decimal), named, today)
    except MakerError as error:
        return FileRead(file.name, export, False, list(error.problems), count or lines_in(file)), None
    lines = _with_products(lines, product, several).assign(file=np.int16(number))
    said = [*notes, *settled.notes, *status_notes(file.name, text, export), *_channel_problems(export, settings)]
    problems = [*said, *_line_problems(file.name, lines, export)]
    return FileRead(
        file.name,
        export,
        True,
        problems,
        count,
        written,
        columns_in_words(export, text["status"]),
        settled.days,
        settled.numbers,
    ), lines


def _channel_problems(export: Export, settings: Settings) -> list[Problem]:
    names = [channel.name for channel in settings.channels]
    if not names or export.channel in names:
        return []
    what = f"the export {export.files} has the channel {export.channel}, and no [[channel]] is called so."
    todo = f"Write {' or '.join(names)} there, or add a [[channel]] of that name."
    return [Problem("shop.toml", 0, "", what, todo, stops=False)]


def _with_products(lines: pd.DataFrame, products: np.ndarray, several: dict[str, list[str]]) -> pd.DataFrame:
    """Add `product`, its number, or -1 and a reason where the item fits none or several.

    products: the number for each category of item, as `match` returns it with `several`.
    """
    product = products[lines["item"].cat.codes].astype("int32")
    lost = np.flatnonzero((product < 0) & (lines["reason"] == "").to_numpy())
    if not len(lost):
        return lines.assign(product=product)
    texts = lines["item"].iloc[lost].astype("str")
    known = {text: _name_reason(text, several.get(text)) for text in texts.unique()}
    changed = {"product": product}
    for place, name in enumerate(("reason", "about")):
        new = texts.map({text: reason[place] for text, reason in known.items()}).to_numpy()
        whole = lines[name].cat.add_categories(sorted(set(new) - set(lines[name].cat.categories))).copy()
        whole.iloc[lost] = new
        changed[name] = whole
    return lines.assign(**changed)


def _name_reason(item: str, several: list[str] | None) -> tuple[str, str]:
    reason = SEVERAL if several else UNKNOWN
    return reason.sentence.format(text=shown(item), names=" or ".join(several or [])), reason.column


def _line_problems(name: str, lines: pd.DataFrame, export: Export) -> list[Problem]:
    """Return one problem for each reason in a file; unknown names are listed apart, what was asked for is not one."""
    aside = lines[(lines["reason"] != "") & ~lines["reason"].isin(ASKED_FOR) & (lines["about"] != UNKNOWN.column)]
    aside = aside[["row", "reason", "about", "item", "bottles"]].astype(
        {"reason": "str", "about": "str", "item": "str"}
    )
    taken = aside["reason"].str.fullmatch(TAKEN_FOR.pattern)
    problems = _taken_notes(name, aside[taken])
    aside = aside[~taken]
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


def _taken_notes(name: str, lines: pd.DataFrame) -> list[Problem]:
    """Say which items were taken for no product by their words, since a scent may be called so."""
    if lines.empty:
        return []
    items = lines["bottles"].abs().groupby(lines["item"].map(shown)).sum().sort_values(ascending=False, kind="stable")
    said = [f"{item} ({counted(pieces, 'piece')})" for item, pieces in items.iloc[:MOST_ROWS_SHOWN].items()]
    more = [f"{len(items) - MOST_ROWS_SHOWN} more"] if len(items) > MOST_ROWS_SHOWN else []
    what = f"{counted(len(lines), 'line')} taken for no product by the words of the item: {listed([*said, *more])}."
    todo = "Nothing to do if so. A scent that is called so goes into scents.csv, or under [names] in shop.toml."
    return [Problem(name, int(lines["row"].iloc[0]), "", what, todo, stops=False)]


_READ = r"'.*'|[-+(]*\d\S*"  # the cell inside a reason
