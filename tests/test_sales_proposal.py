"""What is proposed for an export that shop.toml does not know, and whether the lines to paste then read it."""

import io
import tomllib

import pandas as pd
import pytest

from planner.sales import read_sales
from planner.sales.by_content import by_content, months_in
from planner.sales.proposal import proposal
from planner.settings import Export, Settings
from planner.tables import FILES, SalesFile, empty

SCENTS = pd.DataFrame({"scent": ["Fig", "Night Rose", "Oud"]})
TODAY = pd.Timestamp("2026-01-31")


def file(text):
    return SalesFile("till.csv", lambda: io.BytesIO(text.encode()))


def proposed(text):
    return proposal(file(text), TODAY, SCENTS["scent"]).problem


def pasted(problem):
    """Return the [[export]] of the lines to paste, as TOML reads them."""
    (export,) = tomllib.loads(problem.todo.partition("\n")[2])["export"]
    return export


TOLD = {
    "by headings": (
        "Order no,Date,Item,Qty,Price\n1,2025-11-03,Fig,1,9.50\n",
        {"day": "Date", "item": "Item", "bottles": "Qty", "price": "Price", "order": "Order no"},
    ),
    "by what stands in them": (
        "Wann,Was,Stk,Wieviel,Wem\n03.11.2025,Fig,1,9.50,Ana\n14.11.2025,Oud,2,19.00,Bo\n15.11.2025,Fig,1,9.50,Ana\n",
        {"day": "Wann", "item": "Was", "bottles": "Stk"},
    ),
    "below a title, one by its heading": (
        "Sales of the year\n\nWhen sold?;Which one;Qty;Till no\n13.11.2025;Fig;1;4711\n14.11.2025;night rose;1;4712\n",
        {"day": "When sold?", "item": "Which one", "bottles": "Qty"},
    ),
}


@pytest.mark.parametrize("how", TOLD)
def test_the_lines_to_paste_read_the_file(how):
    text, columns = TOLD[how]
    export = pasted(proposed(text))
    assert export["columns"] == columns
    settings = Settings("s", "EUR", exports=(Export(**export),))
    books = read_sales([file(text)], settings, SCENTS, empty(FILES["sets"]), TODAY)
    assert len(books.sales) == len(text.strip().splitlines()) - (3 if "Sales of" in text else 1)
    assert books.set_aside.empty


def test_months_across_are_proposed_and_then_read():
    text = "Name,Oct 2025,Nov 2025,Total\nFig,3,,3\nOud,1,2,3\n"
    problem = proposed(text)
    assert "2 columns of it are months." in problem.what
    settings = Settings("s", "EUR", exports=(Export(**pasted(problem)),))
    books = read_sales([file(text)], settings, SCENTS, empty(FILES["sets"]), TODAY)
    assert books.sales["bottles"].sum() == 6


def test_a_file_without_headings_is_told_to_have_none():
    assert "It has no row of headings." in proposed("2025-11-03,Fig,1,9.50\n2025-11-04,Oud,2,19.00\n").what


def test_what_cannot_be_told_is_named():
    problem = proposed("Date,Item,Colour\n2025-11-03,Fig,red\n2025-11-04,Oud,blue\n")
    assert "does not tell which column is bottles." in problem.what


def test_an_order_of_days_that_both_can_be_is_a_question_and_not_a_choice():
    problem = proposed("Date,Item,Qty\n03/11/2025,Fig,1\n")
    assert '# date_order = "day-first" or "month-first"  say which' in problem.todo
    assert "date_order" not in pasted(problem)


def test_codes_prices_and_running_numbers_are_not_taken_for_bottles():
    rows = [["2025-11-03", "Fig", str(n), "9.50", str(40000 + n), "2"] for n in range(1, 30)]
    found = dict(by_content(["A", "B", "No", "P", "Code", "C"], rows, [], {"fig"}))
    assert found == {"day": "A", "item": "B", "bottles": "C"}


