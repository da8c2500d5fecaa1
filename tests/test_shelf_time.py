"""From when to when a scent was for sale, and market days that only the sales know."""

import numpy as np
import pandas as pd
import pytest
from shelf_tables import WEB, WEB_AND_MARKET, file_of, on_shelf, sales_of, shelf_of

from planner.settings import Channel, Settings
from planner.shelf import shelf_days, weekly_demand

DAYS = pd.date_range("2025-06-02", "2026-02-22")  # 38 whole weeks


def daily(scent, days=DAYS, bottles=1, channel="web"):
    return [(day, scent, bottles, "sale", channel) for day in days]


def first_day(book, scent):
    return next(iter(on_shelf(book, scent=scent)))


def test_sales_outside_the_stated_days_widen_them_and_are_named():
    # Bay sold every day and is said to have been for sale in December only
    sales = sales_of(*daily("Ash"), *daily("Bay"))
    dates = {"first_sold": pd.Timestamp("2025-12-01"), "last_sold": pd.Timestamp("2025-12-31")}
    book = shelf_of(sales, ("Bay", "Ash"), **dates)
    assert [str(problem) for problem in book.problems if "Bay" in str(problem)] == [
        "scents.csv, row 2, first_sold: Bay: 182 of its 266 bottles were sold before 2025-12-01, first on 2025-06-02. "
        "It counts as for sale from that day; put the day in scents.csv right.",
        "scents.csv, row 2, last_sold: Bay: 53 of its 266 bottles were sold after 2025-12-31, last on 2026-02-22. "
        "It counts as for sale to that day; put the day in scents.csv right.",
    ]
    demand = weekly_demand(sales, book.shelf, WEB)
    assert demand.loc[demand["exposure"] > 0, "bottles"].sum() == 2 * 266  # no bottle is lost to the pace


def test_a_stray_few_outside_the_stated_days_change_nothing_and_are_named():
    sales = sales_of(*daily("Ash"), (DAYS[3], "Bay", 2, "sale", "web"), *daily("Bay", DAYS[100:]))
    book = shelf_of(sales, ("Bay", "Ash"), first_sold=DAYS[100], last_sold=pd.NaT)
    assert first_day(book, "Bay") == f"{DAYS[100]:%m-%d}"
    assert (
        "Bay: 2 of its 168 bottles were sold before 2025-09-10, first on 2025-06-05. So few do not change when"
        in str(book.problems[1])
    )


def test_the_totals_of_a_week_that_holds_the_first_day_do_not_contradict_it():
    from planner.settings import Export

    export = Export("web*", "web", "web", {"day": "D", "item": "I", "bottles": "Q"}, totals="week")
    weekly = Settings("T", "EUR", channels=(Channel("web"),), exports=(export,))
    sales = sales_of(*daily("Fig", DAYS[::7], 7))  # Monday stands for its week, and the first day is a Thursday
    assert shelf_of(sales, settings=weekly, first_sold=DAYS[3]).problems == []


def test_without_a_stated_day_a_scent_is_on_the_shelf_from_its_first_count_or_batch():
    # Bay stood there from September and sold first in January
    sales = sales_of(*daily("Ash"), *daily("Bay", pd.date_range("2026-01-12", "2026-02-20", freq="3D")))
    counted = shelf_of(sales, ("Ash", "Bay"), stock=[("2025-09-01", "Bay", 20), ("2025-12-01", "Bay", 20)])
    assert first_day(counted, "Bay") == "09-01"
    run = {"lot": "L1", "date": "2025-09-20", "scent": "Bay", "bottles_filled": 24}
    made = shelf_of(sales, ("Ash", "Bay"), runs=[run], rest_days=7)
    assert first_day(made, "Bay") == "09-27"


def test_counted_none_before_its_first_sale_was_sold_out():
    sales = sales_of(*daily("Ash"), *daily("Bay", DAYS[150:]))
    book = shelf_of(sales, ("Ash", "Bay"), stock=[(DAYS[60], "Bay", 0)])
    weeks = weekly_demand(sales, book.shelf, WEB)
    bay = weeks[weeks["scent"] == "Bay"].set_index("week")
    assert (bay.loc["2025-08-04":"2025-10-20", "open_days"] == 7).all()
    assert bay.loc["2025-08-04":"2025-10-20", "bottles"].isna().all()


def test_a_first_sale_in_the_first_weeks_is_no_launch_and_one_later_than_chance_allows_is_and_is_said():
    slow = daily("Bay", DAYS[20::30])  # nine sales; that all come in the last 246 of 266 days has a chance of 0.49
    new = daily("Cay", DAYS[133:])  # none in the first half, then every day
    sales = sales_of(*daily("Ash"), *slow, *new)
    book = shelf_of(sales, ("Ash", "Bay", "Cay"))
    assert first_day(book, "Bay") == "06-02"
    assert first_day(book, "Cay") == f"{DAYS[133]:%m-%d}"
    assert [str(problem) for problem in book.problems] == [
        "scents.csv, row 4, first_sold: is empty for Cay (2025-10-13), first there later than chance allows, were "
        "they for sale all along. Each counts as launched on the day beside its name; write the days."
    ]


