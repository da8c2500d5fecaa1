import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shelf_tables import TODAY, on_shelf, sales_of, shelf_of

from planner.settings import Channel, Settings

WITH_STOCKISTS = Settings("Test", "EUR", channels=(Channel("web"), Channel("shops", open="to order")))
FIRST, LAST = ("2026-01-05", "Fig", 1, "sale", "web"), ("2026-01-20", "Rose", 1, "sale", "web")
RUN = {"lot": "L1", "date": "2026-01-08", "scent": "Fig", "bottles_filled": 24}


def left(book, scent="Fig"):
    return book.on_hand.set_index("scent").loc[scent, "on_hand"]


def shares(book, days, **which):
    shelf = on_shelf(book, **which)
    return [shelf[day] for day in days]


@pytest.mark.parametrize(
    ("why", "after"),
    [
        ("tester", 7),
        ("gift", 7),
        ("breakage", 7),
        ("to stockist", 7),
        ("lent to a friend", 7),  # any other word takes them away
        ("return", 13),
        (" Return ", 13),
        ("From  stockist", 13),
        ("from stockist", 13),
        ("found", 13),
    ],
)
def test_every_move_takes_bottles_away_or_brings_them(why, after):
    book = shelf_of(sales_of(FIRST, LAST), stock=[("2026-01-06", "Fig", 10)], moves=[("2026-01-07", "Fig", 3, why)])
    assert left(book) == after


def test_a_word_of_moves_that_is_not_known_is_named_once():
    moves = [("2026-01-07", "Fig", 1, "Gift"), *[("2026-01-08", "Fig", 1, "lent")] * 2]
    book = shelf_of(sales_of(FIRST, LAST), moves=moves)
    assert [str(problem) for problem in book.problems] == [
        "moves.csv, row 3, why: 'lent' is not a word we know. Those bottles count as gone. Known are tester, gift, "
        "breakage, to stockist, return, from stockist, found."
    ]


@pytest.mark.parametrize(("kind", "after"), [("sale", 8), ("free", 8), ("write-off", 8), ("refund", 10)])
def test_lines_of_every_kind_but_refunds_leave_the_shelf(kind, after):
    # a refunded bottle is back on the shelf only when moves.csv says so (return)
    bottles = -2 if kind in ("write-off", "refund") else 2
    sales = sales_of(FIRST, ("2026-01-07", "Fig", bottles, kind, "web"), LAST)
    assert left(shelf_of(sales, stock=[("2026-01-06", "Fig", 10)])) == after


def test_a_count_from_before_the_first_sale_counts():
    sales = sales_of(("2026-01-07", "Fig", 3, "sale", "web"), ("2026-01-09", "Rose", 1, "sale", "web"))
    book = shelf_of(sales, stock=[("2026-01-02", "Fig", 3)], first_sold=pd.Timestamp("2025-12-01"))
    assert on_shelf(book) == {"01-07": 0.5, "01-08": 0.0, "01-09": 0.0}  # days the sales cover, and no others


def test_a_run_comes_on_the_day_that_is_written_down_and_else_after_its_rest():
    stock = [("2026-01-05", "Fig", 0)]
    stated = dict(RUN, ready_on=pd.Timestamp("2026-01-10"))
    for run, ready in ((RUN, "01-15"), (stated, "01-10")):
        book = shelf_of(sales_of(FIRST, LAST), ("Fig", "Rose"), stock=stock, runs=[run], rest_days=7)
        first = next(day for day, share in on_shelf(book).items() if share == 1)
        assert first == ready


def test_a_launch_is_on_the_shelf_from_its_first_day_and_not_from_the_first_sale_of_the_shop():
    book = shelf_of(sales_of(LAST, FIRST), ("Rose",), first_sold=pd.Timestamp("2026-01-18"))
    assert list(on_shelf(book, scent="Rose")) == ["01-18", "01-19", "01-20"]


def test_what_stockists_sell_is_taken_from_their_own_bottles_first():
    # 10 counted, 4 brought to a stockist; who sells 3 of them, then 5: one of theirs and 4 more from the shop
    lines = [FIRST, ("2026-01-10", "Fig", 3, "sale", "shops"), ("2026-01-12", "Fig", 5, "sale", "shops"), LAST]
    moves = [("2026-01-08", "Fig", 4, "to stockist")]
    book = shelf_of(sales_of(*lines), stock=[("2026-01-06", "Fig", 10)], moves=moves, settings=WITH_STOCKISTS)
    assert left(book) == 10 - 4 - 4
    assert book.contradictions.empty


