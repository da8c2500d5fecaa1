"""The check on the maker's own past: forecasts from a past Monday, and what happened then."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.season.draws import ALL_SCENTS, QUANTILES, Season, draw_paths, fit_season
from planner.season.history import History, known_rows, read_history, season_days, weeks_between
from planner.season.scores import pinball
from planner.season.silence import without_silence
from planner.settings import Settings

DAY = pd.Timedelta(days=1)
AFTER_LAST = pd.Timedelta(weeks=2)  # a day by which every week of a table is over
LEAD = pd.Timedelta(weeks=3)  # the forecast is made so long before the season: about when the last batches are planned
FEWEST_WEEKS = 40  # of history before a forecast is judged: less says nothing of Christmas and little of anything
MOST_SEASONS = 4
PACE_WEEKS = 8
YEAR = pd.Timedelta(weeks=52)
FEW = 10  # bottles: a percentage of fewer says nothing
FEWEST_PAIRS = 13  # weeks with a known week a year before: fewer do not tell what is an ordinary error
GROWTH_LIMITS = (0.5, 2.0)  # growth over last year is believed between half and double
OURS, LAST_YEAR, GROWN, RECENT = (
    "our model",
    "same weeks last year",
    "last year times growth",
    "pace of the last 8 weeks",
)
METHODS = (OURS, LAST_YEAR, GROWN, RECENT)
HELD = {"held_50": ("p25", "p75"), "held_80": ("p10", "p90"), "held_90": ("p05", "p95")}

SCORES = ("origin", "scent", "method", "bottles", "mean", "abs_error", "scaled_error", "pinball", "weeks")
RANGES = ("origin", "scent", "bottles", "mean", *QUANTILES)
SUMMARY = ("method", "pinball", "abs_error", "mase", "ratio_to_last_year", *HELD, "of", "bias_pct")


class PastCheck(NamedTuple):
    """What the forecasts of past seasons were worth.

    scores: one row an origin, scent (and all scents) and method. ranges: our ranges and what was sold. summary: one row
    a method. sentence: the finding in words, or why nothing could be checked. Errors are of season totals; only
    scaled_error is of weeks (or months), in units of what the same weeks of a year before missed in the years before
    the forecast (MASE; unknown with less than a year and a quarter).
    """

    scores: pd.DataFrame
    ranges: pd.DataFrame
    summary: pd.DataFrame
    sentence: str


def check_on_past(
    demand: pd.DataFrame,
    scents: pd.DataFrame,
    calendar: pd.DataFrame,
    settings: Settings,
    rng: np.random.Generator,
    count: int = 400,
) -> PastCheck:
    """Forecast each past season from three weeks before it and compare with what was sold while it was on the shelf.

    Of each forecast week only the share counts that the scent was on the shelf, so a sold-out week is no miss. Leaving
    such weeks out would be more unfair: they are sold out because much was wanted. One giant order, and weeks in which
    the whole shop sold nothing, count neither way. Even so a forecast looks high in a
    season that was often sold out. A method that gives one number is scored as if that were all its quantiles.
    """
    end = demand["week"].max() + AFTER_LAST
    rows = without_silence(known_rows(demand, end))
    rows = rows[~_giant(rows, read_history(demand, scents, calendar, settings, end))] if len(rows) else rows
    sold, shelf = _wide(rows, "bottles"), (_wide(rows, "shelf_days") / 7).clip(0, 1).fillna(0.0)
    parts = []
    for first_day, last_day in _past_windows(sold, settings):
        origin = origin_of(first_day)
        share = shelf.loc[_whole_weeks(first_day, last_day, sold), sold.loc[: origin - DAY].notna().any()]
        if (share > 0).any(axis=None):
            before = demand[demand["week"] < origin]
            model = fit_season(before, scents[scents["scent"].isin(share.columns)], calendar, settings, origin)
            counted = _foresee(model, share, count, rng)
            parts.append(_compare(origin, counted, _simple(sold, share, origin), share, sold))
    if not parts:
        return _nothing(sold)
    table = pd.concat(parts, ignore_index=True)
    scores = _scores(table)
    summary = _summary(scores, table)
    return PastCheck(scores, table[list(RANGES)], summary, _sentence(summary, table))


def _giant(rows: pd.DataFrame, history: History) -> np.ndarray:
    """Return which rows hold one order out of all proportion; nothing foresees it, and no forecast is judged by it."""
    scent = pd.Index(history.scents).get_indexer(rows["scent"])
    week = weeks_between(rows["week"].to_numpy("datetime64[D]"), history.weeks[0]).astype(int)
    return history.giants[scent, week]


def _wide(rows: pd.DataFrame, column: str) -> pd.DataFrame:
    """Return weeks by scents over all weeks from first to last; what is unknown is NaN."""
    wide = rows.pivot(index="week", columns="scent", values=column).astype(float)
    return wide if wide.empty else wide.reindex(pd.date_range(wide.index[0], wide.index[-1], freq="7D"))


def _past_windows(sold: pd.DataFrame, settings: Settings) -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Return the seasons that lie inside the history, with enough before them, oldest first."""
    if sold.empty:
        return []
    first, last = sold.index[0], sold.index[-1] + pd.Timedelta(days=6)
    days = season_days(settings, last + pd.Timedelta(days=1))
    windows = []
    for back in range(MOST_SEASONS + 12):
        begin, end = (pd.Timestamp(day) - pd.DateOffset(years=back) for day in (days[0], days[-1]))
        if end <= last and origin_of(begin) - first >= pd.Timedelta(weeks=FEWEST_WEEKS):
            windows.append((begin, end))
    return windows[:MOST_SEASONS][::-1]


