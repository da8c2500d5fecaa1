"""Spreadsheets with several sheets, and sheets with a month in each column: nothing in them is left out unsaid."""

import io
import random

import openpyxl
import pandas as pd
import pytest

from planner.sales import read_sales
from planner.settings import Export, Settings
from planner.tables import FILES, SalesFile, empty

SCENTS = pd.DataFrame({"scent": ["Fig", "Night Rose", "Oud"]})
COLUMNS = {"day": "Date", "item": "Item", "bottles": "Qty"}
HEAD = ["Date", "Item", "Qty"]
ACROSS = {"columns": {"item": "Item"}, "months_across": True}


def book(merge=None, **sheets):
    made = openpyxl.Workbook()
    made.remove(made.active)
    for title, rows in sheets.items():
        sheet = made.create_sheet(title.replace("_", " "))
        for row in rows:
            sheet.append(row)
        if merge and merge[0] == title:
            sheet.merge_cells(merge[1])
    stream = io.BytesIO()
    made.save(stream)
    return stream.getvalue()


def read(content, name="w.xlsx", **export):
    export = {"columns": COLUMNS, **export}
    shop = Settings("s", "EUR", exports=(Export("*", "shop", "web", **export),))
    files = [SalesFile(name, lambda: io.BytesIO(content))]
    return read_sales(files, shop, SCENTS, empty(FILES["sets"]), pd.Timestamp("2026-04-30"))


def sold(books):
    return list(books.sales[["scent", "bottles", "row"]].itertuples(index=False, name=None))


def said(books, stops=None):
    return [str(problem) for problem in books.problems if stops is None or problem.stops == stops]


JAN = [HEAD, ["2026-01-05", "Fig", 1], ["2026-01-06", "Oud", 2]]
FEB = [["Sales of February"], HEAD, ["2026-02-05", "Fig", 4], ["2026-02-06", "Ood", 8]]


def test_every_sheet_with_the_headings_is_read_and_its_rows_stay_to_be_found():
    books = read(book(Jan=JAN, Feb=FEB))
    assert sold(books) == [("Fig", 1, 2), ("Oud", 2, 3), ("Fig", 4, 6)]
    assert books.set_aside[["row", "scent", "bottles"]].to_numpy().tolist() == [[7, "Ood", 8]]
    assert books.accounts.loc[0, ["lines_read", "counted", "set_aside"]].tolist() == [4, 3, 1]
    assert said(books, stops=False) == [
        "w.xlsx: has 2 sheets that are read. Their rows are counted on: up to row 3 of Jan; rows 4 to 7 are rows 1 to "
        "4 of Feb. Nothing to do."
    ]
    assert books.readings["written"].tolist() == ["spreadsheet, sheets Jan and Feb, headings in rows 1 and 2"]


def test_a_sheet_may_have_its_columns_in_another_order_and_blank_rows_below():
    feb = [["Qty", "Note", "Item", "Date"], [4, "x", "Fig", "2026-02-05"], [None, None, None, " "]]
    books = read(book(Jan=[*JAN, [None], ["", " "]], Feb=feb, Mar=[HEAD, ["2026-03-05", "Oud", 5]]))
    assert sold(books) == [("Fig", 1, 2), ("Oud", 2, 3), ("Fig", 4, 5), ("Oud", 5, 7)]


def test_one_sheet_with_rows_is_read_as_ever():
    for content in (book(Jan=JAN), book(Empty=[], Jan=JAN, Also_empty=[[None, " "]])):
        books = read(content)
        assert sold(books) == [("Fig", 1, 2), ("Oud", 2, 3)]
        assert said(books) == []
    assert books.readings["written"].tolist() == ["spreadsheet, sheet 2, headings in row 1"]


