"""Weeks that a maker's totals stand for: on which weekday they begin, and how they fall on weeks from Monday."""

import re
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.settings import WEEKDAYS, Export, Settings
from planner.shelf.totals import week_begins

NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
SATURDAY, SUNDAY = 5, 6
# words of a heading that say which end of the week its day is; common practice, no source
LAST_DAY = re.compile(r"\b(end|ends|ending|ended|until|through|thru|w/?e|bis|ende|endet|endend|fin)\b", re.IGNORECASE)
FIRST_DAY = re.compile(
    r"\b(of|from|start|starts|starting|begin|begins|beginning|commencing|w/?c|w/?b|ab|von|vom|beginn|début|debut)\b",
    re.IGNORECASE,
)
USUAL_ROWS = 4  # rows before the last one that say what a whole week sells
A_YEAR = 52  # rows
FAR_BETTER = (
    0.85  # of squared misses: 52 to 104 weeks of a simulated shop are closer than that the right way (judgement)
)
FEW_GONE = 5  # of a week; once more are gone, its total so far looks like that of a whole week


class WeekTotals(NamedTuple):
    """Sales with each weekly total on the weeks from Monday it lies in, settings that say when weeks begin, notes."""

    sales: pd.DataFrame
    settings: Settings
    problems: list[Problem]


def week_totals(
    sales: pd.DataFrame, settings: Settings, today: pd.Timestamp, usual: pd.Series | None = None
) -> WeekTotals:
    """Return the sales (table sales) with weekly totals cut where a week from Monday begins, by the share of days.

    Where shop.toml does not say on which weekday the weeks of an export begin, and all its rows are dated one weekday:
    a heading like "week ending" or "week of" decides. Without one, a Sunday is the week's last day if the newest row
    is too young to be a week from its day and yet as large as one, or if a year and more of weeks follow `usual` (what
    a usual shop sells, by day) far better so, and else its first day; a Saturday is the last day
    of a week from Sunday; any other day stands for the week from Monday that it lies in. The weeks of rows on several
    weekdays begin on Monday. What is not stated and not a Monday is said. A week that is not over by `today` is cut by
    the days that are gone. Bottles of a line stay whole, and add up. Lines are numbered anew.
    """
    if not any(export.totals == "week" for export in settings.exports):
        return WeekTotals(sales, settings, [])
    of_export = _exports_of(sales, settings)
    read = [_read_start(one, sales[of_export == at], today, usual) for at, one in enumerate(settings.exports)]
    settings = replace(settings, exports=tuple(export for export, _ in read))
    problems = [note for _, note in read if note]
    starts = {at: WEEKDAYS.index(one.week_starts or "Mon") for at, one in enumerate(settings.exports)}
    weekly = of_export.isin([at for at, one in enumerate(settings.exports) if one.totals == "week"])
    if not weekly.any():
        return WeekTotals(sales, settings, problems)
    cut = _cut(sales[weekly], of_export[weekly].map(starts), today)
    whole = pd.concat([sales[~weekly], cut.astype({"bottles": sales["bottles"].dtype})], ignore_index=True)
    whole = whole.assign(line=np.arange(1, len(whole) + 1)).astype({"line": sales["line"].dtype})
    return WeekTotals(whole, settings, problems)


def _exports_of(sales: pd.DataFrame, settings: Settings) -> pd.Series:
    """Return the place among the settings' exports of each line, -1 where it is of none."""
    place: dict[object, int] = {}
    for name in sales["file"].unique():
        found = settings.export_of(str(name))
        place[name] = next((at for at, one in enumerate(settings.exports) if one is found), -1)
    return sales["file"].map(place).fillna(-1).astype("int64")


def _read_start(
    export: Export, sales: pd.DataFrame, today: pd.Timestamp, usual: pd.Series | None
) -> tuple[Export, Problem | None]:
    """Return the export with the weekday its weeks begin on, and a note where that was not stated and is no Monday."""
    sold = sales[sales["kind"] == "sale"]
    weekdays = sold["day"].dt.day_of_week.unique()
    if export.totals != "week" or export.week_starts or not len(weekdays):
        return export, None
    if len(weekdays) > 1:
        return replace(export, week_starts="Mon"), None
    day = int(weekdays[0])
    by_week = sold.groupby("day")["bottles"].sum()
    start, why = _by_words(day, export.columns.get("day", "")) or _by_newest(by_week, today) or _by_year(by_week, usual)
    read = replace(export, week_starts=WEEKDAYS[start])
    return read, None if start == day == 0 else _note(export, day, start, why)


