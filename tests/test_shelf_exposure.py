import numpy as np
import pandas as pd
import pytest
from shelf_tables import WEB, WEB_AND_MARKET, sales_of, shelf_of

from planner.shelf import weekly_demand
from planner.shelf.weights import EQUAL, day_weights

MONDAY = "2026-01-05"


def exposure_of(sales, week=MONDAY, scent="Fig", settings=WEB, **files):
    book = shelf_of(sales, tuple(sales["scent"].unique()), settings=settings, **files)
    demand = weekly_demand(sales, book.shelf, settings).set_index(["week", "scent"])
    return demand.loc[(pd.Timestamp(week), scent), "exposure"]


def test_with_hardly_a_sale_every_day_counts_the_same():
    # one bottle on each day of the week: Fig was counted none left on Wednesday evening, so 2.5 of 7 days
    lines = [(day, "Rose", 1, "sale", "web") for day in pd.date_range("2026-01-04", periods=8)]
    sales = sales_of(*lines, (MONDAY, "Fig", 1, "sale", "web"))
    stock = [("2026-01-04", "Fig", 2), ("2026-01-07", "Fig", 0)]
    equal = exposure_of(sales, stock=stock)
    assert equal == pytest.approx(2.5 / 7, abs=0.01)  # Monday sold two: a hundredth of a weekday


def test_a_scent_that_ran_out_before_the_weekend_missed_most_of_the_week():
    # a hundred weeks of 2 bottles on each weekday and 10 on Saturday and on Sunday: 10 of 30 before the weekend
    days = pd.date_range("2024-02-05", periods=707)
    lines = [(day, "Rose", 10 if day.day_of_week > 4 else 2, "sale", "web") for day in days]
    sales = sales_of(*lines, (MONDAY, "Fig", 1, "sale", "web"))
    stock = [("2026-01-04", "Fig", 2), ("2026-01-10", "Fig", 0)]
    book = shelf_of(sales, ("Rose", "Fig"), stock=stock)
    weekly = weekly_demand(sales, book.shelf, WEB).set_index(["week", "scent"])
    week = weekly.loc[(pd.Timestamp(MONDAY), "Fig")]
    assert week["shelf_days"] == 5.5  # half of Saturday, the day it ran out
    assert week["exposure"] == pytest.approx((5 * 2 + 0.5 * 10) / 30, abs=0.015)


def test_a_day_the_channel_is_closed_is_worth_nothing_and_a_market_day_what_it_sells():
    # web sells 1 a day, the market 10 on each of its Saturdays: in a market week 7 + 10, of which 7 on the web
    days = pd.date_range("2024-01-01", periods=735)
    markets = [day for day in days if day.day_of_week == 5]
    lines = [(day, "Rose", 1, "sale", "web") for day in days]
    lines += [(day, "Rose", 10, "sale", "market") for day in markets if f"{day:%Y-%m-%d}" != "2025-12-27"]
    calendar = [
        {"first_day": day, "what": f"M{n}", "kind": "market", "channel": "market"} for n, day in enumerate(markets)
    ]
    closed = {"first_day": "2025-12-22", "what": "Away", "kind": "closed", "channel": "market",
              "last_day": pd.Timestamp("2025-12-28")}  # fmt: skip
    book = shelf_of(sales_of(*lines), ("Rose",), settings=WEB_AND_MARKET, calendar=[*calendar, closed])
    shelf = book.shelf[book.shelf["scent"] == "Rose"].set_index(["channel", "day"])["day_weight"]
    assert (shelf["market"][shelf["market"] > 0].index.day_of_week == 5).all()
    assert shelf["market"].loc["2025-12-27"] == 0
    assert shelf["market"].loc["2025-12-20"] / shelf["web"].loc["2025-12-18"] == pytest.approx(10, rel=0.1)
    opened = shelf[shelf > 0]
    assert opened.mean() == pytest.approx(1.0)


def test_a_week_the_sales_files_cover_in_part_counts_in_part():
    # the files end on Wednesday evening and the week has four more days
    lines = [(day, "Fig", 1, "sale", "web") for day in pd.date_range("2025-12-01", "2026-01-07")]
    assert exposure_of(sales_of(*lines)) == pytest.approx(3 / 7, abs=0.03)


def test_weekdays_and_markets_are_found_again():
    rng = np.random.default_rng(3)
    days = pd.date_range("2023-10-02", periods=7 * 150)
    truth = np.array([0.6, 0.7, 0.8, 0.9, 1.1, 1.6, 1.3])
    market = np.isin(days.day_of_week, [5, 6]) & (days.day < 15)
    season = np.exp(1.2 * np.sin(2 * np.pi * days.day_of_year / 365.25))
    sold = rng.poisson(6 * season * truth[days.day_of_week] * np.where(market, 2.2, 1.0))
    one = pd.DataFrame({"web": sold.astype(float)}, index=days)
    opened, markets = pd.DataFrame({"web": True}, index=days), pd.DataFrame({"web": market}, index=days)
    weights = day_weights(one, np.ones(len(days)), opened, markets)["web"]
    plain = weights[~market].groupby(weights[~market].index.day_of_week).first()
    assert (plain / plain.mean()).to_numpy() == pytest.approx(truth / truth.mean(), rel=0.07)
    assert weights[market].iloc[0] / weights[~market & (days.day_of_week == 5)].iloc[0] == pytest.approx(2.2, rel=0.1)


