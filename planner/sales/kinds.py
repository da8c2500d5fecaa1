"""What each line of one export is: a sale, a refund, a write-off, free; or set aside, and why."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from planner.sales.names import folded_name
from planner.sales.rows import FAULTS
from planner.settings import EXPORT_COLUMNS, Export
from planner.values import days, numbers

KINDS = ("sale", "refund", "write-off", "free")
# words for a total in the languages that tills and spreadsheets speak, as names are folded
_TOTALS = (
    "total totals subtotal subtotals grandtotal sum summe gesamt gesamtsumme zwischensumme endsumme totale subtotale "
    "soustotal totalgénéral totaal subtotaal suma razem celkem summa yhteensä toplam итого всего σύνολο"
)
TOTALS = frozenset(_TOTALS.split())
TOTAL, HEADINGS = "It is a total, not a sale.", "It repeats the headings."
_CORRECT = "Correct it in the file, then run again."


@dataclass(frozen=True)
class Reason:
    """Why a line is set aside: a sentence (with {text}, the cell as read), the column it is about, what to do."""

    sentence: str
    column: str = ""
    todo: str = _CORRECT


def kinds_of(lines: pd.DataFrame, export: Export, no_products: np.ndarray, today: pd.Timestamp) -> pd.DataFrame:
    """Return the lines with `day`, `bottles`, `price` as values, and with `kind` and `reason`, one of them blank.

    Takes what `reading.read_lines` returns, and for each category of item why it is no product ("" if it may be one:
    `no_products.why_no_products`). Negative lines are refunds; with price 0, or without a price and no such
    sale shortly before, they are write-offs. Refunds have negative bottles and the price that was paid; `reason` is
    a sentence for the maker; `about` the column that it is about. Items and orders stay text. The export must state
    date order and decimal sign.
    """
    read = _values(lines, export)
    total = _totals(read, lines, export)
    back = _is_refund(lines, export)
    read["bottles"] = read["bottles"].where(~back, -read["bottles"].abs())
    read["price"] = read["price"].where(~back, read["price"].abs())
    negative, free = read["bottles"] < 0, read["price"] == 0
    lost = negative & read["price"].isna() & ~read["bad_price"] & ~read["bad_amount"] & ~back
    lost &= ~_takes_back(read, lost)
    which = np.select([back, lost | (negative & free), negative, free], [1, 2, 1, 3], default=0)
    read["kind"] = pd.Categorical.from_codes(which, pd.Index(KINDS, dtype="str"))
    return _with_reasons(read, lines, _rules(read, lines, total, export, no_products, today))


def _values(lines: pd.DataFrame, export: Export) -> pd.DataFrame:
    """Return the numbers and days of the lines; where only the line's amount is known, price is amount ÷ bottles."""
    day, bad_day = days(lines["day"], export.date_order, export.language)
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
        }
    )


def _takes_back(read: pd.DataFrame, unpriced: pd.Series) -> pd.Series:
    """Say which of the negative lines without any price take back a sale: the same item and bottles shortly before."""
    result = pd.Series(False, index=read.index)
    if not unpriced.any():
        return result
    fold = np.array([folded_name(item) for item in read["item"].cat.categories], dtype=object)[read["item"].cat.codes]
    lines = pd.DataFrame({"fold": fold, "day": read["day"], "bottles": read["bottles"]}, index=read.index)
    lines = lines[lines["fold"].isin(lines.loc[unpriced, "fold"].unique()) & lines["day"].notna()]
    sold: dict[tuple[str, float], list[pd.Timestamp]] = {}
    for at, item, day, bottles in lines.sort_values("day", kind="stable").itertuples(name=None):
        if bottles > 0:
            sold.setdefault((item, bottles), []).append(day)
        elif unpriced[at] and (before := sold.get((item, -bottles))) and day - before[-1] <= _SHORTLY:
            before.pop()
            result[at] = True
    return result


_SHORTLY = pd.Timedelta(
    days=60
)  # what comes back later than this is told apart by its price; common practice, no source


def _by_text(column: pd.Series, holds: Callable[[str], bool]) -> pd.Series:
    """Say for each line whether something holds of its text; asked once for each distinct text."""
    answers = np.array([holds(text.strip()) for text in column.cat.categories.tolist()], dtype="bool")
    return pd.Series(answers[column.cat.codes], index=column.index)


