"""Which lines are totals: by a word that says so, or by an amount that is the sum of the lines above."""

import re

import numpy as np
import pandas as pd

from planner.month_names import month_number
from planner.sales.distinct import by_text
from planner.sales.names import folded_name
from planner.settings import Export
from planner.values import numbers

# words for a total in the languages that tills and spreadsheets speak, as names are folded
_TOTALS = (
    "total totals subtotal subtotals grandtotal sum summe gesamt gesamtsumme zwischensumme endsumme totale subtotale "
    "soustotal totalgénéral totaal subtotaal suma razem celkem summa yhteensä toplam итого всего σύνολο"
)
TOTALS = frozenset(_TOTALS.split())
# words that may stand beside it: "Grand Total (EUR)", "Total for March 2026", "Subtotal (2 items)"
_BESIDE = (
    "grand sub net gross general général generale for of in from to and the per all page items lines orders sales day "
    "week month year quarter eur usd gbp chf cad aud für der die das des im vom bis de du le la les del di da tot van"
)
BESIDE = frozenset(_BESIDE.split())
CENT = 0.006  # sums are compared to the cent


def names_a_total(text: str) -> bool:
    """Say whether a text is a word for a total, alone or beside months, years and the like.

    >>> names_a_total("Grand Total (EUR)"), names_a_total("Summe März 2026"), names_a_total("Total Eclipse")
    (True, True, False)
    """
    if folded_name(text) in TOTALS:
        return True
    words = re.findall(r"[^\W\d_]+", text.casefold()) if len(text) < 60 else []
    others = [word for word in words if word not in TOTALS]
    return len(others) < len(words) and all(word in BESIDE or month_number(word) for word in others)


def totals(read: pd.DataFrame, lines: pd.DataFrame, export: Export, back: pd.Series, is_known: np.ndarray) -> pd.Series:
    """Say which lines are totals: by a word, or with no item by an amount or bottles that are the sum above.

    Where such a line has a day, all that it states must be the sum of two lines or more: it may be a sale that lost its
    item.

    read: day, bottles, price as values; lines: the same lines as text; back: where the bottles come back; is_known: for
    each category of item whether a scent or gift set is called so.
    """
    no_item, no_day = by_text(lines["item"], lambda text: not text), read["day"].isna()
    total = by_text(lines["item"], names_a_total) & ~is_known[lines["item"].cat.codes]
    total |= by_text(lines["day"], names_a_total) & no_day
    odd = lines.loc[no_item | no_day, "order"]
    total[odd.index] |= by_text(odd.cat.remove_unused_categories(), names_a_total)
    unnamed = (no_item & ~total).to_numpy()
    if not unnamed.any():
        return total
    amount = numbers(lines["amount"], export.decimal)[0]
    each = read["bottles"] * read["price"]
    paid, stated = (each, numbers(lines["price"], export.decimal)[0]) if amount.isna().all() else (amount, amount)
    signs = 1 - 2 * (back & (read["bottles"] > 0))
    skipped = unnamed | total.to_numpy()
    fits, said = [], []
    for above, here in ((read["bottles"], read["bottles"]), (paid, stated)):
        both = [_is_sum_above((above * sign).to_numpy(), here.to_numpy(), skipped) for sign in (1, signs)]
        fits.append(both[0] | both[1])
        said.append(here.notna().to_numpy())
    some, every = np.any(fits, axis=0), np.all(np.array(fits) | ~np.array(said), axis=0)
    is_sum = np.where(no_day, some, some & every & (_lines_since(skipped) > 1))
    return total | (unnamed & is_sum)


def _last_skipped(skipped: np.ndarray) -> np.ndarray:
    """Return for each line the number of the last skipped line above it, -1 for none."""
    last = np.maximum.accumulate(np.where(skipped, np.arange(len(skipped)), -1))
    return np.concatenate([[-1], last[:-1]])


def _lines_since(skipped: np.ndarray) -> np.ndarray:
    return np.arange(len(skipped)) - _last_skipped(skipped) - 1


def _is_sum_above(above: np.ndarray, here: np.ndarray, skipped: np.ndarray) -> np.ndarray:
    """Say where `here` is the sum of all `above`, or of those since the last line that may be a total."""
    sums = np.cumsum(np.where(skipped | np.isnan(above), 0, above))
    before = _last_skipped(skipped)
    since = sums - np.where(before >= 0, sums[before], 0)
    return (here != 0) & ((np.abs(here - sums) < CENT) | (np.abs(here - since) < CENT))
