"""The same sale in two exports of one source is counted once."""

import re
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.sales.back import since_the_last


class Repeats(NamedTuple):
    """For each line the file whose line it repeats, or -1, and whether the two files differ in the bottles."""

    of: np.ndarray
    differs: np.ndarray


def order_numbers(order: pd.Series) -> np.ndarray:
    """Return a number for each line's order, -1 for none: "# 1001", "1001.0" and "1001" are one order.

    order: category of text.
    """
    known = order.cat.categories.to_numpy(dtype=object)
    if all(text.isdecimal() or not text for text in known):  # nearly all shops; millions of texts are not written again
        numbers = np.where(known == "", -1, np.arange(len(known))).astype("int32")
        return numbers[order.cat.codes]
    plain = [_AROUND.sub("", text).casefold() for text in known]
    codes, distinct = pd.factorize(np.array(plain, dtype=object))
    blank = np.array([not text for text in distinct], dtype="bool")
    return np.where(blank, -1, np.arange(len(blank))).astype("int32")[codes][order.cat.codes]


def repeats(lines: pd.DataFrame, order: np.ndarray, by_price: bool) -> Repeats:
    """Return which lines of the files of one source stand in another of them too.

    An order's bottles of a scent are those in the file that has most of them; what other files say of them repeats
    it, however it is cut into lines and whatever it cost. Lines without an order number are identical by day, product,
    bottles and price, so only days that both files cover are concerned; inside one file identical lines are sales of
    their own, and between files their count is the largest count in any of them: the second of two in a later file
    repeats the second of an earlier one. Prices are compared to the cent, and not at all where a file has none.
    Order numbers that come back on other days of one file begin anew, as receipts of a till do each morning: then the
    day is part of the number; and the same number long after is another order.

    lines: file (number, in the order they are read), day, product, bottles, price, kind; order: a number each, or -1.
    """
    found = Repeats(np.full(len(lines), -1, dtype="int16"), np.zeros(len(lines), dtype="bool"))
    ordered = order >= 0
    day, place = np.zeros(len(lines), dtype="int32"), order
    if not ordered.all():
        day = np.where(ordered, np.int32(0), (lines["day"] - _FIRST).dt.days.fillna(-1).astype("int32"))
        place = np.where(ordered, order, order.max(initial=0) + 1 + pd.factorize(day)[0].astype("int32"))
    twice = _in_several_files(place, lines["file"].to_numpy())
    which = np.flatnonzero(twice & ordered)[:PART]
    by_day = _begin_anew(lines.iloc[which], order[which])
    parts = twice.sum() // PART + 1
    for part in range(parts):  # lines that repeat each other have one place, so each part can be looked at alone
        here = twice & (place % parts == part)
        at = np.flatnonzero(here & ordered)
        found.of[at], found.differs[at] = _in_another_order(lines.iloc[at], order[at], by_day)
        at = np.flatnonzero(here & ~ordered)
        found.of[at] = _identical(lines.iloc[at], day[at], by_price)
    return found


def _begin_anew(lines: pd.DataFrame, order: np.ndarray) -> bool:
    """Say whether order numbers come back: many of them have sales on several days of one file."""
    table = pd.DataFrame({"file": lines["file"].to_numpy(), "order": order, "day": lines["day"].to_numpy()})
    table = table[(lines["kind"] == "sale").to_numpy()].drop_duplicates()
    days = table.groupby(["file", "order"]).size()
    return bool((days > 1).sum() >= FEWEST_AGAIN and (days > 1).mean() > SHARE_AGAIN)


def _in_another_order(lines: pd.DataFrame, order: np.ndarray, by_day: bool) -> tuple[np.ndarray, np.ndarray]:
    day = lines["day"].to_numpy().astype("int64")
    is_back = (lines["kind"] == "refund").to_numpy()  # an order may be paid back in parts, each on its day
    when = np.where(is_back | by_day, day, since_the_last(order, lines["day"], ANOTHER_ORDER))
    product, kind = lines["product"].to_numpy(), lines["kind"].cat.codes.to_numpy()
    key = pd.DataFrame({"order": order, "when": when, "product": product, "kind": kind})
    file, bottles = lines["file"].to_numpy(), lines["bottles"].abs().to_numpy()
    same = key.groupby(list(key.columns), sort=False, dropna=False).ngroup().to_numpy()
    sums = pd.DataFrame({"same": same, "file": file, "bottles": bottles}).groupby(["same", "file"])["bottles"].sum()
    sums = sums.reset_index().sort_values(["same", "bottles", "file"], ascending=[True, False, True], kind="stable")
    most = sums.drop_duplicates("same").sort_values("same")
    least = sums.groupby("same")["bottles"].min()
    of = most["file"].to_numpy()[same]
    differs = (least.to_numpy() < most["bottles"].to_numpy())[same]
    return np.where(of == file, -1, of), differs & (of != file)


def _identical(lines: pd.DataFrame, day: np.ndarray, by_price: bool) -> np.ndarray:
    key = pd.DataFrame({"product": lines["product"], "bottles": lines["bottles"], "kind": lines["kind"].cat.codes})
    key["day"] = day
    if by_price:
        key["price"] = (lines["price"] * 100).round().fillna(-1)
    same = key.groupby(list(key.columns), sort=False).ngroup().to_numpy()
    nth = pd.DataFrame({"same": same, "file": lines["file"].to_numpy()}).groupby(["same", "file"]).cumcount()
    place = pd.DataFrame({"same": same, "nth": nth.to_numpy()}).groupby(["same", "nth"], sort=False)
    first = lines["file"].reset_index(drop=True).groupby(place.ngroup().to_numpy()).transform("first").to_numpy()
    return np.where(place.cumcount().to_numpy() > 0, first, -1)


def _in_several_files(place: np.ndarray, file: np.ndarray) -> np.ndarray:
    """Say which lines have a place that stands in more than one file; quick for many lines."""
    files = np.zeros(place.max(initial=0) + 1, dtype="int16")
    for number in np.unique(file):
        files += np.bincount(place[file == number], minlength=len(files)) > 0
    return files[place] > 1


_AROUND = re.compile(r"[\s#']+|\.0+$")  # what exports put around and behind one and the same number
SHARE_AGAIN, FEWEST_AGAIN = 0.05, 2  # order numbers on several days; fewer are orders to which a line was added later
ANOTHER_ORDER = pd.Timedelta(days=7)  # a later export does not move an order's day so far
PART = 1_000_000  # lines compared at a time
_FIRST = pd.Timestamp("1970-01-01")
