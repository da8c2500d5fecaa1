"""What was on the shelf week by week, and what became of every bottle sold."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner import summaries, wanted
from planner.pace import scent_pace
from planner.settings import Channel, Settings
from planner.shelf import weekly_demand

SHOP = Settings("T", "EUR", channels=(Channel("web"), Channel("wholesale", open="to order")))
MARKET = Settings("T", "EUR", channels=(Channel("market", open="market days"),))


WEEKS = pd.DataFrame(
    # by hand: sold out all week, sold out for two of four open days, closed, sold out by the week's end, cut off
    {
        "week": pd.date_range("2026-03-02", periods=5, freq="7D"),
        "scent": "Fig",
        "channel": "all",
        "bottles": [None, 3.0, None, 8.0, 2.0],
        "shelf_days": [0.0, 2.0, 0.0, 7.0, 3.0],
        "open_days": [7.0, 4.0, 0.0, 7.0, 3.0],
        "exposure": [0.0, 0.4, 0.0, 0.8, 0.4],
        "known": ["inferred", "rolled forward", "assumed", "end only", "assumed"],
    }
)


def test_a_closed_week_is_not_sold_out_and_a_week_not_over_is_not_off_the_shelf():
    weeks = wanted.latest_weeks(WEEKS, ["Fig"], 10, pd.Timestamp("2026-04-01"))
    assert weeks["sold_out"].tolist() == [True, False, False, False, False]
    assert weeks["off_shelf"].to_numpy() == pytest.approx([1.0, 0.5, 0.0, 0.2, 0.0])
    assert weeks["guessed"].tolist() == [True, False, False, False, False]
    assert weeks["not_over"].tolist() == [False, False, False, False, True]
    whole = wanted.latest_weeks(WEEKS, ["Fig"], 10, pd.Timestamp("2026-04-05"))
    assert not whole["not_over"].any()


def test_a_picture_holds_no_more_scents_than_can_be_read():
    scents = [f"S{n}" for n in range(60)]
    demand = pd.DataFrame({"week": pd.Timestamp("2026-01-05"), "scent": scents, "channel": "all", "shelf_days": 0.0})
    demand = demand.assign(open_days=4.0, bottles=pd.NA, known="rolled forward", exposure=0.0)
    weeks = wanted.latest_weeks(demand, scents, 10, pd.Timestamp("2026-01-11"))
    assert weeks["scent"].tolist() == scents[: summaries.MOST_DRAWN]
    assert weeks["sold_out"].all()
    assert weeks["off_shelf"].eq(1.0).all()


def test_a_week_of_markets_is_over_after_its_last_one():
    shelf = pd.DataFrame({"day": pd.to_datetime(["2026-02-13", "2026-02-14"]), "channel": "market"})
    assert wanted.last_day_known(shelf, MARKET, pd.Timestamp("2026-02-23")) == pd.Timestamp("2026-02-15")
    assert wanted.last_day_known(shelf, MARKET, pd.Timestamp("2026-02-14")) == pd.Timestamp("2026-02-14")
    daily = shelf.assign(channel=["market", "web"])
    assert wanted.last_day_known(daily, SHOP, pd.Timestamp("2026-02-23")) == pd.Timestamp("2026-02-14")


def test_counts_that_agree_are_not_listed_and_the_latest_comes_first():
    day = pd.to_datetime(["2026-01-05", "2026-02-02", "2026-03-02"])
    table = pd.DataFrame(
        {"date": day, "scent": "Fig", "since": day, "rolled": [5.0, 4.0, 3.0], "counted": [4.0, 4.0, 5.0]}
    )
    off = wanted.counts_off(table.assign(difference=table["counted"] - table["rolled"]))
    assert off["difference"].tolist() == [2.0, -1.0]
    assert off[["rolled_forward", "on_hand"]].iloc[0].tolist() == [3.0, 5.0]


def test_bottles_bought_in_weeks_not_on_the_shelf_are_named_with_the_reason():
    week = pd.to_datetime(["2025-11-03", "2025-11-10", "2025-12-08", "2026-01-05", "2026-01-05", "2026-01-05"])
    demand = pd.DataFrame({"week": week, "channel": ["all"] * 5 + ["wholesale"]})
    demand = demand.assign(
        scent=["Bay", "Bay", "Bay", "Ash", "Dew", "Ash"],
        bottles=[4, 5, 6, 2, 1, 24],
        shelf_days=[0.0, 0.0, 7.0, 0.0, 0.0, 0.0],
        open_days=[0.0, 0.0, 7.0, 0.0, 7.0, 0.0],
        exposure=[0.0, 0.0, 1.0, 0.0, 0.0, 0.0],
    )
    dates = {"first_sold": pd.to_datetime(["2025-12-01", None, None]), "last_sold": pd.to_datetime([None] * 3)}
    lost = wanted.in_no_pace(demand, pd.DataFrame({"scent": ["Bay", "Ash", "Dew"], **dates}))
    assert lost.to_numpy().tolist() == [
        ["Bay", 9, 2, "before first_sold or after last_sold in scents.csv"],
        ["Ash", 2, 1, "no channel that has it was open, by shop.toml, calendar.csv and scents.csv"],
        ["Dew", 1, 1, "sold out, by counts and batches"],
    ]


FIRST = pd.Timestamp("2025-03-03")
DAYS = 300  # longer than the half year that is ranked
LINES = st.lists(
    st.tuples(
        st.integers(0, DAYS - 1),
        st.sampled_from(["Ash", "Bay"]),
        st.sampled_from(["web", "wholesale"]),
        st.integers(-4, 6).filter(bool),
    ),
    min_size=1,
    max_size=25,
)


def sales_of(lines):
    table = pd.DataFrame(lines, columns=["day", "scent", "channel", "bottles"])
    kind = np.where(table["bottles"] > 0, "sale", "refund")
    day = FIRST + pd.to_timedelta(table["day"], unit="D")
    return table.assign(day=day, kind=kind, unit_price=18.0, file="web.csv")


def shelf_of(weeks_off):
    days = pd.date_range(FIRST, periods=DAYS, name="day")
    shelf = pd.MultiIndex.from_product([days, ["Ash", "Bay"]], names=["day", "scent"]).to_frame(index=False)
    week = (shelf["day"] - FIRST).dt.days // 7
    off = [pair in weeks_off for pair in zip(week, shelf["scent"], strict=True)]
    return shelf.assign(channel="web", on_shelf=np.where(off, 0.0, 1.0), known="rolled forward", day_weight=1.0)


def taken_back_slowly(lines):
    """Bottle by bottle: each refunded one takes back one sold before it or that day, if any is left."""
    back = 0
    for scent in ("Ash", "Bay"):
        for channel in ("web", "wholesale"):
            mine = [line for line in lines if line[1:3] == (scent, channel)]
            left = 0
            for day in range(DAYS):
                left += sum(line[3] for line in mine if line[0] == day and line[3] > 0)
                for _ in range(-sum(line[3] for line in mine if line[0] == day and line[3] < 0)):
                    back, left = (back + 1, left - 1) if left else (back, left)
    return back


@given(LINES, st.sets(st.tuples(st.integers(0, 42), st.sampled_from(["Ash", "Bay"])), max_size=40))
@settings(max_examples=60, deadline=None)
def test_bottles_sold_lead_to_those_ranked_to_the_unit(lines, weeks_off):
    sales = sales_of(lines)
    demand = weekly_demand(sales, shelf_of(weeks_off), SHOP)
    costs = pd.DataFrame({"scent": ["Ash", "Bay"], "contribution_per_bottle": 1.0})
    pace = scent_pace(demand, costs, SHOP, np.random.default_rng(1))
    first = FIRST + pd.Timedelta(weeks=DAYS // 7 - 25)
    seen = demand[(demand["channel"] == "all") & (demand["exposure"] > 0)]
    first = max(seen["week"].max() - pd.Timedelta(weeks=25), seen["week"].min()) if len(pace) else pd.NaT
    steps = wanted.from_sales_to_pace(sales, demand, pace, first).set_index("what")["bottles"]
    assert "not explained" not in steps
    assert steps.iloc[:-1].sum() == steps["in the ranking"] == pace["bottles"].sum()
    assert steps["sold, by the sales files"] == sum(line[3] for line in lines if line[3] > 0)
    assert -steps["taken back by refunds"] == taken_back_slowly(lines)
    assert (steps.iloc[1:-1] <= 0).all()


def test_a_bottle_that_went_missing_on_the_way_is_shown():
    lines = [(day, "Ash", "web", 2) for day in range(0, DAYS, 7)]
    sales = sales_of(lines)
    demand = weekly_demand(sales, shelf_of(set()), SHOP)
    costs = pd.DataFrame({"scent": ["Ash", "Bay"], "contribution_per_bottle": 1.0})
    pace = scent_pace(demand, costs, SHOP, np.random.default_rng(1))
    steps = wanted.from_sales_to_pace(sales.iloc[1:], demand, pace, FIRST + pd.Timedelta(weeks=17))
    assert steps.set_index("what")["bottles"]["not explained"] == 2


def test_a_refund_before_the_only_sale_takes_nothing_back():
    # by hand: 2 back before anything was sold, then 3 sold, then 4 back, of which only 3 can be
    lines = [(0, "Ash", "web", -2), (5, "Ash", "web", 3), (9, "Ash", "web", -4), (9, "Bay", "web", 1)]
    assert wanted.taken_back(sales_of(lines)) == 3
    assert wanted.taken_back(sales_of([(3, "Ash", "web", -1), (3, "Ash", "web", 1)])) == 1  # the same day
    assert wanted.taken_back(sales_of([(3, "Ash", "web", 1)])) == 0
