"""The bench calendar, its file for other calendars and the page to hang up: by hand, and never beyond a limit."""

import re
from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from planner.restock import bench_calendar
from planner.restock.bench import leave_free
from planner.restock.calendar_file import bench_file
from planner.restock.month_page import month_page
from planner.settings import Bench, Season, Settings, Vessel
from planner.tables import FILES, STEPS, check, empty

TODAY = pd.Timestamp("2026-09-28")  # a Monday
VESSELS = (Vessel("beaker", 400), Vessel("jug", 600), Vessel("big jug", 1000))
MINUTES = pd.DataFrame({"setup_minutes": [40.0], "minutes_per_bottle": [2.0]})


def shop(days=("Tue", "Thu"), hours=5.0, bulk=0, off=(), vessels=VESSELS):
    bench = Bench(days=days, hours_per_day=hours, bulk_rest_days=bulk, days_off=off)
    return Settings("shop", "EUR", bench=bench, vessels=vessels, season=Season(date(2026, 10, 19), date(2026, 12, 17)))


def plan(*batches):
    """Return a bench table from (scent, day, minutes, vessel)."""
    rows = [
        {"batch": f"B{n:02d}", "scent": scent, "mix_on": pd.Timestamp(day), "minutes": minutes, "vessel": vessel}
        for n, (scent, day, minutes, vessel) in enumerate(batches, 1)
    ]
    table = pd.DataFrame(rows).assign(bottles=30)
    return check(table.assign(fill_on=table["mix_on"], ready_on=table["mix_on"]), STEPS["bench"])


def scents(**rest):
    return pd.DataFrame({"scent": list(rest), "rest_days": pd.array(list(rest.values()), dtype="Int64")})


def laid(table, rest, settings):
    result = bench_calendar(table, rest, MINUTES, settings, TODAY)
    return result.bench, result.problems


def test_batches_of_a_scent_come_to_stand_on_one_day():
    # Tue 29 Sep and Thu 1 Oct hold 300 minutes each; the plan has mixed the scents up
    table = plan(
        ("Fig", "2026-09-29", 150, "jug"),
        ("Oud", "2026-09-29", 150, "jug"),
        ("Fig", "2026-10-01", 150, "jug"),
        ("Oud", "2026-10-01", 150, "jug"),
    )
    bench, problems = laid(table, scents(Fig=7, Oud=7), shop())
    assert bench.groupby("scent")["mix_on"].nunique().tolist() == [1, 1]
    assert bench.groupby("mix_on")["minutes"].sum().tolist() == [300, 300]
    assert bench["batch"].tolist() == ["B01", "B02", "B03", "B04"]
    assert not problems


def test_a_scent_of_more_than_a_day_stands_on_as_few_days_as_hours_allow():
    table = plan(*[("Fig", "2026-09-29", 100, "jug")] * 3, *[("Fig", "2026-10-01", 100, "jug")] * 2)
    bench, _ = laid(table, scents(Fig=0), shop())
    assert bench.groupby("mix_on").size().tolist() == [3, 2]


def test_latest_day_and_slack_worked_by_hand():
    table = plan(
        ("Fig", "2026-09-29", 150, "jug"), ("Oud", "2026-09-29", 150, "jug"), ("Rose", "2026-10-01", 100, "jug")
    )
    # made on Thu 1 Oct, the last bench day of the week, with 7 days' rest: Thu 8 Oct, counted from Mon 12 Oct.
    # Tue 6 Oct + 7 = 13 Oct is too late: the latest day is Thu 1 Oct, two days after Tue 29 Sep.
    # Rose rests 4 days: Thu 1 Oct + 4 is Mon 5 Oct, the day it is counted from; no later day makes it.
    # Oud rests 11 days: Thu 1 Oct + 11 is Mon 12 Oct.
    bench, _ = laid(table, scents(Fig=7, Oud=11, Rose=4), shop())
    rows = bench.set_index("scent")
    assert rows["latest_on"].dt.strftime("%d %b").to_dict() == {"Fig": "01 Oct", "Oud": "01 Oct", "Rose": "01 Oct"}
    assert rows["slack_days"].to_dict() == {"Fig": 2, "Oud": 2, "Rose": 0}
    # 100 minutes are taken on Thursday, so one of 150 has room there
    assert rows["status"].to_dict() == {"Fig": "has room", "Oud": "has room", "Rose": "no later day"}


