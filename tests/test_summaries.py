import pandas as pd
import pytest

from planner import summaries
from planner.settings import Channel, Settings


def test_weeks_without_a_sale_are_drawn_as_zero():
    sales = pd.DataFrame(
        {
            "day": pd.to_datetime(["2026-01-05", "2026-01-07", "2026-01-20", "2026-01-20"]),
            "channel": ["web", "web", "web", "market"],
            "kind": ["sale", "sale", "sale", "refund"],
            "bottles": [1, 2, 4, -1],
        }
    )
    shop = Settings("T", "EUR", channels=(Channel("web"), Channel("market", open="market days")))
    weekly = summaries.weekly_sales(sales, shop)
    assert weekly["week"].dt.strftime("%m-%d").tolist() == ["01-05", "01-12", "01-19"]
    assert weekly["bottles"].tolist() == [3, 0, 4]
    assert weekly["gap"].tolist() == [False, True, False]
    assert weekly["cut_off"].tolist() == [False, False, True]  # the last day is a Tuesday
    assert summaries.weekly_sales(sales.iloc[:0], shop).empty


def test_reasons_are_counted_with_the_first_line_of_each():
    aside = pd.DataFrame({"file": "web.csv", "row": [4, 7, 9], "reason": ["postage", "no day", "postage"]})
    assert summaries.reasons(aside).to_numpy().tolist() == [
        ["postage", 2, "web.csv, row 4"],
        ["no day", 1, "web.csv, row 7"],
    ]


def test_last_year_is_the_same_weekday_52_weeks_before():
    week = pd.to_datetime(["2026-11-02", None])
    forecast = pd.DataFrame({"scent": "all scents", "channel": "all", "week": week, "p50": [10.0, 10.0]})
    demand = pd.DataFrame({"week": pd.to_datetime(["2025-11-03"] * 2), "channel": "all", "bottles": [3.0, 4.0]})
    both = summaries.with_last_year(forecast, demand)
    assert both[["p50", "last_year"]].to_numpy().tolist() == [[10.0, 7.0]]


def test_batches_stand_end_to_end_on_what_is_on_hand():
    plan = pd.DataFrame({"scent": ["Fig", "Oud"], "batches": [2, 0], "bottles": [46, 0], "on_hand": [5.0, 3.0]})
    parts = summaries.stock_and_batches(plan, ["Fig", "Oud"])
    assert parts[["first", "last"]].to_numpy().tolist() == [[0, 5], [5, 28], [28, 51], [0, 3]]


def test_the_parts_of_a_run_add_up_to_what_was_weighed():
    losses = pd.DataFrame(
        {
            "lot": ["L1"],
            "date": pd.to_datetime(["2026-05-01"]),
            "weighed_g": [300.0],
            "filled_g": [280.0],
            "giveaway_g": [4.0],
            "rejected_g": [9.0],
            "retained_g": [9.0],
            "residue_g": [15.0],
            "unexplained_g": [5.0],
        }
    )
    parts = summaries.oil_parts(losses)
    assert parts["grams"].sum() == pytest.approx(300.0)
    assert parts["share"].sum() == pytest.approx(1.0)
    assert parts.loc[parts["part"].str.contains("sell"), "grams"].tolist() == [258.0]
    causes = summaries.loss_by_cause(losses)
    assert causes["cause"].tolist()[0] == "left in the vessel"
    assert causes["grams"].tolist() == [15.0, 9.0, 5.0, 4.0]


def test_the_contents_of_a_folder_name_lines_and_latest_day():
    stock = pd.DataFrame({"date": pd.to_datetime(["2026-09-01", "2026-09-20"]), "scent": "Fig", "on_hand": 3.0})
    trials = pd.DataFrame({"material": ["Fig oil"], "load_pct": [10.0], "day": [7]})
    contents = summaries.folder_contents({"stock": stock, "trials": trials, "wishes": stock.iloc[:0]}, ["wishes"])
    assert contents["file"].tolist() == ["stock.csv", "trials.csv"]
    assert contents["lines"].tolist() == [2, 1]
    assert contents["last_day"].tolist()[0] == pd.Timestamp("2026-09-20")
    assert contents["last_day"].isna().tolist() == [False, True]


def test_limits_are_written_with_their_unit_and_unknown_ones_left_out():
    facts = pd.DataFrame(
        {
            "what": ["batches", "bench hours used", "gap", "money available"],
            "value": [39.0, 91.6333, 0.0976, float("nan")],
            "unit": ["batches", "hours", "%", "EUR"],
        }
    )
    assert summaries.plan_limits(facts)["amount"].tolist() == ["39 batches", "91.6 hours", "0.10 %"]


