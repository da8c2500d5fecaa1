import numpy as np
import pandas as pd
import pytest
from shelf_tables import WEB, on_shelf, sales_of, shelf_of

from planner.settings import Channel, Settings
from planner.shelf import weekly_demand


def test_stock_rolls_forward_from_the_count_until_it_runs_out():
    # counted 5 on the evening of Jan 5; 3 and 2 are sold on the 6th and 8th; the 8th is the day it ran out
    sales = sales_of(
        ("2026-01-05", "Fig", 1, "sale", "web"),
        ("2026-01-06", "Fig", 3, "sale", "web"),
        ("2026-01-08", "Fig", 2, "sale", "web"),
        ("2026-01-11", "Rose", 1, "sale", "web"),
    )
    book = shelf_of(sales, ("Fig", "Rose"), stock=[("2026-01-05", "Fig", 5)])
    fig = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")["on_shelf"]
    assert fig.loc["2026-01-06":].tolist() == [1.0, 1.0, 0.5, 0.0, 0.0, 0.0]
    assert book.on_hand.set_index("scent").loc["Fig", "on_hand"] == 0


def test_a_run_is_on_the_shelf_after_its_rest_without_rejected_and_retained_bottles():
    sales = sales_of(("2026-01-05", "Fig", 1, "sale", "web"), ("2026-01-20", "Fig", 1, "sale", "web"))
    run = {
        "lot": "L1",
        "date": "2026-01-06",
        "scent": "Fig",
        "bottles_filled": 24,
        "bottles_rejected": 2,
        "retained": 1,
    }
    book = shelf_of(sales, stock=[("2026-01-05", "Fig", 0)], runs=[run], rest_days=7)
    shares = on_shelf(book)
    assert (shares["01-12"], shares["01-13"]) == (0.0, 1.0)
    assert book.on_hand["on_hand"].tolist() == [24 - 2 - 1 - 1]


def test_moves_count_and_differences_to_the_next_count_are_shown():
    sales = sales_of(("2026-01-05", "Fig", 1, "sale", "web"), ("2026-01-09", "Fig", 2, "sale", "web"))
    book = shelf_of(
        sales,
        stock=[("2026-01-05", "Fig", 10), ("2026-01-10", "Fig", 6)],
        moves=[("2026-01-07", "Fig", 1, "tester"), ("2026-01-08", "Fig", 1, "return")],
    )
    # 10 - 2 sold - 1 tester + 1 return = 8 rolled, 6 counted
    assert book.differences[["rolled", "counted", "difference"]].to_numpy().tolist() == [[8.0, 6.0, -2.0]]
    assert book.on_hand["on_hand"].tolist() == [6.0]


def test_a_sale_with_none_left_is_believed_and_named():
    sales = sales_of(
        ("2026-01-05", "Fig", 1, "sale", "web"),
        ("2026-01-08", "Fig", 2, "sale", "web"),
        ("2026-01-09", "Fig", 1, "sale", "web"),
    )
    book = shelf_of(sales, stock=[("2026-01-05", "Fig", 0)])
    assert on_shelf(book) == {"01-05": 0.5, "01-06": 0.0, "01-07": 0.0, "01-08": 1.0, "01-09": 1.0}
    assert str(book.problems[0]).startswith(
        "stock.csv, row 2, on_hand: Fig: 0 counted on 2026-01-05, and 3 more went after it than there were, first on "
        "2026-01-08. A batch is missing in runs.csv, or a count is wrong;"
    )


def test_a_market_scent_is_on_the_shelf_only_on_market_days():
    settings = Settings("Test", "EUR", channels=(Channel("web"), Channel("market", open="market days")))
    sales = sales_of(("2026-01-05", "Fig", 1, "sale", "web"), ("2026-01-11", "Fig", 1, "sale", "market"))
    book = shelf_of(
        sales,
        settings=settings,
        calendar=[
            {
                "first_day": "2026-01-10",
                "last_day": pd.Timestamp("2026-01-11"),
                "what": "Town market",
                "kind": "market",
            },
            {"first_day": "2026-01-06", "what": "Away", "kind": "closed", "channel": "web"},
        ],
    )
    assert on_shelf(book, "market") == {
        "01-05": 0,
        "01-06": 0,
        "01-07": 0,
        "01-08": 0,
        "01-09": 0,
        "01-10": 1,
        "01-11": 1,
    }
    assert on_shelf(book)["01-06"] == 0
    demand = weekly_demand(sales, book.shelf, settings)
    assert demand[["bottles", "shelf_days", "channel"]].to_numpy().tolist() == [[2, 6.0, "all"]]