def _is_refund(lines: pd.DataFrame, export: Export) -> pd.Series:
    prefix, words = export.refund_orders, {folded_name(word) for word in export.refund_status}
    back = _by_text(lines["status"], lambda text: folded_name(text) in words)
    return back | _by_text(lines["order"], lambda text: text.startswith(prefix)) if prefix else back


def _totals(read: pd.DataFrame, lines: pd.DataFrame, export: Export) -> pd.Series:
    """Say which lines are totals: by a word, or with no item and no day by an amount that is the sum above it."""
    no_item, no_day = _by_text(lines["item"], lambda text: not text), read["day"].isna()
    total = _by_text(lines["item"], _is_total) | (_by_text(lines["day"], _is_total) & no_day)
    odd = lines.loc[no_item | no_day, "order"]
    total[odd.index] |= _by_text(odd.cat.remove_unused_categories(), _is_total)
    unnamed = (no_item & no_day & ~read["bad_day"] & ~total).to_numpy()
    if not unnamed.any():
        return total
    amount = numbers(lines["amount"], export.decimal)[0]
    each = read["bottles"] * read["price"]
    paid, stated = (each, numbers(lines["price"], export.decimal)[0]) if amount.isna().all() else (amount, amount)
    back = 1 - 2 * (_is_refund(lines, export) & (read["bottles"] > 0))
    is_sum = np.zeros(len(read), dtype="bool")
    for above, here in ((read["bottles"], read["bottles"]), (paid, stated)):
        for sign in (1, back) if (back < 0).any() else (1,):
            is_sum |= _is_sum_above((above * sign).to_numpy(), here.to_numpy(), unnamed, total.to_numpy())
    return total | (unnamed & is_sum)


def _is_total(text: str) -> bool:
    return folded_name(text) in TOTALS


def _is_sum_above(above: np.ndarray, here: np.ndarray, unnamed: np.ndarray, total: np.ndarray) -> np.ndarray:
    """Say where `here` is the sum of all `above`, or of those since the last total."""
    sums = np.cumsum(np.where(unnamed | total | np.isnan(above), 0, above))
    last = np.maximum.accumulate(np.where(unnamed | total, np.arange(len(sums)), -1))  # the last total up to here
    before = np.concatenate([[-1], last[:-1]])
    since = sums - np.where(before >= 0, sums[before], 0)
    cent = 0.006  # sums are compared to the cent
    return (here != 0) & ((np.abs(here - sums) < cent) | (np.abs(here - since) < cent))


def _repeats_headings(lines: pd.DataFrame, export: Export) -> pd.Series:
    """Say which lines are the headings again, as in exports that were put one below the other."""
    again = _by_text(lines["item"], _is(export.columns["item"]))
    for name, heading in export.columns.items() if again.any() else ():
        again &= _by_text(lines[name], _is(heading))
    return again


def _is(heading: str) -> Callable[[str], bool]:
    wanted = heading.strip().casefold()
    return lambda text: text.casefold() == wanted


def _rules(
    read: pd.DataFrame,
    lines: pd.DataFrame,
    total: pd.Series,
    export: Export,
    no_products: np.ndarray,
    today: pd.Timestamp,
) -> list[tuple[pd.Series, Reason]]:
    """Return the reasons for setting a line aside and where they hold; the first that holds counts."""
    no_item = _by_text(lines["item"], lambda text: not text)
    no_day = read["day"].isna() & ~read["bad_day"]
    bottles = read["bottles"]
    order = export.date_order
    return [
        (total, Reason(TOTAL)),
        (_repeats_headings(lines, export), Reason(HEADINGS)),
        *((lines["fault"] == fault, Reason(sentence)) for fault, sentence in FAULTS.items()),
        (no_item & no_day, Reason("It names no item and no day.")),
        (no_item, Reason("It names no item.", "item")),
        *_no_products(lines["item"], no_products),
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
        sentences += [reason.sentence.replace("{text}", text.strip()) for text in distinct]
    same, distinct = pd.factorize(pd.Series(sentences, dtype="str"))  # texts may differ by blanks only
    return read.assign(
        reason=pd.Categorical.from_codes(same[codes], pd.Index(distinct, dtype="str")),
        about=pd.Categorical.from_codes(abouts, pd.Index(_ABOUT, dtype="str")),
    ).drop(columns=["bad_day", "bad_bottles", "bad_price", "bad_amount"])


_ABOUT = ["", *EXPORT_COLUMNS]
