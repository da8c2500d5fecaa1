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
    result = np.full(len(lines), -1, dtype="int64")
    ordered = (lines["order"] != "").to_numpy() & by_order
    order = np.where(ordered, lines["order"].cat.codes, -1)
    day = np.where(ordered, 0, lines["day"].astype("int64"))
    twice = _in_several_files(order, day, ordered, lines["file"].to_numpy())
    lines = lines[twice]
    key = pd.DataFrame({"product": lines["product"], "bottles": lines["bottles"], "kind": lines["kind"].cat.codes})
    key["order"], key["day"] = order[twice], day[twice]
    if by_price:
        key["price"] = (lines["price"] * 100).round().fillna(-1)
    same = key.groupby(list(key.columns), sort=False).ngroup().to_numpy()
    nth = pd.DataFrame({"same": same, "file": lines["file"].to_numpy()}).groupby(["same", "file"]).cumcount()
    place = pd.DataFrame({"same": same, "nth": nth.to_numpy()}).groupby(["same", "nth"], sort=False)
    first = lines["file"].reset_index(drop=True).groupby(place.ngroup().to_numpy()).transform("first").to_numpy()
    result[twice] = np.where(place.cumcount().to_numpy() > 0, first, -1)
    return result


def _in_several_files(order: np.ndarray, day: np.ndarray, ordered: np.ndarray, file: np.ndarray) -> np.ndarray:
    """Say which lines have an order, or without one a day, that stands in more than one file; quick for many lines."""
    days = pd.factorize(day)[0]
    place = np.where(ordered, order, order.max(initial=0) + 1 + days)
    files = np.zeros(place.max(initial=0) + 1, dtype="int16")
    for number in np.unique(file):
        files += np.bincount(place[file == number], minlength=len(files)) > 0
    return files[place] > 1