def test_weeks_too_empty_for_chance_are_inferred_sold_out_only_where_nothing_was_counted():
    days = pd.date_range("2025-01-06", "2025-12-28")
    gone = (days >= "2025-06-02") & (days < "2025-07-07")
    lines = [(day, "Fig", 2, "sale", "web") for day in days[~gone]] + [(day, "Rose", 2, "sale", "web") for day in days]
    book = shelf_of(sales_of(*lines), ("Fig", "Rose"))
    fig = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")
    assert fig.loc[gone, "on_shelf"].eq(0).all()
    assert fig.loc["2025-06-01", "on_shelf"] == 0.5  # the day it ran out
    assert fig.loc[~gone, "on_shelf"].drop(pd.Timestamp("2025-06-01")).eq(1).all()
    assert set(fig.loc[gone, "known"]) == {"inferred"}
    demand = weekly_demand(sales_of(*lines), book.shelf, WEB)
    weeks = demand[demand["scent"] == "Fig"].set_index("week")["bottles"]
    assert weeks.loc["2025-06-02":"2025-06-30"].isna().all()  # unknown, not zero
    assert weeks.notna().sum() == 51 - 5


def test_refunds_take_back_the_latest_sale_before_them():
    sales = sales_of(
        ("2026-01-05", "Fig", 3, "sale", "web"),
        ("2026-01-14", "Fig", 1, "sale", "web"),
        ("2026-01-19", "Fig", -2, "refund", "web"),
        ("2026-01-04", "Fig", -5, "refund", "web"),
    )
    demand = weekly_demand(sales, shelf_of(sales).shelf, WEB).set_index("week")["bottles"]
    # one bottle of the 14th and one of the 5th; the refund of the 4th finds no sale before it
    assert demand.loc["2026-01-05"] == 2
    assert demand.loc["2026-01-12"] == 0


def test_what_is_sold_to_order_stays_apart_from_the_crowd():
    settings = Settings("Test", "EUR", channels=(Channel("web"), Channel("wholesale", open="to order")))
    sales = sales_of(("2026-01-05", "Fig", 2, "sale", "web"), ("2026-01-06", "Fig", 48, "sale", "wholesale"))
    demand = weekly_demand(sales, shelf_of(sales, settings=settings).shelf, settings).set_index("channel")["bottles"]
    assert demand.to_dict() == {"all": 2, "wholesale": 48}


def test_demand_and_unknown_weeks_reconcile_to_sales():
    rng = np.random.default_rng(4)
    days = pd.date_range("2025-01-06", "2025-06-29")
    lines = [
        (day, scent, int(n), "sale", "web")
        for day in days
        for scent, n in zip(("Fig", "Rose"), rng.poisson(1.0, 2), strict=True)
        if n
    ]
    lines += [(days[40], "Fig", -1, "refund", "web"), (days[50], "Rose", -2, "refund", "web")]
    sales = sales_of(*lines)
    demand = weekly_demand(sales, shelf_of(sales, ("Fig", "Rose"), stock=[(days[60], "Fig", 9)]).shelf, WEB)
    assert demand["bottles"].sum() == sales["bottles"].sum()


def test_no_sales_at_all_is_an_empty_shelf_and_no_demand():
    sales = sales_of(("2026-01-05", "Fig", 1, "sale", "web")).iloc[:0]
    book = shelf_of(sales)
    assert book.shelf.empty
    assert weekly_demand(sales, book.shelf, WEB).empty
    assert book.on_hand["on_hand"].tolist() == [0.0]


@pytest.mark.parametrize("last", ["2026-01-07", None])
def test_a_scent_is_on_the_shelf_from_its_first_day_to_its_last(last):
    sales = sales_of(("2026-01-05", "Rose", 1, "sale", "web"), ("2026-01-09", "Rose", 1, "sale", "web"))
    book = shelf_of(sales, first_sold=pd.Timestamp("2026-01-06"), last_sold=pd.Timestamp(last) if last else pd.NaT)
    assert list(on_shelf(book)) == ["01-06", "01-07", "01-08", "01-09"][: 2 if last else 4]
