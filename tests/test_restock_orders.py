"""Packs, what is on hand, orders by supplier and money by week: by hand, and against every other way to do it."""

from itertools import product

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from planner.restock.hand import cover_uses
from planner.restock.packs import cheapest_cover, choose_packs
from planner.restock.suppliers import place_orders
from planner.settings import Settings
from planner.tables import FILES, STEPS, empty

TODAY = pd.Timestamp("2026-10-01")  # a Thursday
SHOP = Settings("shop", "EUR", money_available=500.0)


def offers(*rows):
    table = pd.DataFrame(rows, columns=["supplier", "amount", "pack_cost", "lead_days"])
    return table.astype({"lead_days": "Int64", "amount": "float64", "pack_cost": "float64"})


def test_packs_of_two_sizes_are_mixed_where_that_is_cheaper():
    # 120 g: two of 100 g cost 40, four of 30 g cost 36, one of each 29
    bought = choose_packs(offers(("A", 30, 9, 5), ("A", 100, 20, 5)), 120.0, pd.Timestamp("2026-10-20"), TODAY)
    assert bought.packs == ((0, 1), (1, 1))
    assert bought.cost == 29.0
    assert bought.order_by == pd.Timestamp("2026-10-13")  # 20 October less 5 and 2 days
    assert not bought.late


def test_packs_of_different_suppliers_are_not_mixed():
    bought = choose_packs(offers(("A", 30, 9, 5), ("B", 100, 20, 5)), 120.0, pd.Timestamp("2026-10-20"), TODAY)
    assert (bought.supplier, bought.cost) == ("A", 36.0)


def test_only_packs_that_come_in_time_count_while_there_are_any():
    bought = choose_packs(offers(("A", 30, 9, 3), ("A", 100, 20, 30)), 120.0, pd.Timestamp("2026-10-06"), TODAY)
    assert bought.packs == ((0, 4),)
    assert not bought.late
    assert choose_packs(offers(("A", 100, 20, 30)), 120.0, pd.Timestamp("2026-10-06"), TODAY).late


def test_a_pack_without_a_price_is_taken_only_where_none_has_one_and_its_cost_stays_unknown():
    half = choose_packs(offers(("A", 30, 9, 3), ("A", 100, np.nan, 3)), 90.0, pd.Timestamp("2026-10-20"), TODAY)
    assert (half.packs, half.cost) == (((0, 3),), 27.0)
    none = choose_packs(offers(("A", 100, np.nan, None)), 90.0, pd.Timestamp("2026-10-20"), TODAY)
    assert none.packs == ((0, 1),)
    assert np.isnan(none.cost)
    assert not none.lead_known
    assert choose_packs(offers(), 90.0, TODAY, TODAY) is None


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 40), st.integers(1, 60)), min_size=1, max_size=3), st.integers(1, 90))
def test_the_cover_is_the_cheapest_of_all_there_are(packs, short):
    sizes, costs = (np.array(column, float) for column in zip(*packs, strict=True))
    counts = cheapest_cover(sizes, costs, float(short))
    assert counts @ sizes >= short
    every = product(*(range(int(np.ceil(short / size)) + 1) for size in sizes))
    assert counts @ costs == min(np.dot(some, costs) for some in every if np.dot(some, sizes) >= short)


def test_what_expires_first_goes_first_and_only_until_its_day():
    uses = pd.DataFrame(
        {"amount": [30.0, 30.0, 30.0], "used_on": pd.to_datetime(["2026-10-10", "2026-10-20", "2026-10-30"])}
    )
    lots = pd.DataFrame({"amount": [40.0, 25.0, 9.0], "use_by": pd.to_datetime([None, "2026-10-20", "2026-10-05"])})
    cover = cover_uses(uses, lots)
    # 9 g are past on the 10th. The 25 g go first, then 40 g: 30 + 30 are covered, and 5 of the last 30
    assert (cover.on_hand, cover.expired) == (65.0, 9.0)
    assert cover.short == pytest.approx(25.0)
    assert cover.needed_on == pd.Timestamp("2026-10-30")