def test_a_later_day_that_is_full_takes_a_batch_only_in_exchange():
    table = plan(("Fig", "2026-09-29", 150, "jug"), ("Oud", "2026-10-01", 200, "jug"))
    bench, _ = laid(table, scents(Fig=7, Oud=7), shop())
    assert bench.set_index("scent").loc["Fig", "status"] == "in exchange"


def test_slack_reaches_into_the_next_week_where_the_rest_allows_it():
    # 5 days' rest: Thu 1 Oct + 5 = Tue 6 Oct, counted from Mon 12 Oct; made on Tue 6 Oct it is there on Sun 11 Oct
    bench, _ = laid(plan(("Fig", "2026-09-29", 100, "jug")), scents(Fig=5), shop())
    assert bench["latest_on"].iloc[0] == pd.Timestamp("2026-10-06")
    assert bench["slack_days"].iloc[0] == 7


def test_oil_resting_in_bulk_is_filled_on_a_later_day_and_keeps_its_vessel():
    # 3 days in bulk: mixed on Tue 29 Sep it is filled on the next bench day from Fri 2 Oct on, Tue 6 Oct. Of two jugs'
    # worth the second takes the next larger vessel; the third, mixed when both are taken, the largest.
    table = plan(*[("Fig", "2026-09-29", 100, "jug")] * 2)
    bench, problems = laid(table, scents(Fig=10), shop(bulk=3))
    assert bench["mix_on"].tolist() == [pd.Timestamp("2026-09-29")] * 2
    assert bench["fill_on"].tolist() == [pd.Timestamp("2026-10-06")] * 2
    assert sorted(bench["vessel"]) == ["big jug", "jug"]
    assert bench["ready_on"].tolist() == [pd.Timestamp("2026-10-09")] * 2  # the ten days count from mixing
    assert not problems


def test_a_batch_without_a_free_vessel_waits_and_one_that_comes_late_is_said():
    one = (Vessel("jug", 600),)
    table = plan(*[("Fig", "2026-09-29", 100, "jug")] * 2)
    bench, problems = laid(table, scents(Fig=7), shop(bulk=3, vessels=one))
    # both count from Mon 12 Oct; the first is filled on 6 Oct, and only then the second is mixed: 6 + 7 = 13 Oct
    assert bench["mix_on"].tolist() == [pd.Timestamp("2026-09-29"), pd.Timestamp("2026-10-06")]
    assert bench["status"].tolist()[1] == "comes late"
    assert pd.isna(bench["latest_on"].iloc[1])
    assert "do not suffice for all batches of Fig" in problems[0].what


def test_a_batch_without_a_vessel_before_the_season_ends_is_left_out_and_said():
    table = plan(*[("Fig", day, 100, "big jug") for day in ("2026-12-01", "2026-12-01", "2026-12-03")])
    # one vessel holds them: 1 to 8 Dec and 8 to 15 Dec; the third would be filled on 22 Dec, after the 17th
    bench, problems = bench_calendar(table, scents(Fig=5), MINUTES, shop(bulk=5), pd.Timestamp("2026-12-01"))
    assert bench["fill_on"].tolist() == [pd.Timestamp("2026-12-08"), pd.Timestamp("2026-12-15")]
    assert [problem.stops for problem in problems] == [False, True]
    assert "1 of the planned batches find no vessel" in problems[1].what
    none, told = bench_calendar(table.iloc[:1], scents(Fig=20), MINUTES, shop(bulk=5), pd.Timestamp("2026-12-01"))
    assert none.empty
    assert "left out: 1 of Fig" in told[0].what


def test_no_batch_gives_no_calendar():
    bench, problems = laid(empty(STEPS["bench"]), scents(), shop())
    pd.testing.assert_frame_equal(bench, empty(STEPS["bench"]))
    assert not problems


