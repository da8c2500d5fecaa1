"""What would change the forecast most: the season drawn again with one thing different each time."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from planner.season.calendar import DAY, FEATURES, KNOTS
from planner.season.draws import Season, draw_paths
from planner.season.history import Trade, weeks_between
from planner.season.priors import BLOCK_WEEKS, PEAK
from planner.tables import Paths

EARLIER = 7  # days by which the posts may move their last day before Christmas (judgement)
NEW_WEEKS = 52  # a scent on sale for less than a year is a new one
NAMED = 3  # scents most affected that are named
FEW = 10  # bottles: a share of fewer says nothing
LEAST = 0.5  # bottles: a smaller change is chance in the drawing
DRAWN = 400  # sample paths of each case: all cases are drawn with the same chance, so differences need few

PLANNED = {  # kind of event: what would be without it, one or several
    "market": ("without the market in the calendar", "without the {} markets in the calendar"),
    "promotion": ("without the promotion in the calendar", "without the {} promotions in the calendar"),
    "closed": ("open when the calendar says closed", "open the {} times the calendar says closed"),
}
COLUMNS = ("what", "change", "change_share", "most_affected")


def what_would_change(
    model: Season,
    paths: Paths,
    first: pd.Timestamp,
    last: pd.Timestamp,
    seed: int,
    others: Mapping[str, Season] | None = None,
) -> pd.DataFrame:
    """Return how the season's mean would differ with one thing changed: what, change, change_share, most_affected.

    `paths` are those of the forecast from `first` to `last`; `change` is in bottles of all scents. `others` are seasons
    learned otherwise, by what was different. The strongest stands first; what changes nothing is left out.
    """
    usual, rows = _mean(model, first, last, seed), []
    for what, other in [*_other_seasons(model, first, last), *(others or {}).items()]:
        rows.append((what, _mean(other, first, last, seed) - usual))
    return _table(rows + _newest(model, paths), usual.sum(), model.scents)


def what_newest_would_change(model: Season, paths: Paths) -> pd.DataFrame:
    """Return the same for the newest scent alone, from its own range: nothing is drawn again."""
    return _table(_newest(model, paths), paths.bottles.sum(axis=(1, 2)).mean(), paths.scents)


def _mean(model: Season, first: pd.Timestamp, last: pd.Timestamp, seed: int) -> np.ndarray:
    """Return the mean bottles of each scent; drawn with the same chance in every case."""
    return draw_paths(model, first, last, DRAWN, np.random.default_rng(seed)).bottles.sum(axis=2).mean(axis=0)


def _table(rows: list[tuple[str, np.ndarray]], whole: float, scents: tuple[str, ...]) -> pd.DataFrame:
    table = pd.DataFrame(
        [
            (what, by.sum(), by.sum() / whole if whole >= FEW else np.nan, _most(by, scents))
            for what, by in rows
            if abs(by.sum()) >= LEAST
        ],
        columns=list(COLUMNS),
    ).astype({"what": "str", "change": "float64", "change_share": "float64", "most_affected": "str"})
    return table.iloc[table["change"].abs().argsort(kind="stable")[::-1]].reset_index(drop=True)


def _other_seasons(model: Season, first: pd.Timestamp, last: pd.Timestamp) -> Iterator[tuple[str, Season]]:
    """Yield what is changed and the season so changed."""
    trade = model.history.trade
    year = last.year + ((last.month, last.day) < (2, 1)) * -1
    day = pd.Timestamp(year=year, month=trade.posting[0], day=trade.posting[1]) - pd.Timedelta(days=EARLIER)
    if first <= day <= last:
        earlier = replace(trade, cut=(day.month, day.day))
        what = f"posting ends {EARLIER} days earlier, on {day.day} {day:%b}, and nobody buys sooner for it"
        yield what, _with_trade(model, earlier)
    ends = trade.calendar["last_day"].fillna(trade.calendar["first_day"])
    planned = (trade.calendar["first_day"] <= last) & (ends >= first)
    for kind, words in PLANNED.items():
        gone = planned & trade.calendar["kind"].eq(kind)
        if gone.any():
            without = replace(trade, calendar=trade.calendar[~gone])
            yield words[int(gone.sum() > 1)].format(gone.sum()), _with_trade(model, without)
    year_sd, drift_sd = np.sqrt(model.fit.spreads.year), _drift_sd(model, last)
    for side, word in ((-1, "weak"), (1, "strong")):
        yield f"a {word} Christmas, as in one year of six", _with_peak(model, side * year_sd)
    for side, word in ((-1, "loses"), (1, "gains")):
        yield f"the whole shop {word} pace, as in one season of six", _with_level(model, side * drift_sd)


def _with_trade(model: Season, trade: Trade) -> Season:
    return replace(model, history=replace(model.history, trade=trade))


def _with_shared(model: Season, move: np.ndarray) -> Season:
    mode = replace(model.fit.mode, shared=model.fit.mode.shared + move)
    return replace(model, fit=replace(model.fit, mode=mode))


def _with_peak(model: Season, move: float) -> Season:
    """Return the season with a Christmas that is stronger by so much, in log, at its height."""
    change = np.zeros(len(model.fit.mode.shared))
    first = model.fit.weeks.day_effects.start + FEATURES.index(f"Christmas, {KNOTS[0]} days before posting ends")
    change[first : first + len(KNOTS)] = move * PEAK / PEAK[0]
    return _with_shared(model, change)


def _with_level(model: Season, move: float) -> Season:
    return _with_shared(model, move * np.eye(len(model.fit.mode.shared))[0])


def _drift_sd(model: Season, last: pd.Timestamp) -> float:
    """Return how far the shop as a whole drifts until half way to the last day. [log]"""
    weeks = float(weeks_between(np.datetime64(last, "D"), model.history.origin)) / 2
    return float(np.sqrt(model.fit.spreads.drift * max(weeks, 0.0) / BLOCK_WEEKS))


def _newest(model: Season, paths: Paths) -> list[tuple[str, np.ndarray]]:
    """Return what the newest scent at the low and high end of its own range changes."""
    launched, origin, totals = model.history.launched, model.history.origin, paths.bottles.sum(axis=2)
    launched = launched[pd.Index(model.scents).get_indexer(paths.scents)]
    young = (launched > origin - NEW_WEEKS * 7 * DAY) & (totals.max(axis=0, initial=0) > 0)
    if not young.any() or young.all():  # where all are new, none is the newest
        return []
    place = int(np.where(young, launched, np.datetime64("0001-01-01")).argmax())
    rows = []
    for level, word in ((0.1, "low"), (0.9, "high")):
        change = np.zeros(totals.shape[1])
        change[place] = np.quantile(totals[:, place], level) - totals[:, place].mean()
        rows.append((f"{paths.scents[place]}, the newest, at the {word} end of its range", change))
    return rows


def _most(change: np.ndarray, scents: tuple[str, ...]) -> str:
    """Name the scents with the largest change, with bottles."""
    order = np.abs(change).argsort(kind="stable")[::-1][:NAMED]
    return ", ".join(f"{scents[i]} {change[i]:+,.0f}".replace("-", "−") for i in order if abs(change[i]) >= LEAST)
