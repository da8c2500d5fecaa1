import re

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner import sentences
from planner.problems import Problem
from planner.sentences.wording import day, money, names, number
from planner.settings import Settings, Shelf

EURO = Settings(name="T", currency="EUR")


@pytest.mark.parametrize(
    ("amount", "written"),
    [(0, "0 batches"), (1, "1 batch"), (1.2, "1 batch"), (2, "2 batches"), (1234.6, "1,235 batches")],
)
def test_plurals_follow_the_number_as_it_is_written(amount, written):
    assert number(amount, "batch", "batches") == written


def test_days_money_and_long_lists_are_written_as_people_do():
    assert day(pd.Timestamp("2026-12-07")) == "Mon 7 Dec 2026"
    assert money(1234.4, EURO) == "1,234 EUR"
    assert names(["A", "B"]) == "A and B"
    assert names(list("ABCDEF")) == "A, B, C and 3 more"


def pace_of(*rows):
    columns = ["rank", "rank_to", "scent", "pace", "pace_low", "pace_high"]
    return pd.DataFrame(rows, columns=columns).astype({"rank": "Int64", "rank_to": "Int64"})


def test_the_fastest_is_named_alone_or_with_those_that_share_its_place():
    alone = pace_of((1, 1, "Fig", 5.0, 4.0, 6.0), (2, 2, "Rose", 3.0, 2.0, 4.0))
    assert sentences.say_fastest(alone).startswith("Fig sells fastest; Rose is second. Fig goes at 5.0 bottles a week")
    tied = pace_of((1, 2, "Fig", 5.0, 4.0, 6.0), (1, 2, "Rose", 4.9, 4.0, 6.0), (3, 3, "Oud", 1.0, 0.5, 2.0))
    assert sentences.say_fastest(tied).startswith("Fig and Rose sell fastest and cannot be told apart; Oud is third.")
    assert sentences.say_fastest(pace_of()) == "No scent has sold yet, so none can be ranked."
    assert sentences.fastest_figure(tied) == [{"what": "sells fastest", "value": "Fig or Rose"}]


def test_a_scent_that_may_belong_to_those_before_it_is_not_said_to_be_behind_them():
    chain = pace_of((1, 2, "Fig", 5.0, 4.0, 6.0), (1, 3, "Rose", 4.6, 4.0, 6.0), (2, 3, "Oud", 4.2, 3.0, 5.0))
    assert "; Oud comes next, but cannot be told apart from all of those." in sentences.say_fastest(chain)
    shared = pace_of((1, 1, "Fig", 9.0, 8.0, 9.9), (2, 3, "Rose", 4.6, 4.0, 6.0), (2, 3, "Oud", 4.2, 3.0, 5.0))
    assert "; Rose and Oud share the second place and cannot be told apart." in sentences.say_fastest(shared)


def test_a_little_known_scent_tied_with_the_first_leaves_the_order_of_places():
    rows = ((1, 3, "Ash"), (2, 3, "Bay"), (1, 4, "Dew"), (3, 4, "Elm"))
    said = sentences.say_fastest(pace_of(*((*row, 5.0, 4.0, 6.0) for row in rows)))
    assert said.startswith(
        "Ash and Dew sell fastest and cannot be told apart; Bay comes next, but cannot be told apart from all of "
        "those; then comes Elm. Ash goes at"
    )


def test_two_that_can_be_told_apart_are_not_said_alike_for_a_third_that_may_be_either():
    # by hand: Ash cannot be told apart from Bay nor from Dew, but Dew is surely slower than Bay
    said = sentences.say_fastest(
        pace_of((1, 3, "Ash", 5.0, 1.0, 9.0), (1, 2, "Bay", 4.9, 4.5, 5.3), (1, 3, "Dew", 3.0, 2.8, 3.2))
    )
    assert said.startswith("Each of Ash, Bay and Dew may sell fastest.")