def test_market_and_closed_days_are_left_free_and_a_channels_own_are_not():
    rows = [
        {"first_day": "2026-10-03", "what": "Harbour", "kind": "market", "last_day": "2026-10-04"},
        {"first_day": "2026-10-06", "what": "away", "kind": "closed", "last_day": None},
        {"first_day": "2026-10-08", "what": "web pause", "kind": "closed", "last_day": None, "channel": "web"},
        {"first_day": "2026-10-09", "what": "a feast", "kind": "holiday", "last_day": None},
    ]
    calendar = check(
        pd.DataFrame(rows).astype({"first_day": "datetime64[us]", "last_day": "datetime64[us]"}), FILES["calendar"]
    )
    off = leave_free(shop(off=(date(2026, 10, 1),)), calendar).bench.days_off
    assert off == (date(2026, 10, 1), date(2026, 10, 3), date(2026, 10, 4), date(2026, 10, 6))


BATCHES = st.lists(
    st.tuples(
        st.sampled_from(["Fig", "Oud", "Rose"]),
        st.sampled_from(["2026-09-29", "2026-10-01", "2026-10-06", "2026-10-08", "2026-10-13"]),
        st.sampled_from([60.0, 90.0, 130.0]),
        st.sampled_from(["beaker", "jug", "big jug", None]),
    ),
    min_size=1,
    max_size=9,
)
REST = st.fixed_dictionaries({name: st.integers(0, 15) for name in ("Fig", "Oud", "Rose")})


def within_hours(rows, hours):
    """Keep those batches of a plan that fit into the hours of their day."""
    kept, load = [], {}
    for row in rows:
        if load.get(row[1], 0) + row[2] <= hours * 60:
            load[row[1]] = load.get(row[1], 0) + row[2]
            kept.append(row)
    return kept


@settings(max_examples=120, deadline=None)
@given(BATCHES, REST)
def test_no_day_is_longer_than_its_hours_and_each_batch_stays_in_its_week(rows, rest):
    table = plan(*within_hours(rows, 4.0))
    bench, problems = laid(table, scents(**rest), shop(hours=4.0))
    assert not problems
    assert bench.groupby("mix_on")["minutes"].sum().max() <= 240 + 1e-6
    week = ["scent", "minutes", "bottles"]

    def by_week(some):
        monday = some["mix_on"] - pd.to_timedelta(some["mix_on"].dt.day_of_week, unit="D")
        return some.assign(monday=monday)[["monday", *week]].value_counts().sort_index()

    pd.testing.assert_series_equal(by_week(bench), by_week(table))
    assert len(bench[["scent", "mix_on"]].drop_duplicates()) <= len(table[["scent", "mix_on"]].drop_duplicates())
    assert bench["mix_on"].dt.day_of_week.isin([1, 3]).all()
    assert (bench["latest_on"] >= bench["mix_on"]).all()
    # on its latest day a batch is for sale by the Monday it counts from on the last bench day of its week (Thursday)
    days = pd.to_timedelta(bench["scent"].map(rest), unit="D")
    thursday = bench["mix_on"] + pd.to_timedelta(3 - bench["mix_on"].dt.day_of_week, unit="D")
    counted = thursday + days
    counted += pd.to_timedelta(-counted.dt.day_of_week % 7, unit="D")
    assert (bench["latest_on"] + days <= counted).all()


