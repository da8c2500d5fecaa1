"""The bench calendar: batches of one scent together, one batch a vessel, and the latest day that still makes it."""

from typing import Any, NamedTuple

import pandas as pd

from planner.problems import Problem
from planner.restock.bench import bench_days, pack_days
from planner.settings import Settings
from planner.tables import STEPS, check, empty, listed

ROOM = 1e-6  # sums of minutes are not exact [minutes]
DAY = pd.Timedelta(days=1)
WEEK = pd.Timedelta(days=7)
TOO_LATE, NO_LATER, MOVES, EXCHANGE = "comes late", "no later day", "has room", "in exchange"
LOOK_AHEAD = 8 * WEEK  # beyond the last batch, so that there is a day for each that finds no room in its week


class BenchCalendar(NamedTuple):
    """The table bench with latest_on and slack_days, and which batches do not come in time."""

    bench: pd.DataFrame
    problems: list[Problem]


class _Job(NamedTuple):
    """One batch to put on the calendar."""

    scent: str
    week: pd.Timestamp  # the plan's week
    due: pd.Timestamp  # the Monday on which the plan counts it as for sale
    rest_days: int
    bottles: int
    mixing: float  # [minutes]
    filling: float  # on another day where the oil rests in bulk [minutes]
    vessels: tuple[str, ...]  # those that hold it, the smallest first


class _Place(NamedTuple):
    mix_on: pd.Timestamp
    fill_on: pd.Timestamp
    vessel: str | None


def bench_calendar(
    bench: pd.DataFrame, scents: pd.DataFrame, minutes: pd.DataFrame, settings: Settings, today: pd.Timestamp
) -> BenchCalendar:
    """Put the batches of the plan (table bench) on bench days, each in the week the plan has it in.

    Batches of one scent stand on one day as far as hours allow, which saves cleaning; batches are numbered anew. The
    plan counts a batch as for sale from the Monday that follows when it is made on the last bench day of its week:
    `latest_on` is the latest bench day on which it still makes that Monday, slack_days are the days until then, and
    `status` says whether that day "has room" for it (hours, and a vessel) while the other batches stay where they are,
    or takes it only "in exchange" for another; else "no later day", or "comes late".

    Where the mixed oil rests in bulk (bulk_rest_days above 0), mixing takes setup_minutes and filling the rest, on a
    later bench day; from mixing to filling the oil occupies its vessel, which holds nothing else then. Such batches
    move to another week where theirs has no room; one that is then not for sale by its Monday is a problem, and one
    that is not for sale by the season's last day is left out, which is a problem too.
    """
    if bench.empty:
        return BenchCalendar(empty(STEPS["bench"]), [])
    days = bench_days(settings, today, bench["mix_on"].max() + LOOK_AHEAD)
    jobs = _jobs(bench, scents, minutes, settings, days)
    room, bulk = settings.bench.hours_per_day * 60 + ROOM, settings.bench.bulk_rest_days
    places = _rest_in_bulk(jobs, days, room, bulk) if bulk else _scents_together(bench, jobs, days, room)
    end = pd.Timestamp(settings.season.last_day) if bulk and settings.season else None
    placed = [(job, place) for job, place in zip(jobs, places, strict=True) if not end or _for_sale(job, place) <= end]
    left_out = [job.scent for job, place in zip(jobs, places, strict=True) if end and _for_sale(job, place) > end]
    if not placed:
        return BenchCalendar(empty(STEPS["bench"]), _left_out(left_out))
    rows = [
        _row(job, place) | _slack(job, place, placed[:number] + placed[number + 1 :], days, room, bulk)
        for number, (job, place) in enumerate(placed)
    ]
    table = pd.DataFrame(rows).sort_values(["mix_on", "scent", "fill_on"], kind="stable", ignore_index=True)
    table["batch"] = [f"B{number:02d}" for number in range(1, len(table) + 1)]
    return BenchCalendar(check(table, STEPS["bench"]), _too_late(placed) + _left_out(left_out))


