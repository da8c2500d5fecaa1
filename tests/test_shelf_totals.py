from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from scipy import stats
from shelf_tables import WEB, sales_of, shelf_of

from planner.settings import Export, Shelf
from planner.shelf import weekly_demand
from planner.shelf.hidden import FEWEST_FOR_SIZE, hidden_demand

COLUMNS = {"day": "Week of", "item": "Item", "bottles": "Sold"}
WEEKLY = replace(WEB, exports=(Export("web*", "sheet", "web", COLUMNS, totals="week"),))
MONTHLY = replace(WEB, exports=(Export("web*", "sheet", "web", {"item": "Item"}, months_across=True),))
MONDAYS = pd.date_range("2025-09-01", periods=16, freq="7D")
TODAY = pd.Timestamp("2025-12-22")


def weekly_book(sold, settings=WEEKLY, **files):
    """Book and demand of sales in weekly totals, by scent: a number for each Monday."""
    lines = [
        (day, scent, n, "sale", "web") for scent, of in sold.items() for day, n in zip(MONDAYS, of, strict=False) if n
    ]
    sales = sales_of(*lines)
    book = shelf_of(sales, tuple(sold), settings=settings, today=TODAY, **files)
    return book, weekly_demand(sales, book.shelf, settings).set_index(["scent", "week"])


def test_a_weekly_total_sells_through_the_week_and_only_its_end_is_known():
    # 30 counted on Sunday; 10 a week are sold; in the third week the last 10 go, nobody knows on which day
    counts = [("2025-08-31", "Fig", 30), ("2025-08-31", "Rose", 500)]
    book, demand = weekly_book({"Fig": [10, 10, 10], "Rose": [12] * 16}, stock=counts)
    fig = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")
    assert fig.loc["2025-09-01":"2025-09-14", "known"].eq("rolled forward").all()
    assert fig.loc["2025-09-15":"2025-09-21", "known"].eq("end only").all()
    assert fig.loc["2025-09-01":"2025-09-21", "on_shelf"].eq(1).all()
    assert fig.loc["2025-09-22":, "on_shelf"].eq(0).all()
    weeks = demand.loc["Fig"]
    assert weeks["known"].tolist()[:4] == ["rolled forward", "rolled forward", "end only", "rolled forward"]
    assert weeks["bottles"].isna().tolist()[:4] == [False, False, False, True]
    hidden = weeks.loc["2025-09-15", "hidden"]
    assert hidden > 0
    assert weeks["hidden"].notna().sum() == 1
    # exposure and hidden are two ways to say the same: sold is that share of what was wanted
    assert weeks.loc["2025-09-15", "exposure"] == pytest.approx(10 / (10 + hidden))
    assert weeks.loc["2025-09-01", "exposure"] == pytest.approx(1.0)


def test_a_week_that_ends_with_some_left_is_a_whole_week_on_the_shelf():
    book, demand = weekly_book({"Fig": [10, 10], "Rose": [12] * 16}, stock=[("2025-08-31", "Fig", 21)])
    assert demand.loc["Fig", "known"].tolist()[:2] == ["rolled forward"] * 2
    assert demand.loc["Fig", "exposure"].tolist()[:2] == pytest.approx([1.0, 1.0])
    assert demand["hidden"].isna().all()
    assert book.on_hand["on_hand"].iloc[0] == 1


def test_hidden_demand_is_the_tail_of_the_likeliest_poisson():
    # even weeks of 10 and one of "10 or more": the mean m solves 2 (10 - m) + E(D | D >= 10) - m = 0
    bottles = np.array([[10.0, 50], [10, 50], [10, 50]])
    end_only = np.array([[False, False], [False, False], [True, False]])
    found = hidden_demand(bottles, np.ones((3, 2)), end_only)

    def tail(m):
        return m * stats.poisson.sf(8, m) / stats.poisson.sf(9, m)

    m = 10.0
    for _ in range(200):
        m = (20 + tail(m)) / 3
    assert found[2, 0] == pytest.approx(tail(m) - 10, rel=1e-6)
    assert np.isnan(found).sum() == 5