def test_bottles_at_a_stockist_are_for_sale_there_while_the_shop_is_sold_out():
    lines = [FIRST, ("2026-01-12", "Fig", 2, "sale", "shops"), LAST]
    moves = [("2026-01-08", "Fig", 2, "to stockist")]
    book = shelf_of(sales_of(*lines), stock=[("2026-01-06", "Fig", 2)], moves=moves, settings=WITH_STOCKISTS)
    days = ["01-07", "01-08", "01-09", "01-11", "01-12", "01-13"]
    assert shares(book, days) == [1, 0.5, 0, 0, 0, 0]
    assert shares(book, days, channel="shops") == [1, 1, 1, 1, 0, 0]
    assert set(book.shelf["known"]) == {"assumed", "rolled forward"}


def test_selling_more_than_there_was_is_believed_until_the_next_batch():
    # 2 left, 5 sold on the 7th; so there were more, and nobody knows how many; the batch of the 10th starts from none
    lines = [FIRST, ("2026-01-07", "Fig", 5, "sale", "web"), ("2026-01-12", "Fig", 24, "sale", "web"), LAST]
    runs = [dict(RUN, date="2026-01-10")]
    book = shelf_of(sales_of(*lines), stock=[("2026-01-06", "Fig", 2)], runs=runs)
    days = ["01-07", "01-08", "01-09", "01-10", "01-11", "01-12", "01-13"]
    assert shares(book, days) == [1, 1, 1, 1, 1, 0.5, 0]
    known = book.shelf.set_index(book.shelf["day"].dt.strftime("%m-%d"))["known"]
    assert known[days].tolist() == ["inferred"] * 3 + ["rolled forward"] * 4
    assert book.contradictions[["row", "on_hand", "bottles"]].to_numpy().tolist() == [[2, 2, 3]]


def test_a_tester_taken_from_an_empty_shelf_is_named_and_proves_nothing_for_sale():
    book = shelf_of(sales_of(FIRST, LAST), stock=[("2026-01-06", "Fig", 0)], moves=[("2026-01-08", "Fig", 1, "tester")])
    assert shares(book, ["01-07", "01-08", "01-09"]) == [0, 0, 0]
    assert [(problem.row, problem.column) for problem in book.problems] == [(2, "on_hand")]


def test_a_count_of_none_after_a_count_that_was_contradicted_ends_the_doubt():
    lines = [FIRST, ("2026-01-07", "Fig", 1, "sale", "web"), LAST]
    book = shelf_of(sales_of(*lines), stock=[("2026-01-06", "Fig", 0), ("2026-01-09", "Fig", 0)])
    assert shares(book, ["01-06", "01-07", "01-08", "01-09", "01-10"]) == [0, 1, 1, 0.5, 0]


def test_many_contradictions_of_a_scent_are_one_sentence_and_a_table():
    weeks = pd.date_range("2026-01-06", periods=8, freq="7D")
    lines = [(day + pd.Timedelta(days=1), "Fig", 2, "sale", "web") for day in weeks]
    book = shelf_of(sales_of(FIRST, *lines), stock=[(day, "Fig", 1) for day in weeks])
    assert len(book.problems) == 1
    assert "Fig: 1 counted on 2026-01-06, and 1 more went after it than there were, first on 2026-01-07. So it is after"
    assert "So it is after rows 3, 4, 5, 6, 7 and 2 more." in str(book.problems[0])
    assert book.contradictions["row"].tolist() == list(range(2, 10))
    assert not book.problems[0].stops


def test_differences_say_since_when_and_which_row_and_a_roll_forward_ends_at_none():
    lines = [FIRST, ("2026-01-08", "Fig", 3, "sale", "web"), LAST]
    book = shelf_of(
        sales_of(*lines), stock=[("2026-01-06", "Fig", 1), ("2026-01-10", "Fig", 22), ("2026-01-12", "Fig", 21)]
    )
    rows = book.differences.drop(columns=["scent", "date"]).astype(object).to_numpy().tolist()
    assert rows == [
        [0.0, 22.0, 22.0, pd.Timestamp("2026-01-06"), 3],  # 1 less 3 sold is none, and 22 there
        [22.0, 21.0, -1.0, pd.Timestamp("2026-01-10"), 4],  # one is gone
    ]
    assert book.contradictions["bottles"].tolist() == [2.0]  # the batch that is missing had 22 and these