def _jobs(
    bench: pd.DataFrame, scents: pd.DataFrame, minutes: pd.DataFrame, settings: Settings, days: pd.DatetimeIndex
) -> list[_Job]:
    rest = scents.drop_duplicates("scent").set_index("scent")["rest_days"]
    setup = settings.bench.setup_minutes if minutes.empty else float(minutes["setup_minutes"].iloc[0])
    by_size = sorted(settings.vessels, key=lambda vessel: vessel.holds_ml)
    names = [vessel.name for vessel in by_size]
    jobs = []
    for line in bench.to_dict("records"):
        monday = line["mix_on"] - pd.Timedelta(days=line["mix_on"].day_of_week)
        own = days[(days >= monday) & (days < monday + WEEK)]
        rested = 0 if pd.isna(rest.get(line["scent"])) else max(int(rest[line["scent"]]), 0)
        ready = (own[-1] if len(own) else line["mix_on"]) + pd.Timedelta(days=rested)
        fits = tuple(names[names.index(line["vessel"]) :]) if line["vessel"] in names else ()
        mixing = min(setup, float(line["minutes"])) if settings.bench.bulk_rest_days else float(line["minutes"])
        jobs.append(
            _Job(
                line["scent"],
                monday,
                ready + pd.Timedelta(days=-ready.day_of_week % 7),
                rested,
                int(line["bottles"]),
                mixing,
                float(line["minutes"]) - mixing,
                fits,
            )
        )
    return jobs


def _scents_together(bench: pd.DataFrame, jobs: list[_Job], days: pd.DatetimeIndex, room: float) -> list[_Place]:
    """Return the places of batches mixed and filled on one day, the batches of a scent together within their week."""
    where = dict(zip(range(len(jobs)), bench["mix_on"], strict=True))
    for week in sorted({job.week for job in jobs}):
        inside = [number for number, job in enumerate(jobs) if job.week == week]
        open_days = days[(days >= week) & (days < week + WEEK)]
        found = _pack_groups(_groups(inside, jobs, room), jobs, len(open_days), room)
        if found is not None and _scent_days(found, jobs) < _scent_days({n: where[n] for n in inside}, jobs):
            where |= {number: open_days[day] for number, day in found.items()}
    return [_Place(where[n], where[n], job.vessels[0] if job.vessels else None) for n, job in enumerate(jobs)]


def _groups(numbers: list[int], jobs: list[_Job], room: float) -> list[list[int]]:
    """Put batches of one scent together, as many as one day holds."""
    groups: list[list[int]] = []
    for number in sorted(numbers, key=lambda n: jobs[n].scent):
        last = groups[-1] if groups and jobs[groups[-1][0]].scent == jobs[number].scent else None
        if last is not None and sum(jobs[n].mixing for n in last) + jobs[number].mixing <= room:
            last.append(number)
        else:
            groups.append([number])
    return groups


def _pack_groups(groups: list[list[int]], jobs: list[_Job], days: int, room: float) -> dict[int, int] | None:
    """Return the day of each batch, with as few groups taken apart as need be, or None where they do not fit."""
    while True:
        found = pack_days([sum(jobs[n].mixing for n in group) for group in groups], days, room - ROOM)
        if found is not None:
            return {number: day for group, day in zip(groups, found, strict=True) for number in group}
        largest = max(groups, key=len)
        if len(largest) == 1:
            return None
        groups = [group for group in groups if group is not largest] + [largest[:-1], largest[-1:]]


def _scent_days(where: dict[int, Any], jobs: list[_Job]) -> int:
    return len({(jobs[number].scent, day) for number, day in where.items()})


def _rest_in_bulk(jobs: list[_Job], days: pd.DatetimeIndex, room: float, bulk: int) -> list[_Place]:
    """Return places with mixing and filling on different days: those due first choose first."""
    places: dict[int, _Place] = {}
    for number in sorted(range(len(jobs)), key=lambda n: (jobs[n].due, jobs[n].week, jobs[n].scent)):
        job = jobs[number]
        own = [day for day in days if job.week <= day < job.week + WEEK]
        before = [day for day in days[::-1] if day < job.week]
        after = [day for day in days if day >= job.week + WEEK]
        taken = [(jobs[n], place) for n, place in places.items()]
        load, found = _loads(taken), None
        for day in [*own, *before, *after]:
            if found is not None and day > job.due:
                break
            there = _fit(job, day, load, taken, days, room, bulk)
            if there is not None and _for_sale(job, there) <= job.due:
                found = there
                break
            found = found or there
        places[number] = found or _no_room(job, days, bulk)
    return [places[number] for number in range(len(jobs))]


def _no_room(job: _Job, days: pd.DatetimeIndex, bulk: int) -> _Place:
    """Return a place after the last bench day, which is said to be too late."""
    mix_on = max(*days[-1:], job.due)
    return _Place(mix_on, mix_on + pd.Timedelta(days=bulk), None)