def test_a_sheet_without_the_headings_is_named():
    cover = [["Our sales"], ["printed", "2026-03-01"]]
    books = read(book(Cover=cover, Jan=JAN, Feb=[["Date", "Item", "Quantity"], ["2026-02-05", "Fig", 4]]))
    assert sold(books) == [("Fig", 1, 2), ("Oud", 2, 3)]
    assert said(books, stops=False) == [
        "w.xlsx: sheet Cover was not read: it has no heading Date, Item and Qty. Nothing to do if it holds no sales."
    ]
    assert said(books, stops=True) == [
        "w.xlsx: sheet Feb was not read: it has no heading Qty. It has Date, Item and Quantity. If it holds sales, "
        "give it the headings of the sheets that are read."
    ]


def test_no_sheet_with_the_headings_is_the_question_it_was():
    books = read(book(Cover=[["Our sales"]], Jan=[["Date", "Item", "Quantity"], ["2026-01-05", "Fig", 1]]))
    assert "has no heading Qty. It has Date, Item and Quantity." in said(books)[0]


def test_a_heading_that_stands_twice_is_asked_about_with_its_sheet():
    books = read(book(Jan=JAN, Feb=[[*HEAD, "Qty"], ["2026-02-05", "Fig", 1, 1]]))
    assert "on sheet Feb, 2 columns are called Qty, columns 3 and 4." in said(books)[0]


def many(count, seed=1):
    draw = random.Random(seed)
    return [
        [f"2026-01-{1 + n * 28 // count:02d}", draw.choice(["Fig", "Oud"]), draw.randint(1, 3)] for n in range(count)
    ]


def test_a_sheet_that_copies_another_is_asked_about():
    lines = many(30)
    for other in (lines, lines[5:15]):
        books = read(book(All=[HEAD, *lines], Part=[["some of them"], HEAD, *other]))
        assert len(books.sales) == 0
        assert said(books) == [
            f"w.xlsx: sheet Part has the same {len(other)} lines as sheet All. Delete one of the two from the file, "
            "then run again: they would count twice."
        ]


def test_few_lines_that_are_alike_on_two_sheets_are_sales_of_their_own():
    lines = many(30)
    assert len(read(book(Stall_A=[HEAD, *lines], Stall_B=[HEAD, *lines[5:14]])).sales) == 39
    assert len(read(book(Stall_A=[HEAD, *lines], Stall_B=[HEAD, *many(30, seed=2)])).sales) == 60


def test_days_that_are_numbers_of_a_spreadsheet_are_told_with_what_to_do():
    numbered = [HEAD, [46082, "Fig", 1], [46083, "Oud", 2], ["Total", "", 3]]
    todo = "that is how spreadsheets number days. In the spreadsheet, select the column, format it as a date, save"
    books = read(book(Jan=numbered))
    assert len(books.sales) == 0
    assert f"w.xlsx, Date: has no days but numbers such as 46082: {todo}" in said(books)[0]
    books = read(book(Jan=JAN, Feb=numbered))
    assert sold(books) == [("Fig", 1, 2), ("Oud", 2, 3)]
    assert any(f"sheet Feb has no days but numbers such as 46082: {todo}" in one for one in said(books, stops=True))
    assert books.set_aside["row"].tolist() == [5, 6, 7]
    books = read(book(Jan=[*JAN, [46083, "Oud", 2]]))  # one of many: a slip of its own
    assert books.set_aside["reason"].tolist() == ["'46083' is not a day (year-first)."]


def test_a_merge_below_the_last_row_is_no_damage():
    assert sold(read(book(Jan=JAN, merge=("Jan", "B9:B12")))) == [("Fig", 1, 2), ("Oud", 2, 3)]


def test_a_needed_cell_that_is_too_long_is_set_aside_in_a_sheet_too():
    books = read(book(Jan=[*JAN, ["2026-01-07", "x" * 2001, 1]]))
    assert sold(books) == [("Fig", 1, 2), ("Oud", 2, 3)]
    assert books.set_aside[["reason", "scent"]].to_numpy().tolist() == [
        ["It has a cell of more than 2,000 characters.", "x" * 60 + "…"]
    ]


# months across: columns of numbers that are no month