def origin_of(first_day: pd.Timestamp) -> pd.Timestamp:
    """Return the Monday three weeks before the week in which the season begins."""
    return first_day - pd.Timedelta(days=first_day.weekday()) - LEAD


def _whole_weeks(first_day: pd.Timestamp, last_day: pd.Timestamp, sold: pd.DataFrame) -> pd.DatetimeIndex:
    """Return the weeks of the season: from that of the first day to the last that is over by the last day."""
    monday = first_day - pd.Timedelta(days=first_day.weekday())
    return pd.date_range(monday, last_day - pd.Timedelta(days=6), freq="7D").intersection(sold.index)


def _foresee(model: Season, share: pd.DataFrame, count: int, rng: np.random.Generator) -> np.ndarray:
    """Return paths of the bottles sold in the share of each week that counts; (path, scent, week)."""
    paths = draw_paths(model, share.index[0], share.index[-1] + pd.Timedelta(days=6), count, rng)
    place = pd.Index(model.scents).get_indexer(share.columns)
    return rng.binomial(paths.bottles[:, place, :], share.to_numpy().T)


def _compare(
    origin: pd.Timestamp, counted: np.ndarray, simple: dict[str, np.ndarray], share: pd.DataFrame, sold: pd.DataFrame
) -> pd.DataFrame:
    """Return one row a scent and one for all: what was sold, our mean and quantiles, what the simple methods say.

    `simple` holds what was sold and what each method says by (week, scent). Columns "scaled" and a method's name hold
    its mean error of a week that counts, in units of an ordinary error.
    """
    totals = counted.sum(axis=2)
    totals = np.column_stack([totals, totals.sum(axis=1)])
    known = {
        name: np.where(np.isnan(weeks).all(axis=0), np.nan, np.nansum(weeks, axis=0)) for name, weeks in simple.items()
    }
    table = pd.DataFrame(known)
    table = pd.concat([table, table.sum(min_count=1).to_frame().T], ignore_index=True)
    table["mean"] = totals.mean(axis=0)
    table[list(QUANTILES)] = np.quantile(totals, list(QUANTILES.values()), axis=0).T
    table["weeks"] = [*share.sum().to_numpy(), (share > 0).any(axis=1).sum()]
    scale = _ordinary_error(sold.loc[: origin - DAY, share.columns])
    for method in METHODS:
        weeks = np.median(counted, axis=0).T if method == OURS else simple[method]
        error = np.where(share.to_numpy() > 0, np.abs(simple["bottles"] - weeks), np.nan)
        table[f"scaled {method}"] = np.append(_mean_known(error) / scale, np.nan)
    table.insert(0, "scent", pd.Series([*share.columns, ALL_SCENTS], dtype="str"))
    table.insert(0, "origin", origin)
    return table[table["weeks"] > 0]


def _ordinary_error(before: pd.DataFrame) -> np.ndarray:
    """Return by how much a week before the forecast differs from that a year earlier, by scent; NaN where not known."""
    off = (before - before.shift(freq=YEAR).reindex(before.index)).abs().to_numpy()
    off = np.where((~np.isnan(off)).sum(axis=0) >= FEWEST_PAIRS, off, np.nan)
    scale = _mean_known(off)
    return np.where(scale > 0, scale, np.nan)


def _mean_known(values: np.ndarray) -> np.ndarray:
    """Return the mean of each column over what is known; NaN where nothing is."""
    known = ~np.isnan(values)
    count = known.sum(axis=0)
    return np.where(count > 0, np.where(known, values, 0.0).sum(axis=0) / np.maximum(count, 1), np.nan)


