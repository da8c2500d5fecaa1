"""What a bottle costs, what stock is worth, gift sets and packing for a market, worked by hand."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.restock import bottle_account, market_packing, worth_on_hand
from planner.restock.gift_sets import set_needs, sets_sold, sets_wanted
from planner.settings import Bench, Channel, Settings
from planner.tables import FILES, STEPS, Paths, check, empty

TODAY = pd.Timestamp("2026-10-05")  # a Monday
SHOP = Settings(
    "shop",
    "EUR",
    bench=Bench(rate_per_hour=12.0),
    channels=(
        Channel("web", fee_pct=5.0, fee_each=0.2),
        Channel("market", open="market days"),
        Channel("wholesale", open="to order"),
    ),
)


def sold(*rows):
    """Return sales from (day, scent, bottles, unit_price, channel, row)."""
    table = pd.DataFrame(rows, columns=["day", "scent", "bottles", "unit_price", "channel", "row"])
    table["day"] = pd.to_datetime(table["day"])
    table["line"] = np.arange(1, len(table) + 1)
    return check(table.assign(order="", kind="sale", file="web.csv"), STEPS["sales"])


def made(name, rows):
    frame = pd.DataFrame(rows).reindex(columns=list(FILES[name].columns))
    return frame.astype(dict(empty(FILES[name]).dtypes)).assign(row=np.arange(2, len(frame) + 2))


COSTS = pd.DataFrame(
    {
        "scent": ["Fig", "Oud"],
        "fill_g": [9.0, 9.0],
        "oil_cost_per_g": [0.1, 0.2],
        "price": [10.0, 12.0],
        "material_cost": [1.5, np.nan],
    }
)


def account(sales):
    scents = made(
        "scents", [{"scent": "Fig", "batch_bottles": 20, "retained": 2}, {"scent": "Oud", "batch_bottles": 20}]
    )
    overage = pd.DataFrame({"fixed_g": [5.0], "share": [0.1]})
    minutes = pd.DataFrame({"setup_minutes": [30.0], "minutes_per_bottle": [3.0]})
    return bottle_account(COSTS, scents, sales, overage, minutes, SHOP, TODAY).set_index(["scent", "channel"])


def test_what_a_bottle_costs_worked_by_hand():
    table = account(sold(("2026-09-01", "Fig", 3, 9.0, "market", 2), ("2026-09-02", "Fig", 2, 5.0, "wholesale", 3)))
    web = table.loc[("Fig", "web")]
    # oil: 20 × 9 ÷ 0.9 + 5 = 205 g at 0.1, over the 18 for sale
    assert web["oil_cost"] == pytest.approx(20.5 / 18)
    # bottle and packing 1.5 − 0.9 = 0.6 each, for 20 bottles, over 18
    assert web["packing_cost"] == pytest.approx(12 / 18)
    assert web["fees"] == pytest.approx(0.7)  # 5 % of 10, and 0.2
    assert web["minutes"] == pytest.approx(5.0)  # (30 + 60) ÷ 18
    assert web["time_cost"] == pytest.approx(1.0)  # at 12 an hour
    assert web["cost"] == pytest.approx(20.5 / 18 + 12 / 18 + 1.7)
    assert web["earns"] == pytest.approx(10 - web["cost"])
    assert table.loc[("Fig", "market"), "price"] == 9.0
    assert table.loc[("Fig", "wholesale"), ["price", "fees"]].tolist() == [5.0, 0.0]
    # Oud was never sold to stockists: half its price, as Fig is
    assert table.loc[("Oud", "wholesale"), "price"] == 6.0
    assert table.loc[("Oud", "web"), ["packing_cost", "cost", "earns"]].isna().all()  # what is not known is not 0


def test_prices_older_than_a_year_and_the_order_of_lines_do_not_count():
    rows = [
        ("2025-09-01", "Fig", 9, 7.0, "web", 2),
        ("2026-09-01", "Fig", 1, 9.0, "web", 3),
        ("2026-09-02", "Fig", 2, 8.0, "web", 4),
    ]
    assert account(sold(*rows)).loc[("Fig", "web"), "price"] == 8.0  # of 9, 8, 8
    assert account(sold(*rows[::-1])).loc[("Fig", "web"), "price"] == 8.0


def test_worth_worked_by_hand():
    on_hand = pd.DataFrame({"scent": ["Fig", "Oud", "Rose"], "on_hand": [4.0, 2.0, 0.0]})
    lots = made(
        "material_lots",
        [
            {"material": "Carrier", "material_lot": "1", "on_hand": 2.0, "on_hand_unit": "l"},
            {
                "material": "Carrier",
                "material_lot": "2",
                "on_hand": 100.0,
                "on_hand_unit": "g",
                "use_by": pd.Timestamp("2026-10-04"),
            },
            {
                "material": "Carrier",
                "material_lot": "3",
                "on_hand": 5.0,
                "on_hand_unit": "l",
                "received": pd.Timestamp("2026-10-06"),
            },
            {"material": "Cap", "material_lot": "4", "on_hand": 30.0, "on_hand_unit": "pieces"},
        ],
    )
    packs = made(
        "packs",
        [
            {"material": "Carrier", "supplier": "A", "pack_size": 1.0, "pack_unit": "l", "pack_cost": 19.0},
            {"material": "Carrier", "supplier": "B", "pack_size": 5.0, "pack_unit": "l", "pack_cost": 47.5},
        ],
    )
    materials = made("materials", [{"material": "Carrier", "kind": "carrier oil", "density_g_per_ml": 0.95}])
    table = worth_on_hand(on_hand, COSTS, lots, packs, materials, TODAY).set_index("what")
    assert table.loc["Fig", ["amount", "worth"]].tolist() == [4.0, 6.0]
    assert np.isnan(table.loc["Oud", "worth"])
    assert table.loc["Oud", "note"] == "no price is known"
    assert "Rose" not in table.index
    # 2 l are 1,900 g at 47.5 ÷ 4,750 g = 0.01; 100 g are past use-by; the third delivery comes tomorrow
    assert table.loc["Carrier", ["amount", "worth"]].tolist() == pytest.approx([2000.0, 19.0])
    assert table.loc["Carrier", "note"] == "100 g past use-by, worth nothing"
    assert table.loc["Cap", ["unit", "note"]].tolist() == ["pieces", "no price is known"]


def test_a_folder_without_materials_has_bottles_only():
    on_hand = pd.DataFrame({"scent": ["Fig"], "on_hand": [4.0]})
    table = worth_on_hand(on_hand, COSTS, made("material_lots", []), made("packs", []), made("materials", []), TODAY)
    assert table["worth"].tolist() == [6.0]


SETS = made("sets", [{"set": "Duo", "scent": "Fig", "bottles": 1}, {"set": "Duo", "scent": "Oud", "bottles": 2}])


def test_sets_are_found_by_what_stands_on_one_row():
    sales = sold(
        ("2025-10-10", "Fig", 2, 5.0, "web", 2),  # two sets
        ("2025-10-10", "Oud", 4, 5.0, "web", 2),
        ("2025-10-11", "Fig", 1, 5.0, "web", 3),  # a bottle
        ("2025-10-11", "Fig", 1, 5.0, "web", 4),  # not in the set's shares
        ("2025-10-11", "Oud", 1, 5.0, "web", 4),
    )
    assert sets_sold(sales, SETS)[["set", "sold"]].values.tolist() == [["Duo", 2.0]]
    assert sets_sold(sales, made("sets", [])).empty


def forecast(week_means, **p90):
    """Return a forecast with the season's p90 and the means of the weeks (the same for each scent)."""
    rows = [{"scent": scent, "week": pd.NaT, "mean": sum(week_means), "p90": high} for scent, high in p90.items()]
    weeks = pd.date_range(TODAY, periods=len(week_means), freq="7D")
    rows += [
        {"scent": scent, "week": week, "mean": mean}
        for scent in p90
        for week, mean in zip(weeks, week_means, strict=True)
    ]
    return pd.DataFrame(rows).astype({"week": "datetime64[us]"})