def test_few_sales_stay_near_equal_days():
    # one week, all 5 bottles on Saturday: (5 + 20) where (5/7 + 20) were expected, if nothing else moved
    days = pd.date_range(MONDAY, periods=7)
    sold = pd.DataFrame({"web": [0.0, 0, 0, 0, 0, 5, 0]}, index=days)
    always = pd.DataFrame({"web": True}, index=days)
    weights = day_weights(sold, np.ones(7), always, ~always)["web"]
    assert weights.iloc[5] / weights.iloc[0] == pytest.approx((5 + EQUAL) / EQUAL, rel=0.03)


def test_days_when_much_was_sold_out_teach_nothing():
    days = pd.date_range("2025-01-06", periods=70)
    sold = pd.DataFrame({"web": np.where(days.day_of_week == 5, 0.0, 9.0)}, index=days)
    always = pd.DataFrame({"web": True}, index=days)
    there = np.where(days.day_of_week == 5, 0.3, 1.0)  # on Saturdays the shelf was nearly empty
    weights = day_weights(sold, there, always, ~always)["web"]
    assert weights[days.day_of_week == 5].iloc[0] == pytest.approx(1.0, rel=0.02)


def test_one_big_order_makes_no_weekday():
    # 2 a day for 70 days, and 500 on one Tuesday: it counts as ten days of 2, so Tuesdays sell 38 where others sell 20
    days = pd.date_range("2025-01-06", periods=70)
    sold = pd.DataFrame({"web": 2.0}, index=days)
    sold.iloc[8] = 500.0
    always = pd.DataFrame({"web": True}, index=days)
    weights = day_weights(sold, np.ones(70), always, ~always)["web"]
    plain = day_weights(sold.clip(upper=20.0), np.ones(70), always, ~always)["web"]
    assert weights.to_numpy() == pytest.approx(plain.to_numpy())
    assert weights.iloc[1] / weights.iloc[0] < 38 / 20


def test_closed_and_marketless_weeks_are_told_from_sold_out_ones():
    # a stall on every second Saturday: no market is no open day; Fig is counted to none before the third market
    days = pd.date_range("2026-01-10", periods=3, freq="14D")
    lines = [(day, scent, 2, "sale", "market") for day in days for scent in ("Fig", "Rose")]
    sales = sales_of(*[line for line in lines if line[:2] != (days[2], "Fig")])
    calendar = [{"first_day": day, "what": "Stall", "kind": "market"} for day in days]
    book = shelf_of(
        sales, ("Fig", "Rose"), stock=[("2026-01-20", "Fig", 2)], calendar=calendar, settings=WEB_AND_MARKET
    )
    market = book.shelf[book.shelf["channel"] == "market"]
    week = weekly_demand(sales, market, WEB_AND_MARKET).set_index(["scent", "week"])
    fig = week.loc["Fig", ["open_days", "shelf_days"]].to_numpy().tolist()
    assert fig == [
        [1, 1],
        [0, 0],
        [1, 0.5],
        [0, 0],
        [1, 0],
    ]
    assert week.loc["Rose", "open_days"].tolist() == [1, 0, 1, 0, 1]


def test_the_days_a_shop_is_closed_are_no_open_days():
    lines = [
        (day, "Fig", 1, "sale", "web") for day in pd.date_range("2026-01-05", "2026-02-01") if not 12 <= day.day <= 22
    ]
    away = {"first_day": "2026-01-12", "last_day": pd.Timestamp("2026-01-22"), "what": "holiday", "kind": "closed"}
    for channel in (None, "web", "all"):
        sales = sales_of(*lines)
        book = shelf_of(sales, stock=[("2026-01-05", "Fig", 90)], calendar=[{**away, "channel": channel}])
        week = weekly_demand(sales, book.shelf, WEB)
        assert week["open_days"].tolist() == week["shelf_days"].tolist() == [7, 0, 3, 7]
        assert week["bottles"].isna().tolist() == [False, True, False, False]


def test_whole_weeks_are_whole_numbers():
    # 28 of 28 days on the shelf are four weeks, without a rest of sums
    rng = np.random.default_rng(2)
    lines = [
        (day, "Fig", int(n) + 1, "sale", "web")
        for day, n in zip(pd.date_range("2025-01-06", "2025-12-28"), rng.poisson(3, 357), strict=True)
    ]
    demand = weekly_demand(sales_of(*lines), shelf_of(sales_of(*lines)).shelf, WEB)
    assert (demand["exposure"] == 1.0).all()
