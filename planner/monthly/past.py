"""The check on past seasons of whole months: forecasts from a month before them, and what happened then."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.monthly.foresee import foresee_months
from planner.monthly.lastyear import half_drift
from planner.monthly.months import Months, as_if_open

ALL_SCENTS = "all scents"
OURS, LAST_YEAR, GROWN = "our model", "same months last year", "last year times half its growth"
FEW = 10  # bottles: a percentage of fewer says nothing
QUANTILES = {"p05": 0.05, "p10": 0.1, "p25": 0.25, "p50": 0.5, "p75": 0.75, "p90": 0.9, "p95": 0.95}  # as in forecast
HELD = {"held_50": ("p25", "p75"), "held_80": ("p10", "p90"), "held_90": ("p05", "p95")}
FEWEST_MONTHS = 10  # before a forecast is judged: less says nothing of Christmas and little of anything
MOST_SEASONS = 4
LEAD = 1  # a month is skipped between what is known and the season: batches are planned about then


class MonthsCheck(NamedTuple):
    """What forecasts of past seasons were worth: tables and sentence of the same columns as for weeks."""

    scores: pd.DataFrame
    ranges: pd.DataFrame
    summary: pd.DataFrame
    sentence: str


def check_months(
    series: Months,
    season: Sequence[int],
    count: int,
    rng: np.random.Generator,
    profile: np.ndarray,
    opened: np.ndarray | None = None,
) -> MonthsCheck:
    """Forecast past seasons of whole months and compare with what was sold.

    `season` names the calendar months of one season in order, like 10, 11, 12. Months in which a scent was not on sale
    count neither for nor against. `opened` (month,) is the share of each month that the shop was not closed: closures
    were in its calendar, so our forecast knows of them; the simple methods do not.
    """
    opened = np.ones(len(series.months)) if opened is None else opened
    parts = []
    for first in _past_seasons(series, season):
        before = Months(series.values[:, : first - LEAD], series.names, series.months[: first - LEAD], series.period)
        seen = ~np.isnan(before.values).all(axis=1)
        before = Months(before.values[seen], tuple(np.array(series.names)[seen]), before.months, series.period)
        happened = series.values[seen, first : first + len(season)]
        if len(before.names) and (~np.isnan(happened)).any():
            whole = as_if_open(before, opened[: first - LEAD])
            paths = foresee_months(whole, LEAD + len(season), count, rng, profile)[:, :, LEAD:]
            paths = paths * opened[first : first + len(season)]
            parts.append(_compare(before, happened, paths, series.months[first]))
    if not parts:
        return _nothing(len(series.months))
    table = pd.concat(parts, ignore_index=True)
    scores = _scores(table)
    summary = _summary(scores, table)
    return MonthsCheck(scores, table[["origin", "scent", "bottles", "mean", *QUANTILES]], summary, _say(summary, table))


def _past_seasons(series: Months, season: Sequence[int]) -> list[int]:
    """Return where past seasons begin that lie inside the history with enough before them, oldest first."""
    whole = np.arange(len(series.months)) <= len(series.months) - len(season)
    begins = np.flatnonzero((series.months.month == season[0]) & whole)
    return [int(first) for first in begins if first - LEAD >= FEWEST_MONTHS][-MOST_SEASONS:]


def _compare(before: Months, happened: np.ndarray, paths: np.ndarray, begins: pd.Timestamp) -> pd.DataFrame:
    """Return one row a scent and one for all: what was sold, our quantiles, what the simple methods say."""
    known = ~np.isnan(happened)
    kept = known.any(axis=1)
    months = LEAD + happened.shape[1]
    year = before.values[:, -before.period :]
    naive = year[:, np.arange(months) % year.shape[1]][:, LEAD:]
    grown = half_drift(before.values, months, before.period)[:, LEAD:]
    columns = {"bottles": happened, LAST_YEAR: naive, GROWN: grown}
    sums = {name: np.where(known, value, 0.0).sum(axis=1)[kept] for name, value in columns.items()}  # NaN stays NaN
    ours = np.where(known, paths, 0.0).sum(axis=2)[:, kept]
    whole = np.column_stack([ours, ours.sum(axis=1)])
    by_method = {OURS: np.median(paths, axis=0), LAST_YEAR: naive, GROWN: grown}
    scaled = {name: _scaled(before, np.abs(value - happened))[kept] for name, value in by_method.items()}
    table = pd.DataFrame({name: np.append(value, np.nansum(value)) for name, value in sums.items()})
    table["mean"] = whole.mean(axis=0)
    table[list(QUANTILES)] = np.quantile(whole, list(QUANTILES.values()), axis=0).T
    table["weeks"] = np.append(known.sum(axis=1)[kept], known.any(axis=0).sum()) * 52 / before.period
    for name, value in scaled.items():
        table[f"scaled {name}"] = np.append(value, np.nan)
    table.insert(0, "scent", pd.Series([*np.array(before.names)[kept], ALL_SCENTS], dtype="str"))
    table.insert(0, "origin", begins - pd.DateOffset(months=LEAD))
    return table


def _scaled(before: Months, error: np.ndarray) -> np.ndarray:
    """Return the mean error of a month in units of what the month a year earlier missed before the forecast (MASE)."""
    year = before.period
    ordinary = _mean_known(np.abs(before.values[:, year:] - before.values[:, :-year]))
    return _mean_known(error) / np.where(ordinary > 0, ordinary, np.nan)


def _mean_known(values: np.ndarray) -> np.ndarray:
    """Return the mean of each row over what is known; NaN where nothing is."""
    known = ~np.isnan(values)
    return np.where(
        known.any(axis=1), np.where(known, values, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1), np.nan
    )


def _scores(table: pd.DataFrame) -> pd.DataFrame:
    parts = []
    for method in (OURS, LAST_YEAR, GROWN):
        mean = table["mean"] if method == OURS else table[method]
        middle = table["p50"] if method == OURS else mean
        loss = 0.0
        for name, level in QUANTILES.items():
            short = table["bottles"] - (table[name] if method == OURS else mean)
            loss = loss + np.maximum(level * short, (level - 1) * short) / len(QUANTILES)
        part = table[["origin", "scent", "bottles", "weeks"]].assign(method=method, mean=mean, pinball=loss)
        part["scaled_error"] = table[f"scaled {method}"]
        parts.append(part.assign(abs_error=(table["bottles"] - middle).abs()))
    scores = pd.concat(parts, ignore_index=True).dropna(subset="mean").astype({"scent": "str", "method": "str"})
    columns = ["origin", "scent", "method", "bottles", "mean", "abs_error", "scaled_error", "pinball", "weeks"]
    return scores[columns].reset_index(drop=True)


def _summary(scores: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    """Return one row a method over the scents; all scents together are left out: they would count twice."""
    own, ranges = scores[scores["scent"] != ALL_SCENTS], table[table["scent"] != ALL_SCENTS]
    same = own[own["method"].eq(LAST_YEAR)].set_index(["origin", "scent"])["abs_error"].rename("naive")
    rows = []
    for method, mine in own.groupby("method", sort=False):
        both = mine.set_index(["origin", "scent"])[["abs_error"]].join(same, how="inner").sum()
        ours = method == OURS
        row = {"method": method, "pinball": mine["pinball"].mean(), "abs_error": mine["abs_error"].mean()}
        row["mase"] = mine["scaled_error"].mean()
        row["ratio_to_last_year"] = both["abs_error"] / both["naive"] if both["naive"] > 0 else np.nan
        for name, (low, high) in HELD.items():
            row[name] = int(ranges["bottles"].between(ranges[low], ranges[high]).sum()) if ours else pd.NA
        row["of"] = len(ranges) if ours else pd.NA
        row["bias_pct"] = (
            100 * (mine["mean"].sum() / mine["bottles"].sum() - 1) if mine["bottles"].sum() >= FEW else np.nan
        )
        rows.append(row)
    return pd.DataFrame(rows).astype({"method": "str", "of": "Int64", **dict.fromkeys(HELD, "Int64")})


def _say(summary: pd.DataFrame, table: pd.DataFrame) -> str:
    ours = summary[summary["method"] == OURS].iloc[0]
    seasons = table["origin"].nunique()
    past = "In the last season" if seasons == 1 else f"In the last {seasons} seasons"
    held = "once" if ours["held_80"] == 1 else f"{ours['held_80']} times"
    return f"{past}, by whole months, the 80 % range held {held} of {ours['of']}; {_side(ours['bias_pct'])}."


def _side(bias: float) -> str:
    if not np.isfinite(bias):
        return f"fewer than {FEW} bottles were sold, too few to say whether the forecast was high or low"
    side = "neither high nor low" if round(bias) == 0 else f"{abs(round(bias))} % {'low' if bias < 0 else 'high'}"
    return f"the forecast was {side} altogether"


def _nothing(months: int) -> MonthsCheck:
    """Return empty tables and the reason."""
    sentence = (
        f"The forecast cannot be checked on the past yet: it takes {FEWEST_MONTHS} months of sales, a month more, and "
        f"then a whole season, and there {'is' if months == 1 else 'are'} {months} month{'s' * (months != 1)}."
    )
    kinds = {"origin": "datetime64[us]", "scent": "str", "method": "str", "of": "Int64", **dict.fromkeys(HELD, "Int64")}
    columns = (
        ("origin", "scent", "method", "bottles", "mean", "abs_error", "scaled_error", "pinball", "weeks"),
        ("origin", "scent", "bottles", "mean", *QUANTILES),
        ("method", "pinball", "abs_error", "mase", "ratio_to_last_year", *HELD, "of", "bias_pct"),
    )
    tables = [pd.DataFrame({name: pd.Series(dtype=kinds.get(name, "float64")) for name in names}) for names in columns]
    return MonthsCheck(tables[0], tables[1], tables[2], sentence)