def test_sets_wanted_and_their_boxes_worked_by_hand():
    sales = sold(
        ("2025-10-10", "Fig", 2, 5.0, "web", 2),
        ("2025-10-10", "Oud", 4, 5.0, "web", 2),
        ("2025-10-11", "Fig", 4, 5.0, "web", 3),
    )
    plan = pd.DataFrame({"scent": ["Fig", "Oud"], "bottles": [20, 0], "on_hand": [10, 8]})
    last = TODAY + pd.Timedelta(days=13)
    wanted = sets_wanted(sales, SETS, forecast([3.0, 1.0], Fig=22.0, Oud=20.0), plan, TODAY, last)
    # 2 sets among 10 bottles a year ago; Fig may sell 22 (30 there), Oud 8 (20 wanted, 8 there): 30 × 0.2 = 6,
    # three quarters of them in the first week
    assert wanted["sets"].tolist() == pytest.approx([4.5, 1.5])
    packing = made(
        "packing",
        [
            {"what": "Duo", "material": "Duo box"},
            {"what": "Duo", "material": "Ribbon", "per_bottle": 0.5, "unit": "pieces"},
            {"what": "Fig", "material": "Cap"},
            {"what": "Duo", "material": "Wax", "per_bottle": 1.0, "unit": "spoon"},
        ],
    )
    needs, problems = set_needs(wanted, packing, pd.Series(dtype=float), TODAY + pd.Timedelta(days=2))
    assert needs.groupby("material")["amount"].sum().to_dict() == pytest.approx({"Duo box": 6.0, "Ribbon": 3.0})
    assert needs["used_on"].min() == TODAY + pd.Timedelta(days=2)  # the week has begun
    assert [problem.row for problem in problems] == [5]


