"""The bench: which days there are, which batches fit on them, and the calendar of what is made when."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.settings import WEEKDAYS, Settings
from planner.tables import STEPS, WHOLE_SHOP, check, empty, listed

MOST_PACKINGS = 20_000  # ways tried to pack batches into days before it counts as not possible
MIXING_ROOM = 1.05  # a vessel must hold the batch and its overage; common practice, no source
WEEK_DAYS = 7


def bench_days(settings: Settings, today: pd.Timestamp, last_day: pd.Timestamp) -> pd.DatetimeIndex:
    """Return the days on which batches can be made, from today to the last day."""
    weekdays = [WEEKDAYS.index(day) for day in settings.bench.days]
    days = pd.date_range(today.normalize(), last_day, freq="D")
    return days[days.day_of_week.isin(weekdays) & ~days.isin(pd.DatetimeIndex(settings.bench.days_off))]


def arrivals(days: pd.DatetimeIndex, rest_days: np.ndarray, first_week: pd.Timestamp) -> np.ndarray:
    """Week in which a batch made on each day counts as on the shelf: `[scent, day]`, 0 being `first_week`.

    The week is the first one that begins when the batch has rested: a batch ready on a Saturday is not counted
    for that Saturday, so a plan never sells a bottle before it is ready.
    """
    after = ((days - first_week) // pd.Timedelta(days=1)).to_numpy()
    return -(-(after[None, :] + rest_days[:, None]) // WEEK_DAYS)


def bench_periods(days: pd.DatetimeIndex, arrival: np.ndarray) -> np.ndarray:
    """Return for each bench day the running number of its period.

    A period is a week's bench days; neighbouring weeks make one period where it does not matter to any scent in
    which of them it is made (long before anything is wanted).
    """
    weeks = (days - pd.to_timedelta(days.day_of_week, unit="D")).to_numpy()
    new_week = weeks[1:] != weeks[:-1]
    last_of_week = np.append(np.flatnonzero(new_week), len(days) - 1)
    same = (arrival[:, last_of_week[1:]] == arrival[:, last_of_week[:-1]]).all(axis=0)
    period_of_week = np.concatenate([[0], np.cumsum(~same)]) if len(days) else np.zeros(0, int)
    return np.repeat(period_of_week, np.diff(np.append(-1, last_of_week))) if len(days) else period_of_week


def pack_days(minutes: Sequence[float], days: int, day_minutes: float) -> list[int] | None:
    """Return the day of each batch so that no day is longer than `day_minutes`, or None where they do not fit.

    First the longest batches, each on the first day that has room; where that fails, every other way.

    >>> pack_days([100, 100, 50, 50, 100], 2, 200)
    [0, 0, 1, 1, 1]
    >>> pack_days([130, 130, 130], 2, 200) is None
    True
    """
    order = sorted(range(len(minutes)), key=lambda batch: -minutes[batch])
    room = day_minutes + 1e-6  # sums of minutes are not exact
    if sum(minutes) > days * room:
        return None
    found = _packing([minutes[batch] for batch in order], days, room)
    if found is None:
        return None
    on = dict(zip(order, found, strict=True))
    return [on[batch] for batch in range(len(minutes))]


def _packing(minutes: list[float], days: int, room: float) -> list[int] | None:
    """Return the first way to pack that is met, depth first; of days that are equally full only one is tried."""
    chosen: list[int] = []
    load = [0.0] * days
    start, tries = 0, 0
    while len(chosen) < len(minutes):
        tries += 1
        need = minutes[len(chosen)]
        options = [day for day in range(start, days) if load[day] + need <= room and load[day] not in load[:day]]
        if tries > MOST_PACKINGS or not (options or chosen):
            return None
        if options:
            chosen.append(options[0])
            load[options[0]] += need
            start = 0
        else:
            start = chosen.pop() + 1
            load[start - 1] -= minutes[len(chosen)]
    return chosen


def day_mixes(sizes: Sequence[float], day_minutes: float, most: int) -> np.ndarray | None:
    """Return the mixes of batches that fill a day, `[mix, size]` batches, or None where there are more than `most`.

    A mix fills the day when no other batch fits in. `sizes` are the minutes a batch of each kind takes.

    >>> day_mixes([60, 100], 240, most=10).tolist()
    [[4, 0], [2, 1], [0, 2]]
    """
    room = day_minutes + 1e-6
    open_mixes: list[tuple[tuple[int, ...], float]] = [((), room)]
    for size in sizes:
        open_mixes = [
            ((*mix, count), left - count * size)
            for mix, left in open_mixes
            for count in range(int(left // size), -1, -1)
        ]
        if len(open_mixes) > most * 25:  # far more than can be left of them
            return None
    full = [mix for mix, left in open_mixes if not sizes or left < min(sizes)]
    return np.array(full, int).reshape(len(full), len(sizes)) if len(full) <= most else None


def bench_table(made: pd.DataFrame, settings: Settings) -> tuple[pd.DataFrame, list[Problem]]:
    """Return the table bench for the batches made, and what is wrong with their vessels.

    `made` has a row for each batch: scent, mix_on, minutes, rest_days, batch_bottles, batch_ml (with overage).
    Mixing and filling fall on one day. Bottles are all that are filled, retained ones included.
    """
    if made.empty:
        return empty(STEPS["bench"]), []
    rows = made.sort_values(["mix_on", "scent"], kind="stable", ignore_index=True)
    rows["batch"] = [f"B{number:02d}" for number in range(1, len(rows) + 1)]
    rows["fill_on"] = rows["mix_on"]
    rows["ready_on"] = rows["fill_on"] + pd.to_timedelta(rows["rest_days"], unit="D")
    rows["bottles"] = rows["batch_bottles"]
    rows["vessel"] = [vessel_for(ml, settings) for ml in rows["batch_ml"]]
    return check(rows, STEPS["bench"]), _vessel_problems(rows, settings)


def vessel_for(batch_ml: float, settings: Settings) -> str | None:
    """Return the smallest vessel that holds the batch without being fuller than the settings allow, or None."""
    full = settings.filling.vessel_full_pct / 100
    fits = [vessel for vessel in settings.vessels if batch_ml <= vessel.holds_ml * full]
    return min(fits, key=lambda vessel: vessel.holds_ml).name if fits else None


def _vessel_problems(rows: pd.DataFrame, settings: Settings) -> list[Problem]:
    if not settings.vessels:
        todo = "Add a [[vessel]] with its name and holds_ml."
        return [
            Problem("shop.toml", 0, "vessel", "names no vessel, so none was chosen for the batches.", todo, stops=False)
        ]
    problems = []
    for ml, part in rows[rows["vessel"].isna()].groupby("batch_ml"):
        scents = listed(sorted(part["scent"].unique()))
        what = (
            f"no vessel holds a batch of {scents}: {ml:.0f} ml in a vessel {settings.filling.vessel_full_pct:g} % full."
        )
        problems.append(Problem("shop.toml", 0, "vessel", what, "Make smaller batches, or add a larger vessel."))
    return problems


def leave_free(settings: Settings, calendar: pd.DataFrame) -> Settings:
    """Return the settings with the market days and closed days of calendar.csv among the bench's days off.

    A day on which only one channel is closed is no day off.
    """
    whole_shop = calendar["channel"].fillna("").isin(WHOLE_SHOP)
    busy = calendar[calendar["kind"].eq("market") | (calendar["kind"].eq("closed") & whole_shop)]
    days = {
        day.date()
        for first, last in zip(busy["first_day"], busy["last_day"].fillna(busy["first_day"]), strict=True)
        for day in pd.date_range(first, last)
    }
    off = tuple(sorted(days | set(settings.bench.days_off)))
    return replace(settings, bench=replace(settings.bench, days_off=off))
