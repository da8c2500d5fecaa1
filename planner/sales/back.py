"""Which lines take a sale back: by a status, by a negative price of something sold, or as the other half of a pair."""

from collections.abc import Callable

import numpy as np
import pandas as pd

from planner.sales.names import folded_name
from planner.settings import Export

# what comes back later than this is told apart by its price; common practice, no source
SHORTLY = pd.Timedelta(days=60)
# what shops call an order that is no sale any more, folded; common practice, no source
_CANCELLED = (
    "cancelled canceled cancellation refunded refund void voided returned reversed chargeback storniert storno "
    "erstattet retourniert annulé annulée remboursé remboursée cancelado cancelada reembolsado reembolsada devuelto "
    "devolvido annullato annullata rimborsato rimborsata reso geannuleerd terugbetaald annullert refundert annulleret "
    "refunderet avbruten återbetald peruttu hyvitetty anulowane zwrócone"
)
CANCELLED = frozenset(_CANCELLED.split())


def is_cancelled(export: Export) -> Callable[[str], bool]:
    """Return the question whether a status takes the line back: as shop.toml says, else by the usual words."""
    words = frozenset(folded_name(word) for word in export.refund_status) or CANCELLED
    return lambda text: folded_name(text) in words


def never_sold(every: pd.DataFrame, source: np.ndarray, order: np.ndarray) -> np.ndarray:
    """Say which lines that their status takes back are themselves the sale: they count as none.

    A line takes back another only where sales of its order and product, in any file of its source, are as many
    bottles; without an order number, where as many were sold in one line shortly before.

    every: day, product, bottles, kind, file, cancelled; source, order: numbers for each line, order -1 for none.
    """
    back = every["cancelled"].to_numpy()
    if not back.any():
        return back
    key = pd.DataFrame({"source": source, "order": order, "product": every["product"]})
    near = key["product"].isin(key["product"][back].unique()) & (key["order"].isin(key["order"][back].unique()))
    lines = key[near].assign(file=every["file"], bottles=every["bottles"], day=every["day"])
    sold = lines[(every["kind"][near] == "sale").to_numpy()]
    lines = lines[back[near]]
    is_sale = np.zeros(len(every), dtype="bool")
    is_sale[lines.index] = np.where(lines["order"] >= 0, ~_covered(lines, sold), ~_paired(lines, sold))
    return is_sale


_KEY = ["source", "order", "product"]


def _covered(back: pd.DataFrame, sold: pd.DataFrame) -> np.ndarray:
    """Say which lines' bottles are no more than were sold in their order, by the file that has most of it."""
    most, taken = (
        lines.groupby([*_KEY, "file"])["bottles"].sum().abs().groupby(_KEY).max().rename(name).reset_index()
        for name, lines in (("most", sold), ("taken", back))
    )
    both = back[_KEY].merge(taken, on=_KEY, how="left").merge(most, on=_KEY, how="left")
    return (both["most"].fillna(0) >= both["taken"]).to_numpy()


def _paired(back: pd.DataFrame, sold: pd.DataFrame) -> np.ndarray:
    """Say for which lines as many bottles of the product were sold in one line shortly before."""
    days = sold.groupby(["source", "product", "bottles"])["day"].agg(list).to_dict()
    found = []
    for source, product, bottles, day in back[["source", "product", "bottles", "day"]].itertuples(index=False):
        before = days.get((source, product, -bottles), [])
        found.append(any(day - SHORTLY <= sale <= day for sale in before))
    return np.array(found, dtype="bool")


def _folds(read: pd.DataFrame) -> np.ndarray:
    """Return a number for each line's item, the same for names that are alike."""
    names = [folded_name(item) for item in read["item"].cat.categories]
    return pd.factorize(np.array(names, dtype=object))[0][read["item"].cat.codes]


def paid_back(read: pd.DataFrame) -> pd.Series:
    """Say which lines pay back something sold: bottles above zero at a price below it that was paid for the item."""
    negative = (read["price"] < 0) & (read["bottles"] > 0)
    if not negative.any():
        return negative
    items, cents = _folds(read), (read["price"].abs() * 100).round()
    lines = pd.DataFrame({"item": items, "cents": cents}, index=read.index)
    sold = lines[(read["price"] > 0) & (read["bottles"] > 0)].drop_duplicates()
    known = lines[negative].merge(sold.assign(known=True), on=["item", "cents"], how="left")["known"].notna()
    return negative & pd.Series(known.to_numpy(), index=read.index[negative]).reindex(read.index, fill_value=False)


def takes_back(read: pd.DataFrame, unpriced: pd.Series) -> pd.Series:
    """Say which of the negative lines without any price take back a sale: the same item and bottles shortly before."""
    result = pd.Series(False, index=read.index)
    if not unpriced.any():
        return result
    lines = pd.DataFrame({"fold": _folds(read), "day": read["day"], "bottles": read["bottles"]}, index=read.index)
    lines = lines[lines["fold"].isin(lines.loc[unpriced, "fold"].unique()) & lines["day"].notna()]
    sold: dict[tuple[int, float], list[pd.Timestamp]] = {}
    for at, item, day, bottles in lines.sort_values("day", kind="stable").itertuples(name=None):
        if bottles > 0:
            sold.setdefault((item, bottles), []).append(day)
        elif unpriced[at] and (before := sold.get((item, -bottles))) and day - before[-1] <= SHORTLY:
            before.pop()
            result[at] = True
    return result