PIVOT = (
    "Item;SKU;Jan 2026;Febuary 2026;31.03.2026;Q2 2026;Total 2026;Note;\n"
    "Fig;101;3;4;5;;12;good;1\n"
    "Oud;102;1;0;2;1,5;4;;2\n"
)


def test_columns_of_numbers_that_are_no_month_are_named():
    books = read(PIVOT.encode(), "year.csv", **ACROSS)
    found = books.sales[["day", "scent", "bottles"]].astype({"day": "str"})
    assert found.to_numpy().tolist() == [
        ["2026-01-01", "Fig", 3],
        ["2026-03-01", "Fig", 5],
        ["2026-01-01", "Oud", 1],
        ["2026-03-01", "Oud", 2],
    ]
    assert said(books, stops=True) == [
        "year.csv, row 1: columns Febuary 2026 and Q2 2026 hold numbers and are no months; bottles in them are not "
        "counted. Write the heading of a month with its year, like Feb 2026; call it Total if it is a sum."
    ]
    assert (
        "year.csv, row 1: columns SKU and (column 9) hold numbers and are no months; bottles in them are not counted. "
        "Nothing to do if no bottles stand there."
    ) in said(books, stops=False)


@pytest.mark.parametrize(
    ("heading", "stops"),
    [
        ("Febuary", True),
        ("Feb", True),
        ("März", True),
        ("Week 5", True),
        ("Setpember", True),
        ("Price", False),
        ("Stock", False),
    ],
)
def test_what_may_be_meant_for_a_month_stops_and_anything_else_is_a_note(heading, stops):
    books = read(f"Item,Jan 2026,{heading}\nFig,3,4\n".encode(), "year.csv", **ACROSS)
    note = f"column {heading} holds numbers and is no month; bottles in it are not counted."
    assert [problem.stops for problem in books.problems if note in problem.what] == [stops]


@pytest.mark.parametrize("heading", ["Total", "Summe 2026", "Note"])
def test_totals_and_words_across_need_no_word(heading):
    cell = "good" if heading == "Note" else "4"
    books = read(f"Item,Jan 2026,{heading}\nFig,3,{cell}\n".encode(), "year.csv", **ACROSS)
    assert not any("holds numbers" in one for one in said(books))


def test_months_across_on_several_sheets():
    this, last = [["Item", "Jan 2026"], ["Fig", 3]], [["Item", "Nov 2025", "Dezember"], ["Fig", 4, 9]]
    books = read(book(Now=this, Before=last), **ACROSS)
    assert books.sales[["bottles", "row"]].to_numpy().tolist() == [[3, 2], [4, 4]]
    assert "w.xlsx, row 3: on sheet Before, column Dezember holds numbers" in said(books, stops=True)[0]


def test_a_sheet_of_sales_under_other_headings_is_put_right_and_not_passed_over():
    june = [["Day", "Article", "Pieces"], ["2026-06-01", "Fig", 2], ["2026-06-02", "Oud", 1], ["2026-06-03", "Oud", 3]]
    books = read(book(May=[HEAD, ["2026-04-01", "Fig", 1]], June=june))
    assert sold(books) == [("Fig", 1, 2)]
    [problem] = [problem for problem in books.problems if "June" in str(problem)]
    assert problem.stops
    assert "and it holds days and numbers" in problem.what
    cover = [["Our shop"], ["Printed on", "2026-04-30"], ["Pages", 2]]
    books = read(book(May=[HEAD, ["2026-04-01", "Fig", 1]], Cover=cover))
    assert not any(problem.stops for problem in books.problems)


def test_a_sheet_whose_orders_all_stand_in_another_is_refused_in_any_order_of_lines():
    head, columns = [*HEAD, "Order"], {**COLUMNS, "order": "Order"}
    lines = [["2026-04-0" + str(n), "Fig", n, f"10{n}"] for n in range(1, 5)]
    books = read(book(All=[head, *lines], April=[head, lines[2], lines[0]]), columns=columns)
    assert "sheet April has the same 2 lines as sheet All." in str(books.problems[0])
    assert books.sales.empty