def test_hidden_demand_follows_the_season_of_the_others():
    # all scents sell three times as much in the last weeks, when Fig runs out each week after 14
    rng = np.random.default_rng(5)
    season = np.r_[np.ones(30), np.full(6, 3.0)]
    wanted = rng.poisson(10 * season[:, None], (36, 7)).astype(float)
    end_only = np.zeros(wanted.shape, bool)
    end_only[-6:, 0] = wanted[-6:, 0] >= 14
    sold = np.where(end_only, 14.0, wanted)
    assert end_only[-6:, 0].all()
    found = hidden_demand(sold, np.ones(wanted.shape), end_only)[-6:, 0]
    assert 14 + found.mean() == pytest.approx(30, rel=0.12)


def test_a_scent_that_sold_out_every_week_is_left_unknown():
    bottles, end_only = np.full((8, 2), 6.0), np.zeros((8, 2), bool)
    end_only[:, 1] = True
    assert np.isnan(hidden_demand(bottles, np.ones((8, 2)), end_only)).all()


def test_a_week_that_sold_nothing_says_nothing_of_what_was_wanted():
    bottles, end_only = np.array([[5.0], [6], [0], [4]]), np.array([[False], [False], [True], [True]])
    found = hidden_demand(bottles, np.ones((4, 1)), end_only)
    without = hidden_demand(bottles[[0, 1, 3]], np.ones((3, 1)), end_only[[0, 1, 3]])
    assert np.isnan(found[2, 0])
    assert found[3, 0] == pytest.approx(without[2, 0], rel=0.15)  # but for the season of that week


def test_hidden_demand_brings_back_what_weekly_sheets_left_out():
    # scents with batches of 24 a fortnight are wanted 14 a week; raw sales are short, sold and hidden are not
    rng = np.random.default_rng(8)
    wanted = rng.negative_binomial(6, 6 / 20, (150, 12)).astype(float)
    left, sold, end_only = np.zeros(12), np.zeros(wanted.shape), np.zeros(wanted.shape, bool)
    exposure = np.ones(wanted.shape)
    for week in range(len(wanted)):
        left = left + 24 * (week % 2 == 0)
        exposure[week] = left > 0
        sold[week] = np.minimum(wanted[week], left)
        end_only[week] = (left > 0) & (wanted[week] >= left)
        left = left - sold[week]
    sold[exposure == 0] = np.nan
    found = hidden_demand(sold, exposure, end_only)
    known = exposure > 0
    truth = wanted[known].sum()
    assert np.nansum(sold) < 0.92 * truth
    assert np.nansum(sold) + np.nansum(found) == pytest.approx(truth, rel=0.02)
    assert (~end_only & known).sum(axis=0).min() >= FEWEST_FOR_SIZE


def test_a_batch_in_the_week_counts_from_its_day():
    run = {"lot": "L", "date": "2025-09-11", "scent": "Fig", "bottles_filled": 8}
    counts = [("2025-08-31", "Fig", 10), ("2025-08-31", "Rose", 500)]
    book, demand = weekly_book({"Fig": [10, 8], "Rose": [12] * 16}, stock=counts, runs=[run])
    fig = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")["on_shelf"]
    assert fig.loc["2025-09-08":"2025-09-14"].tolist() == [0, 0, 0, 1, 1, 1, 1]
    week = demand.loc[("Fig", "2025-09-08")]
    assert week["known"] == "end only"
    assert week["shelf_days"] == 4
    # a total says nothing of weekdays, so they are worth the same: four days of seven
    assert week["exposure"] == pytest.approx(4 / 7, abs=0.005)
    assert pd.isna(week["hidden"])  # both weeks of Fig sold out: nothing tells how much more was wanted
    assert book.contradictions.empty


def test_a_total_of_more_than_there_was_is_named_and_believed():
    counts = [("2025-08-31", "Fig", 10), ("2025-09-14", "Fig", 3), ("2025-08-31", "Rose", 500)]
    book, _ = weekly_book({"Fig": [14], "Rose": [12] * 16}, stock=counts)
    assert book.contradictions[["row", "bottles"]].to_numpy().tolist() == [[2, 4]]
    fig = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")["on_shelf"]
    assert fig.loc["2025-09-01":"2025-09-13"].eq(1).all()


