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
    "cancelled canceled cancellation refunded refund return void voided returned reversed chargeback failed declined "
    "expired abandoned draft storniert storno retoure erstattung rückgabe avoir reembolso devolución rimborso retour "
    "erstattet retourniert annulé annulée remboursé remboursée cancelado cancelada reembolsado reembolsada devuelto "
    "devolvido annullato annullata rimborsato rimborsata reso geannuleerd terugbetaald annullert refundert annulleret "
    "refunderet avbruten återbetald peruttu hyvitetty anulowane zwrócone"
)
CANCELLED = frozenset(_CANCELLED.split())


def is_cancelled(export: Export) -> Callable[[str], bool]:
    """Return the question whether a status takes the line back: as shop.toml says, else by the usual words."""
    words = frozenset(folded_name(word) for word in export.refund_status) or CANCELLED
    return lambda text: folded_name(text) in words


def is_refund_order(order: str, prefix: str) -> bool:
    """Say whether an order number is a refund's: it begins with what shop.toml says, and no letter follows.

    >>> is_refund_order("R1001", "R"), is_refund_order("ROSE1001", "R"), is_refund_order("R1001", "")
    (True, False, False)
    """
    rest = order.removeprefix(prefix)
    return bool(prefix) and rest != order and not rest[:1].isalpha()


def settle_cancelled(every: pd.DataFrame, source: np.ndarray, order: np.ndarray) -> np.ndarray:
    """Say which lines that their status takes back count as no sale, and make those sales that another line takes back.

    Such a line takes back another only where sales of its order and product, in any file of its source, are as many
    bottles; without an order number, where as many were sold in one line shortly before. Where the order has lines
    of its own that take it back, its status only says so too. Otherwise it is itself the sale: it counts as none.

    every: day, product, bottles, kind, file, cancelled; kind and bottles are changed in place. source, order: numbers
    for each line, order -1 for none.
    """
    back = every["cancelled"].to_numpy()
    if not back.any():
        return back
    key = pd.DataFrame({"source": source, "order": since_the_last(order, every["day"], SHORTLY)})
    key["product"] = every["product"].to_numpy()
    near = key["product"].isin(key["product"][back].unique()) & key["order"].isin(key["order"][back].unique())
    lines = key[near].assign(file=every["file"], bottles=every["bottles"], day=every["day"])
    kind, mine = every["kind"][near], back[near]
    own = (kind == "refund").to_numpy() & ~mine & (lines["order"] >= 0).to_numpy()
    asked = lines[mine]
    has_own = (asked["order"] >= 0).to_numpy() & _covered(asked, lines[own])
    sold = lines[(kind == "sale").to_numpy()]
    takes_back = np.where(asked["order"] >= 0, _covered(asked, sold), _paired(asked, sold))
    is_sale = asked.index[has_own]
    every.loc[is_sale, "bottles"] = every.loc[is_sale, "bottles"].abs()
    every.loc[is_sale, "kind"] = "sale"
    none = np.zeros(len(every), dtype="bool")
    none[asked.index[~has_own & ~takes_back]] = True
    return none


def since_the_last(order: np.ndarray, day: pd.Series, gap: pd.Timedelta) -> np.ndarray:
    """Return a number for each line that also tells orders apart that have one number but lie so far apart in time.

    order: a number for each line, -1 for none, which stays.
    """
    table = pd.DataFrame({"order": order, "day": day.to_numpy()}).sort_values(["order", "day"], kind="stable")
    new = (table["order"].diff() != 0) | (table["day"].diff() > gap)
    return np.where(order < 0, -1, new.cumsum().reindex(range(len(table))).to_numpy())


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