@st.composite
def rankings(draw):
    """Rank and rank_to of random chances: symmetric pairs, told apart or not, each scent alike with itself."""
    count = draw(st.integers(1, 9))
    alike = np.eye(count, dtype=bool)
    for i in range(count):
        for j in range(i):
            alike[i, j] = alike[j, i] = draw(st.booleans())
    first, last = alike.argmax(axis=1), count - 1 - alike[:, ::-1].argmax(axis=1)
    short = draw(st.integers(0, 3))
    rows = [(a + 1, b + 1, f"S{n}x", 5.0, 4.0, 6.0) for n, (a, b) in enumerate(zip(first, last, strict=True))]
    return pace_of(*rows, *((pd.NA, pd.NA, f"S{count + n}x", 1.0, 0.5, 2.0) for n in range(short)))


@given(rankings())
@settings(max_examples=150, deadline=None)
def test_every_scent_is_named_or_counted_once_in_the_order_of_places(pace):
    said = sentences.say_fastest(pace).split(". ")[0]
    named = [int(found) for found in re.findall(r"S(\d+)x", said)]
    assert len(named) == len(set(named))
    assert len(named) + sum(int(more) for more in re.findall(r"and (\d+) more", said)) == len(pace)
    ranks = pace["rank"].astype("float64").fillna(99).to_numpy()[named]
    assert (np.diff(ranks) >= 0).all()
    lead = [f"S{n}x" for n in named if ranks[named.index(n)] == 1]
    assert lead == list(pace.loc[pace["rank"] == 1, "scent"].head(len(lead)))


def test_a_scent_on_the_shelf_too_short_is_said_so_and_not_ranked():
    short = pace_of((1, 1, "Fig", 5.0, 4.0, 6.0), (pd.NA, pd.NA, "Oud", 9.0, 1.0, 20.0))
    assert sentences.say_fastest(short).startswith(
        "Fig sells fastest; Oud has been on the shelf too short to say. Fig goes at"
    )
    only = sentences.say_fastest(short.iloc[1:])
    assert only == "No scent has been on the shelf long enough in the latest weeks to be ranked."


def test_counts_that_are_off_are_added_up_by_what_is_missing_and_what_is_too_much():
    off = pd.DataFrame({"difference": [0.0, -1.0, -2.0, 34.0]})
    said = sentences.say_counts(off)
    assert said == (
        "1 of 4 counts agreed with stock rolled forward from the count before; in the others 3 bottles were missing "
        "(breakages, testers, sales not written down) and 34 bottles were too many (batches or returns not written "
        "down). Each starts again from its count."
    )
    assert "; in the others 34 bottles were too many" in sentences.say_counts(off.iloc[[0, 3]])
    assert "; in the others 1 bottle was missing (" in sentences.say_counts(off.iloc[:2])
    agreed = sentences.say_counts(off.iloc[:1])
    assert agreed == "The only count to compare agreed with stock rolled forward from the count before."
    none = sentences.say_counts(off.iloc[1:])
    assert none.startswith(
        "None of 3 counts agreed with stock rolled forward from the count before; in these 3 bottles"
    )
    assert sentences.say_counts(off.iloc[:0]).startswith("No scent was counted twice")


def test_fading_scents_are_named_with_what_leaving_the_first_would_free():
    tail = pd.DataFrame(
        {
            "scent": ["Moss", "Oud"],
            "fading": [True, False],
            "ratio_trend": [-0.42, -0.1],
            "contribution_a_year": [810.0, 5.0],
            "bench_hours": [7.6, 1.0],
            "fragrance_g": [129.4, 1.0],
            "materials_a_year": [93.6, 1.0],
        }
    )
    judged = pd.DataFrame({"chance_fading": [0.95, 0.1, None]})
    assert sentences.say_tail(judged, tail, EURO) == (
        "Fading: Moss (42% less than a year ago, measured against all scents). A year without Moss would free 8 hours "
        "at the bench, 129 g of fragrance oil and 94 EUR in materials, and give up 810 EUR of contribution."
    )
    bare = tail.assign(contribution_a_year=float("nan"), fragrance_g=float("nan"), materials_a_year=float("nan"))
    assert sentences.say_tail(judged, bare, EURO).endswith("A year without Moss would free 8 hours at the bench.")
    assert sentences.say_tail(judged, tail.iloc[1:], EURO) == "No scent is fading for certain."
    assert "cannot be said yet" in sentences.say_tail(judged.iloc[2:], tail.iloc[:0], EURO)


