"""What each line of one export is: a sale, a refund, a write-off, free; or set aside, and why."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.sales.back import is_cancelled, is_refund_order, paid_back, takes_back
from planner.sales.distinct import by_text
from planner.sales.names import shown
from planner.sales.rows import FAULTS
from planner.sales.totals import totals
from planner.settings import EXPORT_COLUMNS, Export
from planner.values import days, numbers

KINDS = ("sale", "refund", "write-off", "free")
TOTAL, HEADINGS = "It is a total, not a sale.", "It repeats the headings."
REMARK = "It is a remark below the table: no item, no day and no number."
_CORRECT = "Correct it in the file, then run again."


@dataclass(frozen=True)
class Reason:
    """Why a line is set aside: a sentence (with {text}, the cell as read), the column it is about, what to do."""

    sentence: str
    column: str = ""
    todo: str = _CORRECT


class Items(NamedTuple):
    """For each category of item why it is no product, "" if it may be one, and whether it is known to be one."""

    why_not: np.ndarray
    is_known: np.ndarray


def kinds_of(lines: pd.DataFrame, export: Export, items: Items, today: pd.Timestamp) -> pd.DataFrame:
    """Return the lines with `day`, `bottles`, `price` as values, and with `kind` and `reason`, one of them blank.

    Takes what `reading.read_lines` returns. Negative lines are refunds; with price 0, or without a price and no such
    sale shortly before, they are write-offs. Refunds have negative bottles and the price that was paid; `reason` is
    a sentence for the maker; `about` the column that it is about; `cancelled` says that its
    status takes a sale back. Items and orders stay text. The export must state date order and decimal sign.
    """
    read = _values(lines, export)
    cancelled = by_text(lines["status"], is_cancelled(export))
    prefixed = pd.Series(False, index=lines.index)
    if export.refund_orders:
        prefixed = by_text(lines["order"], lambda text: is_refund_order(text, export.refund_orders))
    back = cancelled | prefixed
    total = totals(read, lines, export, back, items.is_known)
    back |= paid_back(read)
    read["cancelled"] = cancelled & ~prefixed & (read["bottles"] > 0)
    read["bottles"] = read["bottles"].where(~back, -read["bottles"].abs())
    read["price"] = read["price"].where(~back, read["price"].abs())
    negative, free = read["bottles"] < 0, read["price"] == 0
    lost = negative & read["price"].isna() & ~read["bad_price"] & ~read["bad_amount"] & ~back
    lost &= ~takes_back(read, lost)
    which = np.select([back, lost | (negative & free), negative, free], [1, 2, 1, 3], default=0)
    read["kind"] = pd.Categorical.from_codes(which, pd.Index(KINDS, dtype="str"))
    return _with_reasons(read, lines, _rules(read, lines, total, export, items.why_not, today))


def _values(lines: pd.DataFrame, export: Export) -> pd.DataFrame:
    """Return the numbers and days of the lines; where only the line's amount is known, price is amount ÷ bottles.

    A line without a day has that of its order: some shops write it on the order's first line only.
    """
    day, bad_day = days(lines["day"], export.date_order, export.language)
    day = _day_of_the_order(day, bad_day, lines["order"])
    bottles, bad_bottles = numbers(lines["bottles"], export.decimal)
    price, bad_price = numbers(lines["price"], export.decimal)
    amount, bad_amount = numbers(lines["amount"], export.decimal)
    by_amount = price.isna() & ~bad_price
    each = amount / bottles.where(bottles != 0)
    return pd.DataFrame(
        {
            "row": lines["row"],
            "day": day,
            "item": lines["item"],
            "bottles": bottles,
            "price": price.where(~by_amount, each) + 0.0,  # -0.0 becomes 0.0
            "order": lines["order"],
            "bad_day": bad_day,
            "bad_bottles": bad_bottles,
            "bad_price": bad_price,
            "bad_amount": by_amount & bad_amount,
            "empty": bottles.isna() & price.isna() & amount.isna() & ~bad_bottles & ~bad_price & ~bad_amount,
        }
    )


def _day_of_the_order(day: pd.Series, bad_day: pd.Series, order: pd.Series) -> pd.Series:
    """Return the days with the missing ones filled in from the same order, where it has one day only."""
    missing = day.isna() & ~bad_day
    if not missing.any():
        return day
    missing &= order != ""
    codes = order.cat.codes
    known = day[codes.isin(codes[missing].unique()) & day.notna()]
    of_order = known.groupby(codes[known.index]).agg(["min", "max"])
    same = of_order.loc[of_order["min"] == of_order["max"], "min"]
    return day.where(~missing, pd.Series(same.reindex(codes).to_numpy(), index=day.index))


def _repeats_headings(lines: pd.DataFrame, export: Export) -> pd.Series:
    """Say which lines are the headings again, as in exports that were put one below the other."""
    again = by_text(lines["item"], _is(export.columns["item"]))
    for name, heading in export.columns.items() if again.any() else ():
        again &= by_text(lines[name], _is(heading))
    return again


def _is(heading: str) -> Callable[[str], bool]:
    wanted = heading.strip().casefold()
    return lambda text: text.casefold() == wanted


def _rules(
    read: pd.DataFrame,
    lines: pd.DataFrame,
    total: pd.Series,
    export: Export,
    why_not: np.ndarray,
    today: pd.Timestamp,
) -> list[tuple[pd.Series, Reason]]:
    """Return the reasons for setting a line aside and where they hold; the first that holds counts."""
    no_item = by_text(lines["item"], lambda text: not text)
    no_day = read["day"].isna() & ~read["bad_day"]
    bottles = read["bottles"]
    order = export.date_order
    return [
        (total, Reason(TOTAL)),
        (_repeats_headings(lines, export), Reason(HEADINGS)),
        *((lines["fault"] == fault, Reason(sentence)) for fault, sentence in FAULTS.items()),
        (no_item & read["day"].isna() & read["empty"] & _below_all(~no_item & read["day"].notna()), Reason(REMARK)),
        (no_item & no_day, Reason("It names no item and no day.")),
        (no_item, Reason("It names no item.", "item")),
        *_no_products(lines["item"], why_not),
        (no_day, Reason("It has no day.", "day")),
        (read["bad_day"], Reason(f"'{{text}}' is not a day ({order}).", "day")),
        (read["day"] > today, Reason("{text} is in the future.", "day")),
        (read["bad_bottles"], Reason("'{text}' is not a number of bottles.", "bottles")),
        (bottles.isna(), Reason("It has no number of bottles.", "bottles")),
        (bottles == 0, Reason("It is for 0 bottles.", "bottles")),
        (bottles % 1 != 0, Reason("{text} is not a whole number of bottles.", "bottles")),
        (bottles.abs() > MOST_BOTTLES, Reason("{text} is more bottles than anybody fills.", "bottles")),
        (read["bad_price"], Reason("'{text}' is not a price.", "price")),
        (read["bad_amount"], Reason("'{text}' is not an amount of money.", "amount")),
        (read["price"] < 0, Reason("The price {text} is negative.", _money_column(export))),
    ]


def _below_all(sales: pd.Series) -> np.ndarray:
    """Say which lines stand below the last line that may be a sale."""
    last = np.flatnonzero(sales)
    return np.arange(len(sales)) > (last[-1] if len(last) else -1)


def _no_products(items: pd.Series, why: np.ndarray) -> Iterator[tuple[pd.Series, Reason]]:
    """Give each reason why items are no product, and where it holds."""
    for reason in sorted(set(why) - {""}):
        yield pd.Series((why == reason)[items.cat.codes], index=items.index), Reason(reason)


MOST_BOTTLES = 1_000_000  # more on one line is a code that slipped into the wrong column


def _money_column(export: Export) -> str:
    return "price" if "price" in export.columns else "amount"


def _with_reasons(read: pd.DataFrame, lines: pd.DataFrame, rules: list[tuple[pd.Series, Reason]]) -> pd.DataFrame:
    which = np.select([mask.to_numpy() for mask, _ in rules], range(len(rules)), default=-1)
    aside = np.flatnonzero(which >= 0)
    codes = np.zeros(len(read), dtype="int32")
    abouts = np.zeros(len(read), dtype="int8")
    sentences = [""]
    for number in np.unique(which[aside]):
        reason, at = rules[number][1], np.flatnonzero(which == number)
        texts = lines[reason.column].iloc[at] if reason.column else pd.Series(pd.Categorical([""] * len(at)))
        used, distinct = pd.factorize(texts.astype("str"))
        codes[at] = len(sentences) + used
        abouts[at] = _ABOUT.index(reason.column)
        sentences += [reason.sentence.replace("{text}", shown(text)) for text in distinct]
    same, distinct = pd.factorize(pd.Series(sentences, dtype="str"))  # texts may differ by blanks only
    return read.assign(
        reason=pd.Categorical.from_codes(same[codes], pd.Index(distinct, dtype="str")),
        about=pd.Categorical.from_codes(abouts, pd.Index(_ABOUT, dtype="str")),
    ).drop(columns=["bad_day", "bad_bottles", "bad_price", "bad_amount", "empty"])


_ABOUT = ["", *EXPORT_COLUMNS]
