"""From when to when each scent was for sale: as stated, and else as counts, batches and sales show."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.settings import Settings
from planner.shelf.contradictions import sheet_rows
from planner.shelf.totals import covered_days, spans

# so many bottles outside a scent's time, or in a channel that does not have it, are a stray few: a forerunner, a late
# find, a slip of the hand; judgement
STRAY_BOTTLES, STRAY_SHARE = 3.0, 0.05
# chance below which a scent's first sale is too late for one that had been for sale all along: one in twenty; judgement
LATE_CHANCE = 0.05
GAP_DAYS, FORERUNNERS = 120, 0.01  # lines before such a gap are no beginning of the shop if they are so few of all
NAMED = 3  # scents by name in one sentence


class SellingTime(NamedTuple):
    """Days (down) on which each scent (across) was for sale, of those that the sales files cover."""

    live: np.ndarray
    problems: list[Problem]


def selling_time(
    sales: pd.DataFrame,
    scents: pd.DataFrame,
    first_there: pd.Series,
    days: pd.DatetimeIndex,
    settings: Settings,
) -> SellingTime:
    """Return when each scent was for sale, and what contradicts that.

    Stated days are kept to, but widened to a scent's sales where more than a stray few lie outside them. Where no first
    day is stated, it is on the shelf from its first sale, or from `first_there` (its first count or batch) if that is
    earlier. It is taken to have been there before, too, since the shop's first sale, where its selling days could by
    chance have come so late among those of the others.
    """
    names = list(scents["scent"])
    said = scents.set_index("scent")[["first_sold", "last_sold"]]
    if not len(sales):
        return SellingTime(np.zeros((len(days), len(names)), bool), [])
    seen = sales.groupby("scent", observed=True)["day"].min().reindex(names)
    shown = pd.concat([seen, first_there.reindex(names)], axis=1).min(axis=1)
    late = _came_late(sales, shown, days)
    begins = _trade_begins(sales)
    unstated = shown.where(late | shown.isna(), np.minimum(shown.fillna(begins), begins)).fillna(days[0])
    launched = late & said["first_sold"].isna() & (shown > begins) & seen.notna()
    first, before = _widened(sales, said["first_sold"], "first_sold", settings)
    last, after = _widened(sales, said["last_sold"], "last_sold", settings)
    first, last = first.fillna(unstated).to_numpy(), last.fillna(days[-1]).to_numpy()
    day = days.to_numpy()[:, None]
    covered = covered_days(sales, settings, days)[:, None]
    rows = pd.Series(sheet_rows(scents).to_numpy(), index=names)
    problems = [_outside(found, rows) for found in (*before, *after)]
    return SellingTime((day >= first) & (day <= last) & covered, [*problems, *_not_stated(shown[launched], rows)])


def is_stray(bottles: float, of: float) -> bool:
    """Say whether so few of a scent's bottles prove nothing."""
    return bottles <= max(STRAY_BOTTLES, STRAY_SHARE * of)


def _came_late(sales: pd.DataFrame, first: pd.Series, days: pd.DatetimeIndex) -> pd.Series:
    """Say of which scents all selling days came later among those of the others than chance allows.

    Had it been for sale all along, each of its selling days would lie anywhere among those of the others: so all of
    them in the last share q with chance q to the power of their number. One that never sold came with its first count.
    """
    selling = sales.loc[sales["kind"] == "sale", ["day", "scent"]].drop_duplicates()
    at = days.searchsorted(selling["day"]), first.index.get_indexer(selling["scent"])
    inside, known = at[0] < len(days), at[1] >= 0
    every = np.bincount(at[0][inside], minlength=len(days))
    mine = np.zeros((len(days), len(first)))
    mine[at[0][inside & known], at[1][inside & known]] = 1.0
    place = np.clip(days.searchsorted(first.fillna(days[0])), 0, len(days) - 1)
    before = np.concatenate([[0], np.cumsum(every)])[place]  # none of its own
    times = mine.sum(axis=0)
    last_part = (every.sum() - times - before + 1) / (every.sum() - times + 1)
    return pd.Series((times == 0) | (last_part**times < LATE_CHANCE), index=first.index) & first.notna()


def _trade_begins(sales: pd.DataFrame) -> pd.Timestamp:
    """Return the first day of the sales without a few forerunners long before all others."""
    lines = sales.groupby("day").size()
    gap = np.diff(lines.index.to_numpy()) > np.timedelta64(GAP_DAYS, "D")
    few = lines.cumsum().to_numpy()[:-1] <= FORERUNNERS * len(sales)
    after = np.flatnonzero(gap & few)
    return pd.Timestamp(lines.index[after[-1] + 1 if len(after) else 0])


class _Outside(NamedTuple):
    scent: str
    column: str
    limit: pd.Timestamp
    first: pd.Timestamp
    last: pd.Timestamp
    bottles: float
    of: float


def _widened(
    sales: pd.DataFrame, limit: pd.Series, column: str, settings: Settings
) -> tuple[pd.Series, list[_Outside]]:
    """Return the stated days, widened to sales where more than a stray few lie outside, and all that lie outside."""
    sold = sales[(sales["kind"] == "sale") & sales["scent"].isin(limit.index[limit.notna()])]
    if sold.empty:
        return limit, []
    whole = spans(sold, settings)
    mine = sold["scent"].map(limit)
    is_first = column == "first_sold"
    out = sold[(whole["last"] < mine) if is_first else (whole["first"] > mine)]
    total = sold.groupby("scent", observed=True)["bottles"].sum()
    limit, found = limit.copy(), []
    for scent, lines in out.groupby("scent", observed=True):
        bottles = float(lines["bottles"].sum())
        one = _Outside(str(scent), column, limit[scent], lines["day"].min(), lines["day"].max(), bottles, total[scent])
        found.append(one)
        if not is_stray(one.bottles, one.of):
            limit[scent] = one.first if is_first else one.last
    return limit, found


def _outside(found: _Outside, rows: pd.Series) -> Problem:
    is_first = found.column == "first_sold"
    day = found.first if is_first else found.last
    side = "before" if is_first else "after"
    what = (
        f"{found.scent}: {found.bottles:,.0f} of its {found.of:,.0f} bottles were sold {side} "
        f"{found.limit:%Y-%m-%d}, {'first' if is_first else 'last'} on {day:%Y-%m-%d}."
    )
    kept = f"It counts as for sale {'from' if is_first else 'to'} that day; put the day in scents.csv right."
    stray = "So few do not change when it was for sale, and are in no pace; put the day right if it is wrong."
    todo = stray if is_stray(found.bottles, found.of) else kept
    return Problem("scents.csv", int(rows[found.scent]), found.column, what, todo, stops=False)


def _not_stated(launched: pd.Series, rows: pd.Series) -> list[Problem]:
    """Return one note for the scents that count as launched though no day is stated."""
    if launched.empty:
        return []
    launched = launched.sort_values()
    said = [f"{scent} ({day:%Y-%m-%d})" for scent, day in launched.head(NAMED).items()]
    more = f" and {len(launched) - NAMED} more" if len(launched) > NAMED else ""
    what = f"is empty for {', '.join(said)}{more}, first there later than chance allows, were they for sale all along."
    todo = "Each counts as launched on the day beside its name; write the days."
    return [Problem("scents.csv", int(rows[launched.index[0]]), "first_sold", what, todo, stops=False)]