@settings(max_examples=120, deadline=None)
@given(BATCHES, REST, st.integers(1, 9))
def test_oil_in_bulk_never_breaks_hours_vessels_or_its_rest(rows, rest, bulk):
    table = plan(*rows)
    bench, problems = laid(table, scents(**rest), shop(hours=4.0, bulk=bulk))
    left_out = sum(
        int(re.search(r"(\d+) of the planned", problem.what).group(1)) for problem in problems if problem.stops
    )
    assert len(bench) + left_out == len(table)
    assert (bench["ready_on"] <= pd.Timestamp("2026-12-17")).all()
    assert (bench["fill_on"] - bench["mix_on"] >= pd.Timedelta(days=bulk)).all()
    mixing = bench["minutes"].clip(upper=40.0)
    load = (
        mixing.groupby(bench["mix_on"])
        .sum()
        .add((bench["minutes"] - mixing).groupby(bench["fill_on"]).sum(), fill_value=0)
    )
    assert load.max() <= 240 + 1e-6
    for _, part in bench.dropna(subset="vessel").groupby("vessel"):
        part = part.sort_values("mix_on")
        assert (part["mix_on"].to_numpy()[1:] >= part["fill_on"].to_numpy()[:-1]).all()
    assert (bench["ready_on"] >= bench["fill_on"]).all()
    rested = bench["mix_on"] + pd.to_timedelta(bench["scent"].map(rest), unit="D")
    assert (bench["ready_on"] >= rested).all()
    late = [problem for problem in problems if not problem.stops]
    assert bool(late) == bool(bench["latest_on"].isna().any())


def strict(text):
    """Hold a file to RFC 5545: line ends, folding, what must be there once, and values of their kind."""
    raw = text.encode("utf-8")
    assert raw.endswith(b"\r\n")
    assert b"\n" not in raw.replace(b"\r\n", b"")
    assert b"\r" not in raw.replace(b"\r\n", b"")
    physical = raw[:-2].split(b"\r\n")
    assert max(map(len, physical)) <= 75  # octets, 3.1
    for line in physical:
        line.decode("utf-8")  # no letter is cut in two
    lines = re.sub("\r\n[ \t]", "", text).rstrip("\r\n").split("\r\n")
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    assert sum(line.startswith(("VERSION:", "PRODID:")) for line in lines) == 2
    assert "VERSION:2.0" in lines
    assert all(re.fullmatch(r"[A-Z-]+(;[A-Z-]+=[^:;]+)*:.*", line) for line in lines)
    events = re.findall(r"BEGIN:VEVENT\n(.*?)\nEND:VEVENT", "\n".join(lines), flags=re.DOTALL)
    uids = []
    for event in events:
        names = [re.match(r"[A-Z-]+", line).group() for line in event.split("\n")]
        assert len(names) == len(set(names))  # each of these may stand once, 3.6.1
        assert {"UID", "DTSTAMP", "DTSTART"} <= set(names)
        assert re.search(r"^DTSTAMP:\d{8}T\d{6}Z$", event, flags=re.MULTILINE)  # UTC, 3.8.7.2
        first = re.search(r"^DTSTART;VALUE=DATE:(\d{8})$", event, flags=re.MULTILINE).group(1)
        last = re.search(r"^DTEND;VALUE=DATE:(\d{8})$", event, flags=re.MULTILINE).group(1)
        assert first < last
        for line in event.split("\n"):
            if line.startswith(("SUMMARY", "DESCRIPTION")):
                value = line.split(":", 1)[1]
                assert not re.search(r"(?<!\\)[,;]", value)  # 3.3.11
                assert re.fullmatch(r"(?:[^\\]|\\[\\;,nN])*", value)
        uids.append(re.search(r"^UID:(.+)$", event, flags=re.MULTILINE).group(1))
    assert len(uids) == len(set(uids))
    return events


def test_the_calendar_file_is_read_by_the_library_and_holds_to_the_standard():
    table = plan(
        ("Rose; très, très “fine” \\ 玫瑰的香味在海边的小屋里慢慢散开来", "2026-09-29", 100, "jug"),
        ("Fig", "2026-09-29", 100, "jug"),
        ("Oud", "2026-10-06", 100, None),
    )
    bench, _ = laid(table, scents(Fig=7, Oud=7), shop())
    text = bench_file(bench, "Shop: Ä, B", TODAY)
    assert len(strict(text)) == 2
    events = Calendar.from_ical(text).walk("VEVENT")
    assert [event.decoded("dtstart") for event in events] == [date(2026, 9, 29), date(2026, 10, 6)]
    assert "玫瑰的香味在海边的小屋里慢慢散开来" in events[0]["summary"]
    assert "Rose; très, très “fine” \\ 玫" in events[0]["summary"]
    assert events[0]["description"].count("\n") == 1  # a line for each batch
    assert events[0].decoded("dtend") == date(2026, 9, 30)