def _fit(
    job: _Job,
    mix_on: pd.Timestamp,
    load: dict[pd.Timestamp, float],
    others: list[tuple[_Job, _Place]],
    days: pd.DatetimeIndex,
    room: float,
    bulk: int,
) -> _Place | None:
    """Return the batch mixed on that day and filled as soon as can be, or None where hours or vessels are short."""
    if load.get(mix_on, 0.0) + job.mixing + (0.0 if bulk else job.filling) > room:
        return None
    if not bulk:
        return _Place(mix_on, mix_on, job.vessels[0] if job.vessels else None)
    later = days[days >= mix_on + pd.Timedelta(days=bulk)]
    fill_on = next((day for day in later if load.get(day, 0.0) + job.filling <= room), None)
    if fill_on is None:
        return None
    busy = {place.vessel for _, place in others if place.mix_on < fill_on and mix_on < place.fill_on and place.vessel}
    free = [name for name in job.vessels if name not in busy]
    return _Place(mix_on, fill_on, free[0] if free else None) if free or not job.vessels else None


def _loads(placed: list[tuple[_Job, _Place]]) -> dict[pd.Timestamp, float]:
    load: dict[pd.Timestamp, float] = {}
    for job, place in placed:
        load[place.mix_on] = load.get(place.mix_on, 0.0) + job.mixing
        load[place.fill_on] = load.get(place.fill_on, 0.0) + job.filling
    return load


def _for_sale(job: _Job, place: _Place) -> pd.Timestamp:
    """Return the first day it is for sale: rested since mixing, and filled."""
    return max(place.mix_on + pd.Timedelta(days=job.rest_days), place.fill_on)


def _slack(
    job: _Job, place: _Place, others: list[tuple[_Job, _Place]], days: pd.DatetimeIndex, room: float, bulk: int
) -> dict[str, Any]:
    """Return the latest mixing day that still makes it, the days until then, and whether that day has room."""
    last = job.due - pd.Timedelta(days=job.rest_days)
    timely = [
        day
        for day in days[(days > place.mix_on) & (days <= last)]
        if not bulk or ((days >= day + pd.Timedelta(days=bulk)) & (days <= job.due)).any()
    ]
    if _for_sale(job, place) > job.due:
        return {"latest_on": pd.NaT, "slack_days": pd.NA, "status": TOO_LATE}
    if not timely:
        return {"latest_on": place.mix_on, "slack_days": 0, "status": NO_LATER}
    there = _fit(job, timely[-1], _loads(others), others, days, room, bulk)
    free = there is not None and _for_sale(job, there) <= job.due
    return {
        "latest_on": timely[-1],
        "slack_days": (timely[-1] - place.mix_on) // DAY,
        "status": MOVES if free else EXCHANGE,
    }


def _row(job: _Job, place: _Place) -> dict[str, Any]:
    return {
        "scent": job.scent,
        "mix_on": place.mix_on,
        "fill_on": place.fill_on,
        "ready_on": _for_sale(job, place),
        "bottles": job.bottles,
        "minutes": job.mixing + job.filling,
        "vessel": place.vessel,
    }


def _too_late(placed: list[tuple[_Job, _Place]]) -> list[Problem]:
    late = sorted({job.scent for job, place in placed if _for_sale(job, place) > job.due})
    if not late:
        return []
    what = (
        f"with mixing and filling on different days, hours or vessels do not suffice for all batches of "
        f"{listed(late)}: some are for sale later than the plan counts on."
    )
    todo = "Add bench days or a vessel, or let the oil rest in its bottles."
    return [Problem("shop.toml", 0, "bulk_rest_days", what, todo, stops=False)]


def _left_out(scents: list[str]) -> list[Problem]:
    """Say which batches of the plan have no vessel or no hours before the season ends."""
    if not scents:
        return []
    counts = [f"{scents.count(scent)} of {scent}" for scent in sorted(set(scents))]
    what = (
        f"with mixing and filling on different days, {len(scents)} of the planned batches find no vessel or no hours "
        f"in time and are left out: {listed(counts)}. The table of the plan still counts them."
    )
    todo = "Add a vessel or bench days, shorten bulk_rest_days, or ask for at_most fewer in wishes.csv."
    return [Problem("shop.toml", 0, "bulk_rest_days", what, todo)]