def test_the_newest_launch_is_said_from_its_first_to_its_latest_weeks():
    begun = pd.DataFrame(
        {
            "scent": ["Fig", "Fig", "Oud"],
            "first_week": [1, 5, 1],
            "last_week": [4, 8, 4],
            "ratio": [2.24, 0.75, 9.0],
            "ratio_low": [1.5, 0.4, 8.0],
            "ratio_high": [3.1, 1.2, 9.9],
        }
    )
    assert sentences.say_launches(begun) == (
        "Fig is the newest: it sold 2.2 times as fast as the average scent in weeks 1 to 4 after its launch, and 0.8 "
        "times (between 0.4 and 1.2 in nine cases of ten) in weeks 5 to 8."
    )
    assert sentences.say_launches(begun.iloc[:1]).endswith("in weeks 1 to 4 after its launch.")
    assert sentences.say_launches(begun.iloc[:0]).startswith("No scent was launched within the sales")


NO_DAYS = pd.to_datetime([])
NO_COUNTS = pd.DataFrame({"scent": [], "since": NO_DAYS, "date": NO_DAYS, "difference": []}).astype({"scent": "str"})


def weeks_of(**columns):
    week = pd.date_range("2025-11-03", periods=3, freq="7D")
    demand = pd.DataFrame({"week": week, "scent": "Fig", "channel": "all", "open_days": 7.0, "known": "rolled forward"})
    return demand.assign(shelf_days=[0.0, 0.0, 7.0], bottles=[None, None, 4.0]).assign(**columns)


def test_sold_out_weeks_are_counted_by_scent():
    assert sentences.say_hidden(weeks_of(), EURO, NO_COUNTS) == (
        "Sold out for whole weeks, by counts, batches and sales: Fig (2 weeks). "
        "What was wanted in weeks sold out is unknown, and is not taken for nothing."
    )
    assert sentences.say_hidden(weeks_of().iloc[2:], EURO, NO_COUNTS) == "No scent was sold out for a whole week."


def test_what_is_inferred_is_said_apart_with_its_chance_and_the_switch():
    shop = Settings(name="T", currency="EUR", shelf=Shelf(sold_out_chance=0.7))
    both = pd.concat([weeks_of(), weeks_of(scent="Oud", known="inferred")], ignore_index=True)
    said = sentences.say_hidden(both, shop, NO_COUNTS)
    assert said.startswith("Sold out for whole weeks, by counts, batches and sales: Fig (2 weeks). Probably sold out")
    assert "inferred from days without a sale: Oud (2 weeks)." in said
    assert (
        "at least 70% (`sold_out_chance` in shop.toml under `[shelf]`; `infer = false` there switches it off)" in said
    )
    part = weeks_of(known="inferred", shelf_days=3.0, bottles=1.0)
    assert sentences.say_hidden(part, EURO, NO_COUNTS).startswith(
        "No scent was sold out for a whole week. Uncounted days"
    )


def test_weeks_before_a_count_that_found_more_are_in_doubt():
    # by hand: the second of the two weeks lies between the count of 9 Nov and that of 14 Nov, which found 9 too many
    dates = {"since": pd.to_datetime(["2025-11-09"]), "date": pd.to_datetime(["2025-11-14"])}
    counts = pd.DataFrame({"scent": ["Fig"], **dates, "difference": [9.0]})
    said = sentences.say_hidden(weeks_of(), EURO, counts)
    assert "Sold out for whole weeks, by counts, batches and sales: Fig (1 week). Perhaps sold out" in said
    assert "so a batch or return is not written down: Fig (1 week)." in said
    fewer = sentences.say_hidden(weeks_of(), EURO, counts.assign(difference=-1.0))
    assert fewer == sentences.say_hidden(weeks_of(), EURO, NO_COUNTS)
    assert sentences.say_hidden(weeks_of(), EURO, counts.assign(scent="Oud")) == fewer
    doubted = sentences.say_hidden(weeks_of(known="inferred"), EURO, counts.assign(since=pd.Timestamp("2025-10-01")))
    assert doubted.startswith("Perhaps sold out")  # as planner.shelf marks days that a later count doubts
    assert "without a sale" not in doubted


