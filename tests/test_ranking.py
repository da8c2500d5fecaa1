"""The small tables of the ranking: places and notes, its weeks, first seasons."""

import pandas as pd

from planner import ranking


def test_a_place_is_written_from_the_first_to_the_last_a_scent_may_hold():
    pace = pd.DataFrame({"rank": [1, 2, 2, None], "rank_to": [1, 2, 4, None]}, dtype="Int64").assign(scent=list("ABCD"))
    scents = pd.DataFrame(
        {"scent": list("ABCD"), "last_sold": pd.to_datetime([None, "2026-01-31", "2026-02-01", None])}
    )
    placed = ranking.with_notes(pace, scents, pd.Timestamp("2026-02-01"))
    assert placed["place"].tolist() == ["1", "2", "2–4", ""]
    assert placed["note"].tolist() == ["", "no longer sold", "", ""]


def test_the_note_has_a_column_only_where_there_is_one():
    figures = dict.fromkeys(
        ["pace", "pace_low", "pace_high", "raw_pace", "chance_fastest", "bottles", "shelf_weeks"], 1.0
    )
    placed = pd.DataFrame({"place": ["1"], "scent": ["Fig"], "note": [""], **figures})
    assert "note" not in ranking.pace_and_chance(placed)
    assert ranking.pace_and_chance(placed.assign(note="no longer sold")).columns[-1] == "note"


def demand_of(*rows):
    columns = ["week", "scent", "channel", "bottles", "shelf_days", "exposure"]
    table = pd.DataFrame(rows, columns=columns)
    return table.assign(week=pd.to_datetime(table["week"]))


def test_the_weeks_ranked_are_the_latest_half_year_and_end_with_the_sales():
    weeks = pd.date_range("2025-01-06", periods=40, freq="7D")
    demand = demand_of(*((week, "Fig", "all", 1.0, 7.0, 1.0) for week in weeks))
    end = weeks[-1] + pd.Timedelta(days=2)
    first, last = ranking.weeks_ranked(demand, end)
    assert first == weeks[-26]
    assert last == end
    assert ranking.weeks_ranked(demand.head(3), end) == (weeks[0], weeks[2] + pd.Timedelta(days=6))
    assert pd.isna(ranking.weeks_ranked(demand.head(0), end)[0])


def test_only_scents_no_shopper_chose_are_sold_to_order_only():
    demand = demand_of(
        ("2026-01-05", "Bulk", "wholesale", 24.0, 0.0, 0.0),
        ("2026-01-05", "Bulk", "all", 0.0, 7.0, 1.0),
        ("2026-01-05", "Fig", "wholesale", 24.0, 0.0, 0.0),
        ("2026-01-05", "Fig", "all", 1.0, 7.0, 1.0),
        ("2026-01-05", "Oud", "all", 0.0, 7.0, 1.0),
    )
    assert ranking.to_order_only(demand).to_numpy().tolist() == [["Bulk", 24.0]]


def test_the_newest_scents_come_first_and_all_together_stays_out():
    blocks = {"first_week": [1, 5, 1, 1], "last_week": [4, 8, 4, 4]}
    launches = pd.DataFrame({"scent": ["Oud", "Oud", "Fig", "all new scents"], **blocks})
    pace = pd.DataFrame({"scent": ["Fig", "Oud"], "weeks_since_launch": pd.array([5, 80], dtype="Int64")})
    begun = ranking.newest(launches, pace)
    assert begun["scent"].tolist() == ["Fig", "Oud", "Oud"]
    assert begun["middle_week"].tolist() == [2.5, 2.5, 6.5]