def _by_words(day: int, heading: str) -> tuple[int, str] | None:
    """Return the weekday on which the weeks of rows dated on weekday `day` begin, and why; None for a mere Sunday."""
    if LAST_DAY.search(heading):
        return (day + 1) % 7, f"its heading is '{heading}'"
    if FIRST_DAY.search(heading):
        return day, f"its heading is '{heading}'"
    if day == SATURDAY:
        return SUNDAY, "such weeks usually begin on Sunday"
    return None if day == SUNDAY else (0, "weeks usually begin on Monday")


def _by_newest(sold: pd.Series, today: pd.Timestamp) -> tuple[int, str] | None:
    """Return what the newest row of weeks dated Sundays says: it is of a week gone, or of one begun."""
    gone = max((today - sold.index[-1]).days, 1)
    if gone > FEW_GONE or len(sold) < 2:
        return None
    usual = float(sold.iloc[-1 - USUAL_ROWS : -1].median())
    newest, so_far = sold.iloc[-1] + 0.5, usual * gone / 7 + 0.5
    if newest**2 > so_far * (usual + 0.5):  # nearer to a whole week, in times
        return 0, f"the newest row, {sold.index[-1]:%Y-%m-%d}, is as large as a whole week"
    return SUNDAY, f"the newest row, {sold.index[-1]:%Y-%m-%d}, is only as large as a week begun"


def _by_year(sold: pd.Series, usual: pd.Series | None) -> tuple[int, str]:
    """Return what the year says of weeks dated Sundays: the way in which they follow what is usual far better."""
    if usual is not None and len(sold) >= A_YEAR:
        weeks = usual.rolling(7).sum()  # by their last day
        miss = [_miss(sold, weeks, last) for last in (0, 6)]
        if miss[0] < FAR_BETTER * miss[1]:
            return 0, "they follow a usual year better so"
        if miss[1] < FAR_BETTER * miss[0]:
            return SUNDAY, "they follow a usual year better so"
    return SUNDAY, "nothing says which"


def _miss(sold: pd.Series, weeks: pd.Series, last: int) -> float:
    """Return how far, squared, weeks that end `last` days after their date are from usual ones and a line; logs."""
    x = np.arange(len(sold)) - (len(sold) - 1) / 2
    off = np.log(sold.to_numpy(float) + 0.5) - np.log(weeks.reindex(sold.index + pd.Timedelta(days=last)).to_numpy())
    off = off - off.mean()
    return float(((off - (off @ x) / (x @ x) * x) ** 2).sum())


def _note(export: Export, day: int, start: int, why: str) -> Problem:
    last = (start + 6) % 7
    what = (
        f"The rows are totals of weeks, dated {NAMES[day]}s: they are taken for weeks from {NAMES[start]} to "
        f"{NAMES[last]}, since {why}."
    )
    other = WEEKDAYS[(day + 1) % 7 if start == day else day]
    todo = f'If that is wrong, write the day they begin on beside totals in shop.toml, like week_starts = "{other}".'
    return Problem(export.files, 0, export.columns.get("day", ""), what, todo, stops=False)


def _cut(sales: pd.DataFrame, start: pd.Series, today: pd.Timestamp) -> pd.DataFrame:
    """Return each line in two: on the first day of its week, and on the Monday in it, by the share of days."""
    begin = week_begins(sales["day"], start)
    monday = begin + pd.to_timedelta((7 - start) % 7, unit="D")
    newest = np.maximum(begin, np.minimum(begin + pd.Timedelta(days=6), today - pd.Timedelta(days=1)))
    gone = (newest - begin).dt.days + 1
    share = ((monday - begin).dt.days / gone).clip(upper=1.0)
    sales = sales.assign(negative=sales["bottles"] < 0, part=sales["bottles"].astype("float64") * share)
    ordered = sales.assign(begin=begin, monday=monday).sort_values("begin", kind="stable")
    # rounded sums and not sums of rounded parts: one bottle a week falls on a Sunday one week in seven
    so_far = ordered.groupby(["file", "channel", "scent", "kind", "negative"], dropna=False)["part"].cumsum()
    before = np.floor(so_far.round(9) + 0.5) - np.floor((so_far - ordered["part"]).round(9) + 0.5)
    early = ordered.assign(day=ordered["begin"], bottles=before.astype("int64"))
    late = ordered.assign(day=ordered["monday"], bottles=ordered["bottles"].astype("int64") - before.astype("int64"))
    parts = pd.concat([late, early[early["bottles"] != 0]]).sort_index(kind="stable")
    parts = parts[(parts["bottles"] != 0) | (sales["bottles"] == 0).reindex(parts.index)]
    return parts.drop(columns=["negative", "part", "begin", "monday"])