def test_a_closed_shop_or_a_week_without_a_market_is_not_sold_out():
    assert sentences.say_hidden(weeks_of(open_days=[0.0, 7.0, 7.0]), EURO, NO_COUNTS).startswith(
        "Sold out for whole weeks, by counts, batches and sales: Fig (1 week)."
    )
    closed = weeks_of(open_days=[0.0, 0.0, 7.0], known="inferred")
    assert sentences.say_hidden(closed, EURO, NO_COUNTS) == "No scent was sold out for a whole week."


def test_the_plan_says_how_many_batches_by_when():
    bench = pd.DataFrame({"bottles": [24, 24], "mix_on": pd.to_datetime(["2026-10-06", "2026-10-13"])})
    plan = pd.DataFrame(
        {
            "scent": ["Fig", "Rose"],
            "batches": [0, 2],
            "contribution": [10.0, 290.4],
            "chance_sold_out": [0.6, 0.2],
            "expected_left_over": [1.0, 6.2],
        }
    )
    said = sentences.say_plan(plan, bench, EURO)
    assert said.startswith(
        "Make 2 batches (48 bottles): 2 of Rose. The first is mixed on Tue 6 Oct 2026, the last on Tue 13"
    )
    assert "300 EUR" in said
    assert sentences.say_risk(plan) == (
        "More likely than not to sell out: Fig. Most left over on average: Rose, 6 bottles."
    )
    assert sentences.say_plan(plan, bench.iloc[:0], EURO).startswith("No batch is worth making now")
    assert sentences.plan_figure(bench) == [{"what": "to make, the first on Tue 6 Oct 2026", "value": "2 batches"}]


def test_what_comes_too_late_is_said_first():
    buying = pd.DataFrame(
        {
            "material": ["Cap", "Label", "Box"],
            "packs": [1, 2, 0],
            "cost": [10.0, 5.5, 0.0],
            "order_by": pd.to_datetime(["2026-09-20", "2026-10-01", None]),
        }
    )
    today = pd.Timestamp("2026-09-28")
    assert sentences.say_buying(buying, today, EURO) == (
        "Too late to arrive in time if ordered today: Cap. Move those batches or ask the supplier. "
        "2 materials must be bought, for 16 EUR in all."
    )
    assert sentences.say_buying(buying.iloc[1:], today, EURO).startswith(
        "Order Label first, by Thu 1 Oct 2026. 1 material"
    )
    assert sentences.say_buying(buying.iloc[2:], today, EURO).startswith("Nothing needs buying")


def test_losses_are_said_in_oil_and_money_with_the_runs_that_stand_out():
    losses = pd.DataFrame(
        {
            "weighed_g": [300.0, 100.0],
            "rejected_g": [9.0, 0.0],
            "residue_g": [5.0, 4.0],
            "unexplained_g": [2.0, 0.0],
            "cost": [1, 2],
        }
    )
    runs = pd.DataFrame({"lot": ["L1", "L2"], "signal": ["far above the upper limit", ""]})
    said = sentences.say_losses(losses, runs, EURO)
    assert said == "Over 2 runs, 20 g of 400 g of oil was lost (5.0%), worth 3 EUR. 1 run stands out: L1."
    assert sentences.say_losses(losses.iloc[:0], runs, EURO).startswith("No run could be balanced yet")
    assert sentences.loss_figure(losses)[0]["value"] == "5.0%"


def test_the_first_thing_to_put_right_is_said():
    wrong = Problem("stock.csv", 3, "on_hand", "'x' cannot be used as a number.", "Write a plain number.")
    note = Problem("stock.csv", 1, "memo", "is not a column we read.", "", stops=False)
    assert sentences.say_folder([note, wrong], []).startswith("Put right first: stock.csv, row 3, on_hand: 'x'")
    assert sentences.say_folder([note], ["wishes"]).startswith("Every row could be read. 1 file could still be started")
    assert sentences.say_next([note]).startswith("Nothing needs putting right")