def test_a_picture_holds_no_more_scents_than_can_be_read():
    scents = [f"S{n}" for n in range(60)]
    demand = pd.DataFrame({"week": pd.Timestamp("2026-01-05"), "scent": scents, "channel": "all", "shelf_days": 0.0})
    demand["exposure"] = 0.25
    ranges = demand.assign(origin=pd.Timestamp("2025-09-22"), bottles=range(60), p10=1.0, p90=50.0)
    past = summaries.past_ranges(ranges)
    assert len(past) == summaries.MOST_DRAWN
    assert past["held"].tolist().count(False) == 9  # those with 51 to 59 bottles


def test_past_ranges_of_all_scents_are_drawn_divided_by_their_number():
    ranges = pd.DataFrame({"origin": pd.Timestamp("2024-10-01"), "scent": ["Fig", "Oud", "all scents"]})
    ranges = ranges.assign(bottles=[10.0, 30.0, 40.0], mean=20.0, p10=[5.0, 5.0, 30.0], p90=[20.0, 20.0, 60.0])
    past = summaries.past_ranges(ranges)
    assert past[["scent", "bottles", "p10", "p90", "held"]].to_numpy().tolist() == [
        ["all, on average", 20.0, 15.0, 30.0, True],
        ["Fig", 10.0, 5.0, 20.0, True],
        ["Oud", 30.0, 5.0, 20.0, False],
    ]


def test_how_often_ranges_held_is_counted_by_scent_with_all_scents_first():
    levels = {"p05": 1.0, "p10": 2.0, "p25": 4.0, "p75": 6.0, "p90": 8.0, "p95": 9.0, "mean": 6.0}
    ranges = pd.DataFrame({"scent": ["Fig", "all scents", "Fig", "all scents"], "bottles": [5.0, 5.0, 8.5, 20.0]})
    table = summaries.held_by_scent(ranges.assign(**levels))
    assert table.iloc[:, :5].to_numpy().tolist() == [["all scents", 1, 1, 1, 2], ["Fig", 1, 1, 2, 2]]
    assert table["bias_pct"].tolist() == [-52.0, -11.0]  # 12 foreseen for 25 and for 13.5


def test_what_was_missed_is_added_by_week_and_by_scent_with_its_price():
    weeks = pd.to_datetime(["2024-01-01", "2025-09-01", "2025-09-01", "2025-09-08"])
    unsold = pd.DataFrame({"scent": ["Fig", "Fig", "Oud", "Oud"], "week": weeks, "bottles": 5.0})
    unsold["unsold"] = [9.0, 1.0, 2.0, 4.0]
    scents = pd.DataFrame({"scent": ["Fig", "Oud"], "price": [10.0, None]})
    table = summaries.unsold_by_scent(unsold, scents)
    assert table[["scent", "bottles", "unsold"]].to_numpy().tolist() == [["Oud", 10.0, 6.0], ["Fig", 5.0, 1.0]]
    assert table["unsold_money"].tolist()[1] == 10.0
    assert pd.isna(table["unsold_money"].iloc[0])
    weekly = summaries.weekly_unsold(unsold).set_index(["week", "part"])["bottles"]
    assert weekly[pd.Timestamp("2025-09-01"), "wanted and not there"] == 3.0
    assert weekly[pd.Timestamp("2025-09-01"), "sold"] == 10.0


def test_unknown_items_come_with_the_bottles_at_stake():
    aside = pd.DataFrame(
        {
            "reason": ["'Fgi' is not in scents.csv.", "It is not a product.", "'Fgi' is not in scents.csv."],
            "scent": ["Fgi", "Postage", "Fgi"],
            "row": [2, 3, 4],
            "bottles": [1.0, 1.0, 3.0],
        }
    )
    assert summaries.unknown_names(aside).to_numpy().tolist() == [["Fgi", 2, 4.0]]


def test_money_carries_the_shops_currency_also_by_the_gram():
    table = pd.DataFrame(columns=["scent", "price", "oil_cost_per_g", "contribution_per_fragrance_g", "bottles"])
    assert summaries.money_units(table, Settings("T", "EUR")) == {
        "price": "EUR",
        "oil_cost_per_g": "EUR per g",
        "contribution_per_fragrance_g": "EUR per g",
    }
