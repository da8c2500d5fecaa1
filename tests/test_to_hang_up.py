"""The lists of the plan as they are read, and what is said of them."""

import pandas as pd

from planner import sentences, to_hang_up
from planner.settings import Settings
from planner.tables import STEPS, check, empty

SHOP = Settings("shop", "EUR")
DAY = pd.Timestamp("2026-10-03")


def bench(*rows):
    """Return a bench table from (slack days, status)."""
    table = pd.DataFrame(rows, columns=["slack_days", "status"]).astype({"slack_days": "Int64"})
    table["mix_on"] = table["fill_on"] = table["ready_on"] = DAY
    table["latest_on"] = DAY + pd.to_timedelta(table["slack_days"], unit="D")
    table = table.assign(batch=table.index.astype(str), scent="Fig", bottles=10, minutes=60.0, vessel="jug")
    return check(table, STEPS["bench"])


def packing(*rows):
    table = pd.DataFrame(rows, columns=["day", "market", "scent", "expected_sold", "wanted", "on_hand", "take"])
    return check(table, STEPS["packing-list"])


def test_the_day_of_filling_is_shown_only_where_it_is_another_one():
    table = bench((0, "no later day"))
    assert "fill_on" not in to_hang_up.bench_list(table)
    assert "fill_on" in to_hang_up.bench_list(table.assign(fill_on=DAY + pd.Timedelta(days=3)))


def test_amounts_to_have_are_whole_and_never_below_what_is_needed():
    row = {"material": "oil", "needed": 12.3, "short": 2.000000000001, "on_hand": 10.3, "unit": "g", "packs": 1}
    table = to_hang_up.to_have(pd.DataFrame([row | {"cost": 1.0, "status": "in time"}]))
    assert table[["needed", "short"]].iloc[0].tolist() == [13.0, 2.0]


def test_an_order_line_holds_the_size_of_its_pack():
    line = {
        "order": "A 1",
        "material": "oil",
        "packs": 2,
        "pack_size": 0.5,
        "pack_unit": "kg",
        "cost": 9.0,
        "status": "x",
    }
    assert to_hang_up.order_lines(pd.DataFrame([line]))["pack"].tolist() == ["0.5 kg"]


def test_the_next_market_is_its_days_without_a_break():
    days = [DAY, DAY + pd.Timedelta(days=1), DAY + pd.Timedelta(days=14)]
    table = packing(
        *[(day, "Harbour", "Fig", 5.0, 8.0, 9.0, 8) for day in days], (DAY, "Castle", "Fig", 5.0, 8.0, 9.0, 8)
    )
    assert to_hang_up.next_market(table)["day"].tolist() == days[:2]
    assert to_hang_up.next_market(empty(STEPS["packing-list"])).empty


def test_the_slack_of_batches_in_words():
    assert sentences.say_slack(empty(STEPS["bench"])) == "There is no batch to put on a bench day."
    none = sentences.say_slack(bench((0, "no later day")))
    assert none == "No batch can slip: each stands on the last bench day that makes it."
    full = sentences.say_slack(bench((2, "in exchange"), (0, "no later day")))
    assert (
        full == "1 batch of 2 can slip, by 2 days at most: only in exchange for another, since the later day is full."
    )
    free = sentences.say_slack(bench((2, "has room"), (7, "in exchange")))
    assert free == "2 batches of 2 can slip, by 7 days at most: 1 of them to a day with room."
    late = sentences.say_slack(bench((pd.NA, "comes late"), (3, "has room")))
    assert late.startswith("1 batch comes later than the plan counts on. 1 batch of 2 can slip")


def test_the_next_market_in_words():
    table = packing((DAY, "Harbour", "Fig", 5.0, 8.0, 9.0, 8), (DAY, "Harbour", "Oud", 3.0, 5.0, 1.0, 1))
    said = sentences.say_markets(table)
    assert said == "To Harbour on Sat 3 Oct 2026: 9 bottles, of which 8 sell on average. Fewer than wanted of Oud."
    assert sentences.say_markets(empty(STEPS["packing-list"])).startswith("There is no market day to come")


def test_worth_in_words():
    rows = [
        {
            "kind": "bottles",
            "what": "Fig",
            "amount": 4.0,
            "unit": "bottles",
            "cost_each": 1.5,
            "worth": 6.0,
            "note": "",
        },
        {
            "kind": "materials",
            "what": "oil",
            "amount": 9.0,
            "unit": "g",
            "cost_each": 1.0,
            "worth": 4.0,
            "note": "5 g past use-by, worth nothing",
        },
        {
            "kind": "materials",
            "what": "cap",
            "amount": 9.0,
            "unit": "pieces",
            "cost_each": None,
            "worth": None,
            "note": "no price is known",
        },
    ]
    said = sentences.say_worth(check(pd.DataFrame(rows).assign(date=DAY), STEPS["worth"]), SHOP)
    assert said == (
        "On Sat 3 Oct 2026 there is 10 EUR on hand at cost: 6 EUR in 4 bottles, 4 EUR in materials. Past its use-by "
        "day and worth nothing: some of oil. Not in it, for want of a price or a count: cap."
    )
    assert sentences.say_worth(empty(STEPS["worth"]), SHOP) == "Nothing is on hand, or nothing was counted."


def test_a_material_nobody_sells_is_said_also_where_nothing_else_is_bought():
    row = {"material": "cap", "supplier": None, "needed": 9.0, "on_hand": 0.0, "short": 9.0, "unit": "pieces"}
    row |= {"packs": pd.NA, "cost": None, "order_by": pd.NaT, "arrives_by": pd.NaT}
    said = sentences.say_buying(check(pd.DataFrame([row]), STEPS["buying"]), DAY, SHOP)
    assert said == "No pack is listed of cap: find who sells it."
