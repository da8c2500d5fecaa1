"""The bench days as a calendar file that any calendar can import (RFC 5545)."""

import hashlib
from typing import Any

import pandas as pd

DAY = pd.Timedelta(days=1)
MAKER = "-//planner//bench days//EN"  # PRODID: who wrote the file


def bench_file(bench: pd.DataFrame, shop: str, today: pd.Timestamp) -> str:
    """Return the text of bench.ics: an all-day event for each day of the table bench on which oil is mixed or filled.

    The event of a day has the same UID in every file of that shop, so that importing a newer plan replaces it.
    DTSTAMP is the day the plan was made for (midnight UTC) and not the clock: the same plan gives the same file, byte
    for byte. Lines end in CRLF and are folded at 75 octets (RFC 5545, 3.1). Source: RFC 5545, 3.6.1 and 3.8.
    """
    from icalendar import Calendar

    file = Calendar()
    file.add("prodid", MAKER)
    file.add("version", "2.0")
    file.add("calscale", "GREGORIAN")
    for day in sorted({*bench["mix_on"], *bench["fill_on"]}):
        file.add_component(_event(day, bench, shop, today))
    return file.to_ical().decode("utf-8")


def _event(day: pd.Timestamp, bench: pd.DataFrame, shop: str, today: pd.Timestamp) -> Any:
    from icalendar import Event

    stamp = today.tz_localize("UTC") if today.tzinfo is None else today.tz_convert("UTC")
    mixed = bench[bench["mix_on"] == day]
    filled = bench[(bench["fill_on"] == day) & (bench["mix_on"] != day)]
    event = Event()
    event.add("uid", f"bench-{day:%Y-%m-%d}-{hashlib.sha256(shop.encode('utf-8')).hexdigest()[:16]}")
    event.add("dtstamp", stamp.to_pydatetime())
    event.add("dtstart", day.date())
    event.add("dtend", (day + DAY).date())
    event.add("summary", f"Bench: {bench_day(mixed, filled)}")
    event.add("description", "\n".join([*map(_mixing, mixed.itertuples()), *map(_filling, filled.itertuples())]))
    event.add("transp", "TRANSPARENT")  # a bench day does not take up the whole day
    return event


def bench_day(mixed: pd.DataFrame, filled: pd.DataFrame) -> str:
    """Say what is mixed and what is filled on a day.

    >>> bench_day(pd.DataFrame({"scent": ["Fig", "Fig", "Rose"]}), pd.DataFrame({"scent": ["Oud"]}))
    '2 × Fig, Rose; fill Oud'
    """
    parts = [", ".join(counted(mixed)), f"fill {', '.join(counted(filled))}" if len(filled) else ""]
    return "; ".join(part for part in parts if part)


def counted(batches: pd.DataFrame) -> list[str]:
    """Return each scent with how many batches there are of it."""
    many = batches["scent"].value_counts(sort=False)
    return [f"{count} × {scent}" if count > 1 else str(scent) for scent, count in many.items()]


def _mixing(batch: Any) -> str:
    rest = "" if batch.fill_on == batch.mix_on else f", fill on {_day(batch.fill_on)}"
    vessel = "" if pd.isna(batch.vessel) else f" in the {batch.vessel}"
    later = pd.notna(batch.slack_days) and batch.slack_days > 0
    latest = f", at the latest on {_day(batch.latest_on)}" if later else ""
    return (
        f"{batch.batch} {batch.scent}: {batch.bottles} bottles{vessel}, {batch.minutes:.0f} minutes{rest}, "
        f"for sale from {_day(batch.ready_on)}{latest}"
    )


def _filling(batch: Any) -> str:
    vessel = "" if pd.isna(batch.vessel) else f" from the {batch.vessel}"
    return f"{batch.batch} {batch.scent}: fill {batch.bottles} bottles{vessel}"


def _day(when: pd.Timestamp) -> str:
    return f"{when:%a} {when.day} {when:%b}"