def test_without_counts_the_week_before_empty_weeks_is_known_at_its_end_only():
    sold = {"Fig": [12] * 8 + [0, 0, 0] + [12] * 5, "Rose": [12] * 16, "Oud": [12] * 16}
    book, demand = weekly_book(sold)
    fig = demand.loc["Fig"]
    gone = slice("2025-10-27", "2025-11-10")
    assert fig.loc[gone, "shelf_days"].sum() <= 2  # it may have been back a day or two before the next total
    assert fig.loc["2025-10-27":"2025-11-03", "bottles"].isna().all()
    assert set(fig.loc[gone, "known"]) == {"inferred"}
    assert fig.loc["2025-10-20", "known"] == "end only"
    assert fig.loc["2025-10-20", "hidden"] > 0
    assert fig["hidden"].notna().sum() == 1
    shelf = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")["on_shelf"]
    assert shelf.loc["2025-09-01":"2025-10-26"].eq(1).all()
    assert demand.loc["Rose", "known"].eq("assumed").all()
    off, _ = weekly_book(sold, settings=replace(WEEKLY, shelf=Shelf(infer=False)))
    assert set(off.shelf["known"]) == {"assumed"}


def test_a_monthly_total_is_not_taken_for_a_month_sold_out():
    lines = [
        (day, scent, 20, "sale", "web")
        for day in pd.date_range("2025-01-01", "2025-12-01", freq="MS")
        for scent in ("Fig", "Rose")
    ]
    sales = sales_of(*lines)
    book = shelf_of(sales, ("Fig", "Rose"), stock=[("2024-12-31", "Fig", 200)], settings=MONTHLY, today=TODAY)
    fig = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")
    assert fig.loc[:"2025-09-30", "on_shelf"].eq(1).all()
    assert fig.loc["2025-10-01":"2025-10-31", "known"].eq("end only").all()  # 200 counted, 20 a month: gone in October
    assert book.contradictions["bottles"].tolist() == [40]
    assert "inferred" not in set(book.shelf.loc[book.shelf["scent"] == "Rose", "known"])
    demand = weekly_demand(sales, book.shelf, MONTHLY)
    assert demand["hidden"].isna().all()  # a month is no week
    assert demand["bottles"].sum() == 480


line = st.tuples(
    st.integers(0, 80), st.sampled_from(["Fig", "Rose", "Oud"]), st.integers(1, 12),
    st.sampled_from(["sale"] * 4 + ["refund", "free", "write-off"]), st.sampled_from(["web", "market", "shops"]),
)  # fmt: skip
counts = st.lists(
    st.tuples(st.integers(0, 80), st.sampled_from(["Fig", "Rose"]), st.integers(0, 20)),
    max_size=6,
    unique_by=lambda one: one[:2],
)


@given(st.lists(line, min_size=1, max_size=40), counts, st.sampled_from([WEB, WEEKLY]), st.booleans())
@hypothesis_settings(max_examples=60, deadline=None)
def test_demand_reconciles_to_sales_to_the_bottle_and_says_one_thing_of_a_week(rows, stock, shop, infer):
    start = pd.Timestamp("2025-09-01")
    lines = [
        (start + pd.Timedelta(days=d), scent, -n if kind in ("refund", "write-off") else n, kind, channel)
        for d, scent, n, kind, channel in rows
    ]
    sales = sales_of(*lines)
    shop = replace(shop, channels=(*shop.channels, WITH_STOCKISTS), shelf=Shelf(infer=infer))
    days = [(start + pd.Timedelta(days=d), scent, n) for d, scent, n in stock]
    book = shelf_of(sales, ("Fig", "Rose", "Oud"), stock=days, settings=shop, today=start + pd.Timedelta(days=90))
    demand = weekly_demand(sales, book.shelf, shop)
    # refunds take back what was sold before them to that scent in that channel, as far as there is any
    taken = 0
    for _, group in sales.groupby(["scent", "channel"]):
        left = 0
        for row in (
            group.assign(first=group["kind"] != "sale").sort_values(["day", "first"], kind="stable").itertuples()
        ):
            if row.kind == "sale":
                left += row.bottles
            elif row.kind == "refund":
                taken += min(left, -row.bottles)
                left -= min(left, -row.bottles)
    assert demand["bottles"].sum() == sales.loc[sales["kind"] == "sale", "bottles"].sum() - taken
    unknown = demand["bottles"].isna()
    assert (demand.loc[unknown, "shelf_days"] == 0).all()  # no day on the shelf: unknown, never zero
    assert (demand.loc[(demand["shelf_days"] == 0) & ~unknown, "bottles"] >= 0).all()
    assert demand["exposure"].between(0, 1).all()
    estimated = demand["hidden"].notna()
    assert (demand.loc[estimated, "known"] == "end only").all()
    assert (demand.loc[estimated, "hidden"] >= 0).all()


WITH_STOCKISTS = replace(WEB.channels[0], name="shops", open="to order")