def test_columns_taken_by_their_headings_stay_so():
    rows = [["2025-11-03", "2025-11-09", "Fig", "1"], ["2025-11-04", "2025-11-09", "Oud", "1"]]
    assert dict(by_content(["Date", "Sent", "Item", "Qty"], rows, ["Date", "Item"], {"fig"})) == {
        "day": "Sent",
        "bottles": "Qty",
    }


def test_months_are_counted_in_headings():
    assert months_in(["Item", "Nov 2025", "12/2025", "2025", "Total"]) == 2


def test_two_columns_for_one_month_are_named():
    export = Export("*", "sheet", "market", {"item": "Item"}, months_across=True)
    text = "Item,Nov 2025,11/2025\nFig,3,4\n"
    books = read_sales([file(text)], Settings("s", "EUR", exports=(export,)), SCENTS, empty(FILES["sets"]), TODAY)
    assert "2 columns are for the month 2025-11, columns 2 and 3." in str(books.problems[0])
    assert books.accounts[["lines_read", "counted", "set_aside"]].to_numpy().tolist() == [[1, 0, 1]]


def test_e_mail_addresses_are_never_copied():
    export = Export("*", "web", "web", {"day": "Date", "item": "Item", "bottles": "Qty", "order": "Order"})
    text = "Date,Order,Item,Qty\n2025-11-03,ana@example.org,Ana Lopez <ana@example.org>,1\n2025-11-03,2,Fig,x\n"
    books = read_sales([file(text)], Settings("s", "EUR", exports=(export,)), SCENTS, empty(FILES["sets"]), TODAY)
    assert books.set_aside["scent"].tolist() == ["Ana Lopez <…@…>", "Fig"]
    assert "ana@" not in books.set_aside.to_csv() + " ".join(map(str, books.problems))


def test_statuses_that_take_a_sale_back_are_proposed():
    text = "Date,Item,Qty,Status\n2025-11-13,Fig,1,paid\n2025-11-14,Fig,1,Cancelled\n2025-11-15,Fig,1,refunded\n"
    assert pasted(proposed(text))["refund_status"] == ["Cancelled", "refunded"]


@pytest.mark.parametrize(
    ("name", "source", "files"),
    [
        ("web-2026-01.csv", "web", "web*.csv"),
        ("web (1).csv", "web", "web*.csv"),
        ("orders jan.xlsx", "orders", "orders*.xlsx"),
        ("web_2025-2026.csv", "web", "web*.csv"),
        ("till.csv", "till", "till.csv"),
        ("2025.csv", "2025", "2025.csv"),
        ("web-shop.csv", "web-shop", "web-shop.csv"),
        ("2025-05 orders.csv", "orders", "*orders.csv"),
        ("may.csv", "may", "may.csv"),
    ],
)
def test_exports_that_differ_by_a_month_or_a_copy_are_one_source(name, source, files):
    one = SalesFile(name, lambda: io.BytesIO(b"Date,Item,Qty\n2025-11-13,Fig,1\n"))
    export = pasted(proposal(one, TODAY, SCENTS["scent"]).problem)
    assert (export["source"], export["files"]) == (source, files)


def test_lines_of_a_file_set_aside_whole_stand_in_the_books():
    books = read_sales(
        [file("Date,Item,Qty\n03/11/2025,Fig,1\n04/11/2025,Fig,2\n")],
        Settings("s", "EUR"),
        SCENTS,
        empty(FILES["sets"]),
        TODAY,
    )
    account = books.accounts.iloc[0]
    assert account[["lines_read", "counted", "merged", "set_aside"]].tolist() == [2, 0, 0, 2]


def test_a_column_of_money_is_not_taken_for_the_bottles():
    text = "Day,Scent,Fee amount,How many,Each\n2025-11-13,Fig,1,2,18.00\n2025-11-14,Oud,1,2,18.00\n"
    assert pasted(proposed(text))["columns"]["bottles"] == "How many"