def test_a_delivery_that_expires_before_it_is_used_up_leaves_more_to_buy():
    uses = pd.DataFrame({"amount": [10.0, 30.0], "used_on": pd.to_datetime(["2026-10-10", "2026-10-20"])})
    cover = cover_uses(uses, pd.DataFrame({"amount": [40.0], "use_by": pd.to_datetime(["2026-10-15"])}))
    assert (cover.on_hand, cover.short) == (40.0, 30.0)  # 40 needed and 40 there, and yet 30 are short
    assert cover.needed_on == pd.Timestamp("2026-10-20")


def test_what_keeps_longer_is_left_for_later():
    uses = pd.DataFrame({"amount": [10.0, 10.0], "used_on": pd.to_datetime(["2026-10-10", "2026-10-20"])})
    lots = pd.DataFrame({"amount": [10.0, 10.0], "use_by": pd.to_datetime(["2026-10-30", "2026-10-15"])})
    assert cover_uses(uses, lots).short == 0.0


DAYS = st.integers(0, 12)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 20), DAYS), min_size=1, max_size=5),
    st.lists(st.tuples(st.integers(0, 30), st.one_of(st.none(), DAYS)), max_size=4),
)
def test_no_way_to_share_out_what_is_on_hand_covers_more(uses, lots):
    used = pd.DataFrame(
        {"amount": [float(u[0]) for u in uses], "used_on": [TODAY + pd.Timedelta(days=u[1]) for u in uses]}
    )
    by = [pd.NaT if lot[1] is None else TODAY + pd.Timedelta(days=lot[1]) for lot in lots]
    there = pd.DataFrame(
        {
            "amount": pd.Series([float(lot[0]) for lot in lots], dtype=float),
            "use_by": pd.Series(by, dtype="datetime64[us]"),
        }
    )
    cover = cover_uses(used, there)
    pairs = [
        (u, n) for u in range(len(uses)) for n in range(len(lots)) if lots[n][1] is None or lots[n][1] >= uses[u][1]
    ]
    best = 0.0
    if pairs:  # a transport problem, solved by an established solver
        limits = [[float(u == one) for u, _ in pairs] for one in range(len(uses))]
        limits += [[float(n == one) for _, n in pairs] for one in range(len(lots))]
        room = [u[0] for u in uses] + [lot[0] for lot in lots]
        best = -linprog([-1.0] * len(pairs), A_ub=limits, b_ub=room).fun
    assert cover.short == pytest.approx(sum(u[0] for u in uses) - best, abs=1e-6)
    assert pd.isna(cover.needed_on) == (cover.short == 0)


def pack(supplier, material, order_by, cost, late=False, lead=5):
    return {
        "supplier": supplier,
        "material": material,
        "packs": 1,
        "pack_size": 100.0,
        "pack_unit": "g",
        "cost": cost,
        "order_by": pd.Timestamp(order_by),
        "needed_on": pd.Timestamp(order_by) + pd.Timedelta(days=lead + 2),
        "lead_days": lead,
        "late": late,
        "status": "too late" if late else "in time",
    }


def minimum(**least):
    frame = pd.DataFrame({"supplier": list(least), "minimum_order": list(least.values()), "material": "x"})
    return frame.reindex(columns=list(FILES["packs"].columns))