def test_more_to_buy_than_there_is_money_is_said():
    buying = pd.DataFrame(
        {
            "material": ["Cap", "Oil"],
            "packs": [1, 1],
            "cost": [310.0, None],
            "order_by": pd.to_datetime(["2026-10-01"] * 2),
        }
    )
    poor = Settings(name="T", currency="EUR", money_available=200.0)
    said = sentences.say_buying(buying, pd.Timestamp("2026-09-28"), poor)
    assert "The price of 1 of them is not known." in said
    assert "That is more than the 200 EUR there is to spend" in said
    assert "That is more" not in sentences.say_buying(buying, pd.Timestamp("2026-09-28"), EURO)


def test_unknown_items_are_said_with_what_is_at_stake():
    unknown = pd.DataFrame({"item": ["Fgi"], "lines": [2], "bottles": [4.0]})
    assert sentences.say_unknown(unknown) == "4 bottles do not count because their items are unknown: Fgi."
    assert sentences.say_unknown(unknown.iloc[:0]).startswith("Every item is a scent")


def test_the_ranking_names_its_weeks_and_marks_what_is_no_longer_sold():
    weeks = sentences.say_weeks(pd.Timestamp("2026-03-30"), pd.Timestamp("2026-09-27"))
    assert weeks == "from Mon 30 Mar 2026 to Sun 27 Sep 2026"
    assert sentences.say_weeks(pd.NaT, pd.NaT) == ""
    pace = pace_of((1, 1, "Fig", 5.0, 4.0, 6.0), (2, 2, "Rose", 3.0, 2.0, 4.0)).assign(note=["no longer sold", ""])
    assert sentences.say_fastest(pace, weeks) == (
        "Fig (no longer sold) sells fastest; Rose is second. Fig goes at 5.0 bottles a week on the shelf from "
        "Mon 30 Mar 2026 to Sun 27 Sep 2026, between 4.0 and 6.0 in nine cases of ten."
    )


def test_weeks_that_ended_long_ago_and_scents_sold_to_order_are_said_beside_the_ranking():
    pace = pace_of((1, 1, "Fig", 5.0, 4.0, 6.0)).assign(average_pace=4.25)
    none = pd.DataFrame({"scent": [], "bottles": []})
    last = pd.Timestamp("2025-04-27")
    drawn = "The less was sold, the more a pace is drawn to the average scent's 4.2 bottles a week."
    assert sentences.say_beside(pace, none, last, last + pd.Timedelta(days=56)) == drawn
    old = sentences.say_beside(pace, none, last, last + pd.Timedelta(days=70))
    assert old.startswith("These weeks ended 10 weeks ago: no newer sale is in the files")
    bulk = pd.DataFrame({"scent": ["Bulk"], "bottles": [192.0]})
    assert sentences.say_beside(pace, bulk, last, last).startswith(
        "Sold to order only, so chosen by no shopper and not ranked: Bulk (192 bottles)."
    )
    assert sentences.say_beside(pace.iloc[:0], none, pd.NaT, last) == "Nothing yet."


def test_bottles_in_no_pace_and_refunds_without_a_sale_are_said():
    sales = pd.DataFrame({"kind": ["sale", "refund", "refund"], "bottles": [9, -2, -1]})
    steps = pd.DataFrame({"what": ["sold", "taken back by refunds", "in the ranking"], "bottles": [9, -2, 4]})
    lost = pd.DataFrame({"scent": ["Bay", "Ash", "Bay"], "bottles": [1, 2, 2], "weeks": 1, "why": "closed"})
    assert sentences.say_steps(steps, lost, sales) == (
        "These add up to the bottle. 1 bottle more was refunded without a sale before, which changes nothing. "
        "In no pace, for the reasons below: Bay (3 bottles) and Ash (2 bottles)."
    )
    assert sentences.say_steps(steps, lost.iloc[:0], sales.iloc[:2]) == "These add up to the bottle."
    gap = pd.concat([steps, pd.DataFrame({"what": ["not explained"], "bottles": [-3]})])
    assert sentences.say_steps(gap, lost.iloc[:0], sales.iloc[:2]).startswith("3 bottles cannot be explained")
