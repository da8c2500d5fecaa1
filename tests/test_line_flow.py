import numpy as np
import pandas as pd
import pytest

from planner.line_flow import MOST_FILES, MOST_REASONS, boxes, line_flow, ribbons


def shop():
    """Two files: a gift set of two scents on one line, a refund, one line merged and two set aside."""
    sales = pd.DataFrame(
        {
            "file": ["web.csv", "web.csv", "web.csv", "till.csv"],
            "row": [2, 2, 3, 2],
            "day": pd.Timestamp("2026-03-02"),
            "kind": ["sale", "sale", "refund", "sale"],
            "bottles": [1, 1, -1, 5],
        }
    )
    aside = pd.DataFrame(
        {"file": "web.csv", "reason": ["'Fgi' is not in scents.csv.", "'Rsoe' is not in scents.csv.", "It has no day."]}
    )
    accounts = pd.DataFrame(
        {"file": ["web.csv", "till.csv"], "lines_read": [5, 2], "merged": [0, 1], "set_aside": [3, 0]}
    )
    return sales, aside, accounts


def test_every_line_goes_somewhere_and_every_bottle_has_a_kind():
    flow = line_flow(*shop()).set_index(["file", "became", "ends"])
    assert flow["lines"].to_dict() == {
        ("web.csv", "counted", "sold"): 1,
        ("web.csv", "counted", "refunded"): 1,
        ("till.csv", "counted", "sold"): 1,
        ("till.csv", "in another file too", "counted there"): 1,
        ("web.csv", "set aside", "… is not in scents.csv"): 2,
        ("web.csv", "set aside", "It has no day"): 1,
    }
    assert flow["bottles"].tolist() == [2, 1, 5, 0, 0, 0]
    assert flow["lines"].sum() == shop()[2]["lines_read"].sum()


def test_boxes_are_as_high_as_their_lines_are_many_and_do_not_touch():
    places = boxes(line_flow(*shop()))
    size = places["high"] - places["low"]
    assert np.allclose(size / size.sum(), places["lines"] / places["lines"].sum())
    for _, column in places.groupby("step"):
        assert column["lines"].sum() == 7
        assert (column["high"].to_numpy()[1:] < column["low"].to_numpy()[:-1]).all()
    assert places["high"].max() == 1
    assert places["low"].min() == pytest.approx(0)
    assert "7 bottles sold: 2 lines" in places["words"].tolist()


def test_ribbons_fill_the_boxes_they_leave_and_those_they_reach():
    flow = line_flow(*shop())
    places = boxes(flow)
    outlines = ribbons(flow, places)
    for step, at in ((0, "first"), (1, "last"), (1, "first"), (2, "last")):
        place = places[places["step"] == step].sort_values("low")
        parts = outlines[
            outlines["x"].between(step - 1, step) if at == "last" else outlines["x"].between(step, step + 1)
        ]
        ends = getattr(parts.groupby("ribbon")[["low", "high"]], at)()
        assert (ends["high"] - ends["low"]).sum() == pytest.approx((place["high"] - place["low"]).sum())
        for box in place.itertuples():
            inside = ends[(ends["low"] > box.low - 1e-9) & (ends["high"] < box.high + 1e-9)]
            assert (inside["high"] - inside["low"]).sum() == pytest.approx(box.high - box.low)


def test_many_files_and_reasons_are_put_together():
    names = [f"{number}.csv" for number in range(30)]
    sales = shop()[0].iloc[:0]
    aside = pd.DataFrame({"file": names, "reason": [f"It has fault {number}." for number in range(30)]})
    accounts = pd.DataFrame({"file": names, "lines_read": 1, "merged": 0, "set_aside": 1})
    flow = line_flow(sales, aside, accounts)
    assert flow["file"].nunique() == MOST_FILES
    assert flow["ends"].nunique() == MOST_REASONS
    assert {"23 other files", "26 other reasons"} <= {*flow["file"], *flow["ends"]}
    assert flow["lines"].sum() == 30


def test_nothing_read_draws_nothing():
    sales, aside, accounts = (table.iloc[:0] for table in shop())
    flow = line_flow(sales, aside, accounts)
    places = boxes(flow)
    assert flow.empty
    assert places.empty
    assert ribbons(flow, places).empty


def test_a_file_that_is_set_aside_whole_has_its_place_too():
    sales, aside, accounts = shop()
    accounts = pd.concat([accounts, pd.DataFrame({"file": ["b.csv"], "lines_read": 8, "merged": 0, "set_aside": 8})])
    flow = line_flow(sales, aside, accounts)
    assert flow[flow["file"] == "b.csv"][["ends", "lines"]].to_numpy().tolist() == [["the file is set aside whole", 8]]