def _simple(sold: pd.DataFrame, share: pd.DataFrame, origin: pd.Timestamp) -> dict[str, np.ndarray]:
    """Return what was sold (bottles) and what simple methods make of the sales as they stand, by (week, scent).

    Only the share of each week counts that the scent was on the shelf.
    """
    sales, counts = sold[share.columns], share.to_numpy()
    last_year = sales.reindex(share.index - YEAR).to_numpy() * counts
    recent = sales.reindex(pd.date_range(origin - pd.Timedelta(weeks=PACE_WEEKS), periods=PACE_WEEKS, freq="7D")).mean()
    lately = sales.loc[origin - pd.Timedelta(weeks=26) : origin - DAY]
    then = sales.reindex(lately.index - YEAR)
    growth = np.clip(_total(lately) / max(_total(then), 1.0), *GROWTH_LIMITS) if then.notna().any(axis=None) else np.nan
    happened = np.where(counts > 0, sales.loc[share.index].to_numpy(), 0.0)
    pace = recent.to_numpy() * counts
    return {"bottles": happened, LAST_YEAR: last_year, GROWN: last_year * growth, RECENT: pace}


def _total(frame: pd.DataFrame) -> float:
    return float(np.nansum(frame.to_numpy()))


def _scores(table: pd.DataFrame) -> pd.DataFrame:
    parts = []
    for method in METHODS:
        mean = table["mean"] if method == OURS else table[method]
        middle = table["p50"] if method == OURS else mean
        quantiles = {level: table[name] if method == OURS else mean for name, level in QUANTILES.items()}
        loss = sum(pinball(table["bottles"], value, level) for level, value in quantiles.items()) / len(QUANTILES)
        part = table[["origin", "scent", "bottles", "weeks"]].assign(method=method, mean=mean, pinball=loss)
        part["scaled_error"] = table[f"scaled {method}"]
        parts.append(part.assign(abs_error=(table["bottles"] - middle).abs()))
    scores = pd.concat(parts, ignore_index=True).dropna(subset="mean")
    return scores[list(SCORES)].astype({"scent": "str", "method": "str"}).reset_index(drop=True)


def _summary(scores: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    """Return one row a method over the scents (all scents together are left out: they would count twice)."""
    own = scores[scores["scent"] != ALL_SCENTS]
    rows = own.groupby("method", sort=False).agg(
        {"pinball": "mean", "abs_error": "mean", "scaled_error": "mean", "mean": "sum", "bottles": "sum"}
    )
    rows["mase"] = rows["scaled_error"]
    same = own[own["method"].eq(LAST_YEAR)].set_index(["origin", "scent"])["abs_error"]
    rows["ratio_to_last_year"] = [_ratio(own[own["method"] == method], same) for method in rows.index]
    rows["bias_pct"] = 100 * (rows["mean"] / rows["bottles"].where(rows["bottles"] >= FEW) - 1)
    ranges = table[table["scent"] != ALL_SCENTS]
    for name, (low, high) in HELD.items():
        inside = ranges["bottles"].between(ranges[low], ranges[high]).sum()
        rows[name] = pd.array([inside if method == OURS else pd.NA for method in rows.index], dtype="Int64")
    rows["of"] = pd.array([len(ranges) if method == OURS else pd.NA for method in rows.index], dtype="Int64")
    return rows.reset_index()[list(SUMMARY)]


def _ratio(own: pd.DataFrame, same: pd.Series) -> float:
    """Absolute error over that of the same weeks last year, where both are known."""
    both = own.set_index(["origin", "scent"])["abs_error"].to_frame("ours").join(same.rename("naive"), how="inner")
    return float(both["ours"].sum() / both["naive"].sum()) if both["naive"].sum() > 0 else np.nan


def _sentence(summary: pd.DataFrame, table: pd.DataFrame) -> str:
    ours = summary[summary["method"] == OURS].iloc[0]
    seasons = table["origin"].nunique()
    past = "In the last season" if seasons == 1 else f"In the last {seasons} seasons"
    held = "once" if ours["held_80"] == 1 else f"{ours['held_80']} times"
    return f"{past} the 80 % range held {held} of {ours['of']}; {_side(ours['bias_pct'])}."


def _side(bias: float) -> str:
    if not np.isfinite(bias):
        return f"fewer than {FEW} bottles were sold, too few to say whether the forecast was high or low"
    side = "neither high nor low" if round(bias) == 0 else f"{abs(round(bias))} % {'low' if bias < 0 else 'high'}"
    return f"the forecast was {side} altogether"


def _nothing(sold: pd.DataFrame) -> PastCheck:
    """Return empty tables and the reason."""
    weeks = len(sold)
    sentence = (
        f"The forecast cannot be checked on the past yet: it takes {FEWEST_WEEKS} weeks of sales and then a whole "
        f"season, with a few weeks between, and there {'is' if weeks == 1 else 'are'} "
        f"{weeks or 'no'} week{'s' * (weeks != 1)}{', without such a season in them' * (weeks > FEWEST_WEEKS)}."
    )
    kinds = {"origin": "datetime64[us]", "scent": "str", "method": "str", "of": "Int64", **dict.fromkeys(HELD, "Int64")}
    tables = [
        pd.DataFrame({name: pd.Series(dtype=kinds.get(name, "float64")) for name in columns})
        for columns in (SCORES, RANGES, SUMMARY)
    ]
    return PastCheck(tables[0], tables[1], tables[2], sentence)