def test_scents_for_sale_all_along_are_seldom_taken_for_new():
    # 40 shops of 20 slow scents, a sale a fortnight: chance alone lets about one in twenty come late
    late, rng = 0, np.random.default_rng(7)
    for _ in range(40):
        rows = [line for n in range(20) for line in daily(f"S{n:02}", DAYS[rng.random(len(DAYS)) < 1 / 14])]
        names = sorted({row[1] for row in rows})
        book = shelf_of(sales_of(*rows), names)
        first = book.shelf.groupby("scent")["day"].min()
        late += (first > first.min()).sum()
    assert 10 < late / 800 * 1000 < 80


def test_a_few_lines_long_before_the_shop_do_not_stretch_the_time_of_a_scent():
    stray = (pd.Timestamp("2019-03-01"), "Ash", 1, "sale", "web")
    book = shelf_of(sales_of(stray, *daily("Ash"), *daily("Bay", DAYS[2::3])), ("Ash", "Bay"))
    bay = book.shelf[book.shelf["scent"] == "Bay"]
    assert bay["day"].min() == DAYS[0]


MARKETS = DAYS[5::7]
LISTED = [{"first_day": MARKETS[0], "what": "Town", "kind": "market", "channel": "market"}]


@pytest.mark.parametrize("calendar", [LISTED, []])
def test_a_day_with_market_sales_was_a_market_day_and_is_said_where_the_calendar_has_none(calendar):
    sales = sales_of(*daily("Ash"), *daily("Ash", MARKETS, 5, "market"), *daily("Mar", MARKETS, 3, "market"))
    book = shelf_of(sales, ("Ash", "Mar"), calendar=calendar, settings=WEB_AND_MARKET)
    unlisted = len(MARKETS) - len(calendar)
    assert str(book.problems[0]) == (
        f"calendar.csv, first_day: market: {unlisted * 8} bottles sold on {unlisted} days that are no market days "
        f"here, the first on {MARKETS[len(calendar)]:%Y-%m-%d}. They count as market days; add them."
    )
    demand = weekly_demand(sales, book.shelf, WEB_AND_MARKET)
    mar = demand[(demand["scent"] == "Mar") & (demand["exposure"] > 0)]
    assert mar["bottles"].sum() == 3 * len(MARKETS)
    market = book.shelf[(book.shelf["channel"] == "market") & (book.shelf["on_shelf"] > 0)]
    assert set(market["day"]) == set(MARKETS)


def test_a_sale_on_a_day_the_shop_was_closed_opens_that_day_and_is_said():
    away = {"first_day": DAYS[7], "last_day": DAYS[13], "what": "Away", "kind": "closed"}
    book = shelf_of(sales_of(*daily("Fig", DAYS.delete([*range(7, 10), *range(11, 14)]))), calendar=[away])
    assert [on_shelf(book)[f"{day:%m-%d}"] for day in DAYS[6:15]] == [1, 0, 0, 0, 1, 0, 0, 0, 1]
    assert str(book.problems[0]) == (
        "calendar.csv, first_day: web: 1 bottle sold on 1 day that is a day on which it was closed here, 2025-06-12. "
        "It counts as open; put the closed days right."
    )


def test_a_count_above_a_roll_forward_of_none_makes_the_days_before_it_uncertain():
    # 3 counted and 3 sold; then 9 are found without a batch: when they came nobody knows
    sales = sales_of(*daily("Fig", DAYS[:1]), (DAYS[9], "Fig", 3, "sale", "web"), *daily("Ash", DAYS[:40]))
    for second, known in ((9, "inferred"), (0, "rolled forward")):
        book = shelf_of(sales, ("Fig", "Ash"), stock=[(DAYS[6], "Fig", 3), (DAYS[20], "Fig", second)])
        fig = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")
        assert set(fig.loc[DAYS[10:20], "known"]) == {known}
        assert set(fig.loc[DAYS[7:9], "known"]) == {"rolled forward"}
        assert fig.loc[DAYS[10:20], "on_shelf"].eq(0).all()


def test_the_time_for_sale_does_not_change_what_it_is_given():
    scents = file_of("scents", [{"scent": "Fig", "first_sold": DAYS[50]}])
    before = scents.copy()
    none = [file_of(name, []) for name in ("stock", "runs", "moves", "calendar")]
    shelf_days(sales_of(*daily("Fig")), scents, *none, WEB, DAYS[-1])
    pd.testing.assert_frame_equal(scents, before)
