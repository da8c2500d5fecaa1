"""Bad files of a real folder: each is named with its row, and the shelf is worked out from the rest."""

import pandas as pd
import pytest

from planner.files import load_folder
from planner.flow import read_past

SHOP = """
name = "Test shop"
currency = "EUR"
today = "2026-02-02"
[[channel]]
name = "web"
[[export]]
files = "web*"
source = "web shop"
channel = "web"
columns = { day = "Date", item = "Item", bottles = "Quantity", order = "Order" }
"""
SALES = "Date,Item,Quantity,Order\n2026-01-05,Fig,1,1\n2026-01-08,Fig,3,2\n2026-01-12,Fig,2,3\n2026-01-30,Rose,1,4\n"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "shop.toml").write_text(SHOP)
    (tmp_path / "scents.csv").write_text("scent,price,rest_days\nFig,18,2\nRose,16.5,\n")
    (tmp_path / "sales").mkdir()
    (tmp_path / "sales" / "web.csv").write_text(SALES)
    return tmp_path


BAD = {
    "a count that sales contradict": (
        "stock.csv",
        "date,scent,on_hand\n2026-01-06,Rose,5\n2026-01-07,Fig,2\n",
        "stock.csv, row 3, on_hand: Fig: 2 counted on 2026-01-07, and 3 more went after it than there were, first on "
        "2026-01-08.",
    ),
    "a negative count": (
        "stock.csv",
        "date,scent,on_hand\n2026-01-06,Rose,5\n2026-01-07,Fig,-2\n",
        "stock.csv, row 3, on_hand: '-2' cannot be used as a whole number. It cannot be below zero.",
    ),
    "a count of an unknown scent": (
        "stock.csv",
        "date,scent,on_hand\n2026-01-06,Rose,5\n2026-01-07,Figg,9\n",
        "stock.csv, row 3, scent: 'Figg' is not in scents.csv. Did you mean Fig?",
    ),
    "a count still to come": (
        "stock.csv",
        "date,scent,on_hand\n2026-01-06,Rose,5\n2027-01-07,Fig,9\n",
        "stock.csv, row 3, date: Fig on 2027-01-07 is after today (2026-02-02).",
    ),
    "half a bottle counted": (
        "stock.csv",
        "date,scent,on_hand\n2026-01-06,Rose,5\n2026-01-07,Fig,3.5\n",
        "stock.csv, row 3, on_hand: '3.5' cannot be used as a whole number. Write a whole number.",
    ),
    "a batch with more rejected than filled": (
        "runs.csv",
        "lot,date,scent,bottles_filled,bottles_rejected,retained\nL1,2026-01-12,Fig,5,6,1\n",
        "runs.csv, row 2, bottles_rejected: Lot L1: 7 rejected and kept back of 5 filled. Put it right; until",
    ),
    "a count that is no number": (
        "stock.csv",
        "date,scent,on_hand\n2026-01-06,Rose,5\n2026-01-07,Fig,some\n",
        "stock.csv, row 3, on_hand: 'some' cannot be used as a whole number.",
    ),
    "two counts of one day": (
        "stock.csv",
        "date,scent,on_hand\n2026-01-06,Rose,5\n2026-01-06,Rose,9\n",
        "stock.csv, row 3: is for 2026-01-06, Rose, and so is row 2. Row 2 counts; keep one.",
    ),
    "a move of an unknown scent": (
        "moves.csv",
        "date,scent,bottles,why\n2026-01-07,Figg,1,tester\n",
        "moves.csv, row 2, scent: 'Figg' is not in scents.csv. Did you mean Fig?",
    ),
    "a batch ready before it was mixed": (
        "runs.csv",
        "lot,date,scent,bottles_filled,ready_on\nL1,2026-01-12,Fig,24,2026-01-02\n",
        "runs.csv, row 2, ready_on: Lot L1 was ready on 2026-01-02, before it was mixed.",
    ),
    "a batch that rests less than no time": (
        "scents.csv",
        "scent,price,rest_days\nFig,18,-2\nRose,16.5,\n",
        "scents.csv, row 2, rest_days: '-2' cannot be used as a whole number. It cannot be below zero.",
    ),
    "a batch still to be mixed": (
        "runs.csv",
        "lot,date,scent,bottles_filled\nL1,2026-03-12,Fig,24\n",
        "runs.csv, row 2, date: Fig on 2026-03-12 is after today (2026-02-02).",
    ),
}


@pytest.mark.parametrize("which", BAD)
def test_what_cannot_be_is_named_with_file_and_row_and_the_rest_goes_on(folder, which):
    file, text, sentence = BAD[which]
    (folder / file).write_text(text)
    shop = load_folder(folder)
    past = read_past(shop)
    said = [str(problem) for problem in (*shop.problems, *past.shelf.problems)]
    assert len(said) == 1
    assert said[0].startswith(sentence)
    assert past.demand["bottles"].sum() == 7
    rose = past.shelf.on_hand.set_index("scent").loc["Rose"]
    if file == "stock.csv":  # the other row of the file counts
        assert (rose["on_hand"], rose["counted_on"]) == (4, pd.Timestamp("2026-01-06"))


def test_the_switch_and_totals_stand_in_the_settings_of_the_folder(folder):
    days = pd.date_range("2025-06-02", "2026-01-25")
    lines = [(day, "Fig", 1) for day in days if not "2025-09-01" <= f"{day:%Y-%m-%d}" <= "2025-09-20"]
    lines += [(day, "Rose", 1) for day in days]
    rows = [f"{day:%Y-%m-%d},{scent},{n},{k}" for k, (day, scent, n) in enumerate(lines)]
    (folder / "sales" / "web.csv").write_text("\n".join(["Date,Item,Quantity,Order", *rows]))
    known = {}
    for name, more in {
        "on": "",
        "off": "\n[shelf]\ninfer = false\n",
        "sure": "\n[shelf]\nsold_out_chance = 1.0\n",
    }.items():
        (folder / "shop.toml").write_text(SHOP + more)
        shelf = read_past(load_folder(folder)).shelf.shelf
        known[name] = set(shelf["known"])
    assert known == {"on": {"assumed", "inferred"}, "off": {"assumed"}, "sure": {"assumed"}}
    (folder / "shop.toml").write_text(SHOP.replace('channel = "web"\ncol', 'channel = "web"\ntotals = "week"\ncol'))
    totals = [
        f"{day:%Y-%m-%d},{scent},{n},{scent}{day}"
        for day in days[days.day_of_week == 0]
        for scent, n in (("Fig", 5), ("Rose", 9))
    ]
    (folder / "sales" / "web.csv").write_text("\n".join(["Date,Item,Quantity,Order", *totals]))
    (folder / "stock.csv").write_text("date,scent,on_hand\n2025-11-30,Fig,15\n")
    past = read_past(load_folder(folder))
    fig = past.demand[past.demand["scent"] == "Fig"].set_index("week")
    assert fig.loc["2025-12-15", "known"] == "end only"  # 15 counted, 5 a week: gone in the third week
    assert fig.loc["2025-12-15", "hidden"] > 0
    assert past.shelf.contradictions["bottles"].iloc[0] > 0
