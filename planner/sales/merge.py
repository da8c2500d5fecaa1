"""The same sale in two exports of one source is counted once."""

import numpy as np
import pandas as pd


def repeats(lines: pd.DataFrame, by_order: bool, by_price: bool) -> np.ndarray:
    """Return for each line the `file` whose line it repeats, or -1. For the files of one source only.

    Identical lines inside one file are sales of their own. Between files the count of an identical line is the
    largest count in any of them: the second of two in a later file repeats the second of an earlier one. With order
    numbers, identical is order, item, bottles and price; without, the day stands for the order, so that only days
    that both files cover are concerned. Prices are compared to the cent, and not at all where a file has none.

    lines: file (number, in the order they are read), day, product, bottles, price, order (category).
    """
    result = np.full(len(lines), -1, dtype="int16")
    ordered = (lines["order"] != "").to_numpy() & by_order
    order = np.where(ordered, lines["order"].cat.codes, np.int32(-1))
    day = np.where(ordered, np.int32(0), (lines["day"] - _FIRST).dt.days.fillna(-1).astype("int32"))
    place = _places(order, day, ordered)
    twice = _in_several_files(place, lines["file"].to_numpy())
    parts = twice.sum() // PART + 1
    for part in range(parts):  # lines that repeat each other have one place, so each part can be looked at alone
        at = np.flatnonzero(twice & (place % parts == part))
        result[at] = _repeats(lines.iloc[at], order[at], day[at], by_price)
    return result


def _repeats(lines: pd.DataFrame, order: np.ndarray, day: np.ndarray, by_price: bool) -> np.ndarray:
    key = pd.DataFrame({"product": lines["product"], "bottles": lines["bottles"], "kind": lines["kind"].cat.codes})
    key["order"], key["day"] = order, day
    if by_price:
        key["price"] = (lines["price"] * 100).round().fillna(-1)
    same = key.groupby(list(key.columns), sort=False).ngroup().to_numpy()
    nth = pd.DataFrame({"same": same, "file": lines["file"].to_numpy()}).groupby(["same", "file"]).cumcount()
    place = pd.DataFrame({"same": same, "nth": nth.to_numpy()}).groupby(["same", "nth"], sort=False)
    first = lines["file"].reset_index(drop=True).groupby(place.ngroup().to_numpy()).transform("first").to_numpy()
    return np.where(place.cumcount().to_numpy() > 0, first, -1)


def _places(order: np.ndarray, day: np.ndarray, ordered: np.ndarray) -> np.ndarray:
    """Return one number for each line's order, or its day where it has none."""
    return np.where(ordered, order, order.max(initial=0) + 1 + pd.factorize(day)[0].astype("int32"))


def _in_several_files(place: np.ndarray, file: np.ndarray) -> np.ndarray:
    """Say which lines have a place that stands in more than one file; quick for many lines."""
    files = np.zeros(place.max(initial=0) + 1, dtype="int16")
    for number in np.unique(file):
        files += np.bincount(place[file == number], minlength=len(files)) > 0
    return files[place] > 1


PART = 1_000_000  # lines compared at a time
_FIRST = pd.Timestamp("1970-01-01")