def test_orders_of_a_supplier_worked_by_hand():
    chosen = [
        pack("A", "oil", "2026-10-05", 30.0),
        pack("A", "caps", "2026-10-19", 30.0),  # 14 days after the first: the same order
        pack("A", "boxes", "2026-10-20", 50.0),  # 15 days: an order of its own, as large as the minimum
        pack("B", "wax", "2026-09-25", 8.0, late=True),
    ]
    orders = place_orders(chosen, minimum(A=50.0, B=20.0), SHOP, TODAY)
    table = orders.supplier_orders.set_index("order")
    assert list(table.index) == ["B 1", "A 1", "A 2"]  # what is too late first
    assert table["order_by"].tolist() == [TODAY, pd.Timestamp("2026-10-05"), pd.Timestamp("2026-10-20")]
    assert table["cost"].tolist() == [8.0, 60.0, 50.0]
    assert table["minimum_order_missing"].tolist() == [12.0, 0.0, 0.0]
    assert (
        table.loc["B 1", "status"]
        == "too late for wax: ask whether it can come sooner; 12.00 EUR below the smallest order"
    )
    assert [problem.column for problem in orders.problems] == ["minimum_order"]
    assert "12.00 are missing" in orders.problems[0].what
    lines = orders.order_list.set_index("material")
    assert lines.loc["caps", "arrives_by"] == pd.Timestamp("2026-10-10")  # ordered on the 5th, five days
    # weeks of 28 Sep (8), 5 Oct (60), 12 Oct (nothing), 19 Oct (50)
    money = orders.money_by_week
    assert money["week"].dt.strftime("%m-%d").tolist() == ["09-28", "10-05", "10-12", "10-19"]
    assert money["cost"].tolist() == [8.0, 60.0, 0.0, 50.0]
    assert money["money_left"].tolist() == [492.0, 432.0, 432.0, 382.0]


def test_an_order_too_small_takes_in_the_next_or_joins_the_one_before():
    later = [pack("A", "oil", "2026-10-05", 30.0), pack("A", "caps", "2026-11-20", 30.0)]
    assert place_orders(later, minimum(A=50.0), SHOP, TODAY).supplier_orders["cost"].tolist() == [60.0]
    before = [pack("A", "oil", "2026-10-05", 60.0), pack("A", "caps", "2026-11-20", 30.0)]
    orders = place_orders(before, minimum(A=50.0), SHOP, TODAY).supplier_orders
    assert orders["cost"].tolist() == [90.0]
    assert orders["order_by"].tolist() == [pd.Timestamp("2026-10-05")]


def test_nothing_to_buy_is_no_order():
    orders = place_orders([], minimum(), SHOP, TODAY)
    pd.testing.assert_frame_equal(orders.order_list, empty(STEPS["order-list"]))
    pd.testing.assert_frame_equal(orders.money_by_week, empty(STEPS["money-by-week"]))


@settings(max_examples=100, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from("ABC"), st.integers(0, 80), st.integers(1, 90), st.integers(0, 20)),
        min_size=1,
        max_size=12,
    ),
    st.fixed_dictionaries({name: st.integers(0, 150) for name in "ABC"}),
)
def test_money_adds_up_and_no_pack_is_lost_or_late(rows, least):
    chosen = [
        pack(supplier, f"m{n}", TODAY + pd.Timedelta(days=days), float(cost), lead=lead)
        for n, (supplier, days, cost, lead) in enumerate(rows)
    ]
    orders = place_orders(chosen, minimum(**{name: float(amount) for name, amount in least.items()}), SHOP, TODAY)
    total = sum(row[2] for row in rows)
    assert orders.order_list["cost"].sum() == pytest.approx(total)
    assert orders.supplier_orders["cost"].sum() == pytest.approx(total)
    assert orders.money_by_week["cost"].sum() == pytest.approx(total)
    assert orders.money_by_week["money_left"].iloc[-1] == pytest.approx(500 - total)
    assert sorted(orders.order_list["material"]) == sorted(line["material"] for line in chosen)
    asked = {line["material"]: line["order_by"] for line in chosen}
    assert (orders.order_list["order_by"] <= orders.order_list["material"].map(asked)).all()
    assert (orders.order_list["arrives_by"] < orders.order_list["needed_on"]).all()
    by_supplier = orders.supplier_orders.groupby("supplier")
    for name, part in by_supplier:
        # only a supplier all of whose packs do not reach the minimum is left below it
        assert (part["minimum_order_missing"] > 0).any() == (part["cost"].sum() < least[name])


def test_an_order_of_unknown_prices_says_so():
    line = pack("A", "oil", "2026-10-05", np.nan)
    assert place_orders([line], minimum(), SHOP, TODAY).supplier_orders["status"].tolist() == [
        "not every price is known"
    ]


def test_without_money_available_none_is_left_to_tell():
    line = pack("A", "oil", "2026-10-05", 10.0)
    assert place_orders([line], minimum(), Settings("shop", "EUR"), TODAY).money_by_week["money_left"].isna().all()