def test_without_sets_in_the_past_no_box_is_bought():
    sales = sold(("2025-10-11", "Fig", 4, 5.0, "web", 3))
    plan = pd.DataFrame({"scent": ["Fig", "Oud"], "bottles": [20, 0], "on_hand": [10, 8]})
    assert sets_wanted(sales, SETS, forecast([3.0], Fig=22.0, Oud=20.0), plan, TODAY, TODAY).empty


SATURDAYS = pd.date_range("2026-08-01", periods=4, freq="7D")


def markets(*days, what="Harbour"):
    rows = [{"first_day": day, "what": what, "kind": "market", "channel": "market"} for day in days]
    return made("calendar", rows)


def packed(paths, on_hand, sales, calendar, bench=None, retained=1):
    stock = pd.DataFrame({"scent": list(on_hand), "on_hand": list(on_hand.values())})
    scents = made("scents", [{"scent": scent, "retained": retained} for scent in on_hand])
    return market_packing(
        sales, calendar, paths, stock, empty(STEPS["bench"]) if bench is None else bench, scents, SHOP, TODAY
    )


def constant(bottles, scents=("Fig",), weeks=1):
    table = np.full((10, len(scents), weeks), bottles)
    return Paths(table, scents, pd.date_range(TODAY, periods=weeks, freq="7D"))


def half_on_the_market():
    rows = [(day, "Fig", 5, 9.0, "market", n) for n, day in enumerate(SATURDAYS, 2)]
    return sold(*rows, *[(day - pd.Timedelta(days=2), "Fig", 5, 9.0, "web", n) for n, day in enumerate(SATURDAYS, 20)])


def test_what_to_take_to_a_market_worked_by_hand():
    saturday = pd.Timestamp("2026-10-10")
    row = packed(constant(10), {"Fig": 30}, half_on_the_market(), markets(*SATURDAYS, saturday)).iloc[0]
    # half of a week's bottles go on the Saturday: 10 tosses of a coin, 7 or fewer heads in 968 of 1,024 cases, 6 in 848
    assert (row["expected_sold"], row["wanted"]) == (pytest.approx(5.0), 7.0)
    assert row["on_hand"] == 22  # 30 less five sevenths of 10 sold by then, 7.1
    assert row["take"] == 7
    assert packed(constant(10), {"Fig": 12}, half_on_the_market(), markets(*SATURDAYS, saturday))["take"].iloc[0] == 4


def test_a_batch_that_is_ready_by_then_can_be_taken_less_what_is_retained():
    saturday = pd.Timestamp("2026-10-10")
    bench = pd.DataFrame(
        {"scent": ["Fig", "Fig"], "ready_on": [saturday, saturday + pd.Timedelta(days=1)], "bottles": [4, 50]}
    )
    row = packed(constant(10), {"Fig": 8}, half_on_the_market(), markets(*SATURDAYS, saturday), bench).iloc[0]
    assert row["on_hand"] == 3  # 8 + 4 − 1 − 7.1


def test_a_scent_never_seen_on_a_market_takes_the_share_of_all():
    saturday = pd.Timestamp("2026-10-10")
    table = packed(
        constant(10, ("Fig", "New")), {"Fig": 30, "New": 30}, half_on_the_market(), markets(*SATURDAYS, saturday)
    )
    assert table.set_index("scent")["expected_sold"].to_dict() == pytest.approx({"Fig": 5.0, "New": 5.0})


def test_without_a_market_to_come_or_gone_by_the_list_is_empty():
    none = empty(STEPS["packing-list"])
    pd.testing.assert_frame_equal(packed(constant(10), {"Fig": 30}, half_on_the_market(), markets(*SATURDAYS)), none)
    ahead = markets(pd.Timestamp("2026-10-10"))
    pd.testing.assert_frame_equal(packed(constant(10), {"Fig": 30}, half_on_the_market(), ahead), none)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.lists(st.integers(0, 40), min_size=2, max_size=2), min_size=3, max_size=8),
    st.lists(st.integers(0, 30), min_size=2, max_size=2),
)
def test_never_more_is_taken_than_is_wanted_or_there(bottles, on_hand):
    paths = Paths(np.array(bottles)[:, :, None], ("Fig", "Oud"), pd.DatetimeIndex([TODAY]))
    stock = dict(zip(("Fig", "Oud"), on_hand, strict=True))
    table = packed(paths, stock, half_on_the_market(), markets(*SATURDAYS, pd.Timestamp("2026-10-10")))
    assert len(table) == 2
    assert (table["take"] <= table["wanted"]).all()
    assert (table["take"] <= table["on_hand"]).all()
    assert (table["on_hand"] <= table["scent"].map(stock)).all()
    assert (
        table["wanted"] <= table["scent"].map(dict(zip(("Fig", "Oud"), np.max(bottles, axis=0), strict=True)))
    ).all()