FUTURE = {
    "stock": ({"stock": [("2027-01-05", "Fig", 5)]}, "stock.csv, row 2, date: Fig on 2027-01-05 is after today"),
    "moves": (
        {"moves": [("2027-01-05", "Fig", 5, "gift")]},
        "moves.csv, row 2, date: Fig on 2027-01-05 is after today",
    ),
    "runs": ({"runs": [dict(RUN, date="2027-01-05")]}, "runs.csv, row 2, date: Fig on 2027-01-05 is after today"),
}


@pytest.mark.parametrize("which", FUTURE)
def test_a_day_that_is_still_to_come_is_named_and_left_out(which):
    files, sentence = FUTURE[which]
    book = shelf_of(sales_of(FIRST, LAST), **files)
    plain = shelf_of(sales_of(FIRST, LAST))
    assert str(book.problems[0]).startswith(sentence)
    pd.testing.assert_frame_equal(book.shelf, plain.shelf)
    pd.testing.assert_frame_equal(book.on_hand, plain.on_hand)


def test_a_batch_ready_before_it_was_mixed_is_named_and_counts_after_its_rest():
    run = dict(RUN, ready_on=pd.Timestamp("2026-01-01"))
    book = shelf_of(sales_of(FIRST, LAST), stock=[("2026-01-06", "Fig", 0)], runs=[run], rest_days=2)
    said = "runs.csv, row 2, ready_on: Lot L1 was ready on 2026-01-01, before it was mixed."
    assert str(book.problems[0]).startswith(said)
    assert shares(book, ["01-09", "01-10"]) == [0, 1]


movement = st.tuples(st.integers(0, 40), st.integers(1, 9), st.sampled_from(["sale", "tester", "found", "run"]))
count = st.tuples(st.integers(0, 40), st.integers(0, 30))


@settings(deadline=None)
@given(st.lists(movement, max_size=25), st.lists(count, min_size=2, max_size=6, unique_by=lambda one: one[0]))
def test_counts_and_movements_and_differences_balance_to_the_bottle(movements, counts):
    start = pd.Timestamp("2026-01-05")
    day = [start + pd.Timedelta(days=n) for n in range(60)]
    counts = sorted(counts)
    book = shelf_of(
        sales_of(*[(day[d], "Fig", n, "sale", "web") for d, n, what in movements if what == "sale"], LAST),
        stock=[(day[d], "Fig", n) for d, n in counts],
        moves=[(day[d], "Fig", n, what) for d, n, what in movements if what in ("tester", "found")],
        runs=[
            dict(RUN, lot=f"L{k}", date=day[d], bottles_filled=n)
            for k, (d, n, what) in enumerate(movements)
            if what == "run"
        ],
    )
    sign = {"sale": -1, "tester": -1, "found": 1, "run": 1}
    for (before, had), (after, has), row in zip(counts, counts[1:], book.differences.itertuples(), strict=False):
        left = had  # it falls to none and no further; what is short then stands among the contradictions
        for at in range(before + 1, after + 1):
            left = max(left + sum(sign[what] * n for d, n, what in movements if d == at), 0)
        assert row.rolled == left
        assert left + row.difference == has
    assert len(book.differences) == len(counts) - 1
    assert book.shelf["on_shelf"].between(0, 1).all()
    assert (book.on_hand["on_hand"] >= 0).all()
    # what is short is what the roll-forward was below none, never lost and never twice
    slow, short = None, 0.0
    for d in range((TODAY - start).days + 1):
        change = {way: sum(n for at, n, what in movements if at == d and sign[what] == way) for way in (1, -1)}
        if slow is not None:
            short += max(change[-1] - slow - change[1], 0)
            slow = max(slow + change[1] - change[-1], 0)
        slow = dict(counts).get(d, slow)
    assert book.contradictions["bottles"].sum() == short
    assert book.on_hand["on_hand"].iloc[0] == slow
    assert np.isfinite(book.shelf["day_weight"]).all()