@settings(max_examples=60, deadline=None)
@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp"]), min_size=1, max_size=120))
def test_whatever_a_scent_is_called_the_file_holds_to_the_standard(name):
    bench = plan((name, "2026-09-29", 100, "jug"))
    text = bench_file(bench, name, TODAY)
    assert len(strict(text)) == 1
    assert Calendar.from_ical(text).walk("VEVENT")[0]["summary"] == f"Bench: {name}"


def test_the_same_plan_gives_the_same_file_and_a_day_keeps_its_uid_when_the_plan_changes():
    one, _ = laid(plan(("Fig", "2026-09-29", 100, "jug")), scents(Fig=7), shop())
    two, _ = laid(plan(("Oud", "2026-09-29", 100, "jug")), scents(Oud=7), shop())
    first = bench_file(one, "shop", TODAY)
    assert first.encode() == bench_file(one, "shop", TODAY).encode()
    assert "DTSTAMP:20260928T000000Z" in first  # the day the plan is for, not the clock
    uid = re.search("UID:.*", first).group()
    assert uid == re.search("UID:.*", bench_file(two, "shop", TODAY + pd.Timedelta(days=1))).group()
    assert uid != re.search("UID:.*", bench_file(one, "another", TODAY)).group()


def test_a_day_of_filling_has_its_own_event():
    bench, _ = laid(plan(("Fig", "2026-09-29", 100, "jug")), scents(Fig=10), shop(bulk=3))
    events = Calendar.from_ical(bench_file(bench, "shop", TODAY)).walk("VEVENT")
    assert [str(event["summary"]) for event in events] == ["Bench: Fig", "Bench: fill Fig"]


def test_a_calendar_without_batches_is_still_a_calendar():
    assert strict(bench_file(empty(STEPS["bench"]), "shop", TODAY)) == []


def test_the_page_of_weeks_says_what_falls_on_which_day():
    bench, _ = laid(plan(*[("Fig", "2026-09-29", 100, "jug")] * 2), scents(Fig=10), shop(off=(date(2026, 10, 1),)))
    calendar = check(
        pd.DataFrame(
            {
                "first_day": [pd.Timestamp("2026-10-03")],
                "what": "Harbour",
                "kind": "market",
                "last_day": pd.Timestamp("2026-10-04"),
            }
        ),
        FILES["calendar"],
    )
    orders = pd.DataFrame({"order_by": [pd.Timestamp("2026-09-30")], "supplier": "Kesh"})
    page = month_page(bench, calendar, orders, shop(off=(date(2026, 10, 1),)), TODAY + pd.Timedelta(days=1))
    first = page.iloc[0]
    assert list(page.columns) == ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
    assert first["Mon"] == "28 Sep"  # gone by
    assert first["Tue"] == "29 Sep\n2 × Fig"
    assert first["Wed"] == "30 Sep\norder from Kesh"
    assert first["Thu"] == "1 Oct\nno bench"
    assert first["Sat"] == "3 Oct\nHarbour"
    assert first["Sun"] == "4 Oct\nHarbour"
    assert page["Thu"].iloc[-1] == "17 Dec"  # the season's last day lies in the last week
    assert len(page) == 12


def test_settings_refuse_a_rest_in_bulk_below_nothing():
    with pytest.raises(ValueError, match="bulk_rest_days is from 0"):
        Bench(bulk_rest_days=-1)


def test_a_large_plan_keeps_to_its_hours():
    rng = np.random.default_rng(1)
    days = pd.date_range("2026-09-29", periods=12, freq="7D")
    rows = [(f"S{rng.integers(40)}", day, 60.0, "jug") for day in days for _ in range(5)]
    rest = {f"S{n}": int(rng.integers(0, 20)) for n in range(40)}
    bench, problems = laid(plan(*rows), scents(**rest), shop())
    assert not problems
    assert bench.groupby("mix_on")["minutes"].sum().max() <= 300
    assert len(bench) == 60
