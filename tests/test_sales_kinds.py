"""What lines are: months across, months in words, stockists, lines that are no products, and what takes back a sale."""

import io
from datetime import date

import openpyxl
import pandas as pd
import pytest
from babel import Locale

from planner.month_names import month_number
from planner.sales import read_sales
from planner.settings import LANGUAGES, Channel, Export, Settings
from planner.tables import FILES, SalesFile, empty
from planner.values import days, month_heading

SCENTS = pd.DataFrame({"scent": ["Fig", "Night Rose", "Oud"]})
SETS = pd.DataFrame({"set": ["Duo", "Duo"], "scent": ["Fig", "Oud"], "bottles": [1, 2]})
COLUMNS = {"day": "Date", "item": "Item", "bottles": "Qty"}


def read(*texts, sets=None, channels=(), **export):
    made = Export("*", "sheet", "market", **{"columns": COLUMNS, **export})
    files = [
        SalesFile(f"{n}.csv" if isinstance(text, str) else f"{n}.xlsx", lambda text=text: _stream(text))
        for n, text in enumerate(texts, 1)
    ]
    settings = Settings("s", "EUR", exports=(made,), channels=channels)
    sets = empty(FILES["sets"]) if sets is None else sets
    return read_sales(files, settings, SCENTS, sets, pd.Timestamp("2026-01-31"))


def _stream(content):
    return io.BytesIO(content.encode() if isinstance(content, str) else content)


def lines(books, *columns):
    found = books.sales[list(columns)].copy()
    if "day" in found:
        found["day"] = found["day"].dt.strftime("%Y-%m-%d")
    return list(found.itertuples(index=False, name=None))


# months across

ACROSS = {"columns": {"item": "Item"}, "months_across": True}


def test_months_across_become_a_line_for_each_filled_cell():
    text = "Bottles sold\n\nItem,Oct 2025,Nov 2025,Total\nFig,3,,3\nDuo,1,2,3\nFug,,4,4\nTotal,4,6,10\n"
    books = read(text, sets=SETS, **ACROSS)
    assert lines(books, "day", "scent", "bottles", "row") == [
        ("2025-10-01", "Fig", 3, 4),
        ("2025-10-01", "Fig", 1, 5),
        ("2025-10-01", "Oud", 2, 5),
        ("2025-11-01", "Fig", 2, 5),
        ("2025-11-01", "Oud", 4, 5),
    ]
    assert books.set_aside[["row", "reason"]].to_numpy().tolist() == [
        [6, "'Fug' is not in scents.csv."],
        [7, "It is a total, not a sale."],
        [7, "It is a total, not a sale."],
    ]
    account = books.accounts.iloc[0]
    assert account[["lines_read", "counted", "merged", "set_aside", "sold"]].tolist() == [6, 3, 0, 3, 12]
    assert "a month's bottles stand on its first day" in str(books.problems[0])


def test_years_above_the_months_are_headings_two_rows_deep():
    text = "Item,2024,,2025,\n,Nov,Dec,Jan,Feb\nFig,1,2,3,4\n"
    books = read(text, columns={"item": "Item"}, months_across=True)
    assert lines(books, "day", "bottles") == [
        ("2024-11-01", 1),
        ("2024-12-01", 2),
        ("2025-01-01", 3),
        ("2025-02-01", 4),
    ]


def test_months_across_in_a_spreadsheet():
    book = openpyxl.Workbook()
    book.active.append(["Item", date(2025, 10, 1), "11/2025"])
    book.active.append(["Fig", 3, 4.0])
    stream = io.BytesIO()
    book.save(stream)
    assert lines(read(stream.getvalue(), **ACROSS), "day", "bottles") == [("2025-10-01", 3), ("2025-11-01", 4)]


def test_months_across_without_a_month_is_asked_about():
    assert "has no heading of a month, like Nov 2025." in str(read("Item,Qty\nFig,1\n", **ACROSS).problems[0])


@pytest.mark.parametrize(
    ("heading", "month"),
    [
        ("Nov 2025", date(2025, 11, 1)),
        ("2025-11", date(2025, 11, 1)),
        ("11/2025", date(2025, 11, 1)),
        ("11.2025", date(2025, 11, 1)),
        ("2025 November", date(2025, 11, 1)),
        ("Nov-25", date(2025, 11, 1)),
        ("novembre 2025", date(2025, 11, 1)),
        ("2025-11-01 00:00:00", date(2025, 11, 1)),
        ("2025", None),
        ("11", None),
        ("Nov", None),
        ("Q4 2025", None),
        ("Total 2025", None),
        ("2025-11-15", None),
    ],
)
def test_headings_that_are_months(heading, month):
    assert month_heading(heading) == month


# months in words: the names are those of the Unicode CLDR


@pytest.mark.parametrize("language", LANGUAGES)
def test_days_with_the_months_of_every_language(language):
    wide = Locale(language).months["format"]["wide"]
    texts = pd.Series([f"{3 + n} {name} 2025" for n, name in wide.items()])
    values, bad = days(texts, "day-first", language)
    assert not bad.any()
    assert values.tolist() == [pd.Timestamp(2025, n, 3 + n) for n in wide]


def test_only_croatian_needs_to_be_said():
    needs = set()
    for language in LANGUAGES:
        for number, name in Locale(language).months["format"]["wide"].items():
            if month_number(name) != number:
                needs.add((language, name))
    assert needs == {("hr", "listopada"), ("pl", "listopada")}


@pytest.mark.parametrize(
    ("text", "iso"),
    [
        ("3. November 2025", "2025-11-03"),
        ("3. Dezember 2025", "2025-12-03"),
        ("3 de diciembre de 2025", "2025-12-03"),
        ("lundi 3 novembre 2025 à 14:05", None),
        ("lundi 3 novembre 2025", "2025-11-03"),
        ("3 févr. 2025", "2025-02-03"),
        ("3 mai 25", "2025-05-03"),
        ("2025. november 3.", "2025-11-03"),
        ("3 lis 2025", None),  # November in Polish and Czech, October in Croatian
        ("3 Fig 2025", None),
        ("March April 2025", None),
    ],
)
def test_days_in_words(text, iso):
    values, bad = days(pd.Series([text]), "day-first")
    assert bad[0] == (iso is None)
    assert (None if bad[0] else str(values[0].date())) == iso


def test_the_language_of_an_export():
    text = "Date,Item,Qty\n3 listopada 2025,Fig,1\n"
    assert lines(read(text, language="hr"), "day") == [("2025-10-03",)]
    assert lines(read(text, language="pl"), "day") == [("2025-11-03",)]
    assert len(read(text).set_aside) == 1


# kinds of line


def test_without_a_price_what_takes_back_a_sale_is_a_refund_and_the_rest_is_lost_stock():
    text = (
        "Date,Item,Qty\n2025-06-01,Fig,2\n2025-06-05,fig,-2\n2025-06-06,Fig,-2\n"  # the second has nothing left
        "2025-01-01,Oud,1\n2025-06-01,Oud,-1\n2025-06-02,Night Rose,-1\n2025-06-03,Night Rose,1\n"
    )
    assert lines(read(text), "bottles", "kind") == [
        (2, "sale"),
        (-2, "refund"),
        (-2, "write-off"),
        (1, "sale"),
        (-1, "write-off"),  # half a year later
        (-1, "write-off"),  # before any sale
        (1, "sale"),
    ]


def test_big_lines_are_kept_apart_on_request():
    text = "Date,Item,Qty\n2025-11-03,Fig,24\n2025-11-03,Fig,23\n"
    channels = (Channel("market"), Channel("stockists", "to order"))
    assert lines(read(text, channels=channels, wholesale_from=24), "channel") == [("stockists",), ("market",)]
    assert lines(read(text, channels=channels), "channel") == [("market",), ("market",)]


NO_PRODUCTS = [
    ("Postage", "postage"),
    ("UK SHIPPING (2nd class)", "postage"),
    ("P&P", "postage"),
    ("Versandkosten DE", "postage"),
    ("Discount SAVE10", "a discount"),
    ("Gift card 25", "a gift card"),
    ("Carte cadeau", "a gift card"),
    ("Card fee", "a fee"),
    ("Tip", "a tip"),
    ("VAT 20%", "tax"),
]


@pytest.mark.parametrize(("item", "kind"), NO_PRODUCTS)
def test_what_is_no_product_is_told_by_its_words_and_said_once(item, kind):
    text = f"Date,Item,Qty,Price\n2025-11-03,{item},1,-2.00\n2025-11-03,Fig,1,9\n2025-11-04,{item},1,3\n"
    books = read(text, columns={**COLUMNS, "price": "Price"})
    assert books.set_aside["reason"].tolist() == [f"It is {kind}, not a product."] * 2
    assert [str(problem) for problem in books.problems] == [
        f"1.csv, row 2: 2 lines taken for no product by the words of the item: {item} (2). Nothing to do if so. A "
        "scent that is called so goes into scents.csv, or under [names] in shop.toml."
    ]


def test_a_scent_with_such_a_word_in_its_name_is_a_scent():
    text = "Date,Item,Qty\n2025-11-03,TIP of the hill,2\n2025-11-03,Tax free,1\n"
    made = Settings("s", "EUR", exports=(Export("*", "sheet", "market", COLUMNS),), names={"Tax free": "Fig"})
    scents = pd.DataFrame({"scent": ["Tip of the Hill", "Fig"]})
    files = [SalesFile("1.csv", lambda: _stream(text))]
    books = read_sales(files, made, scents, empty(FILES["sets"]), pd.Timestamp("2026-01-31"))
    assert lines(books, "scent", "bottles") == [("Tip of the Hill", 2), ("Fig", 1)]
    assert books.problems == []


def test_an_unknown_item_in_two_exports_that_overlap_is_at_stake_once():
    first = "Date,Item,Qty\n2025-11-03,Figg,2\n2025-11-04,Figg,3\n"
    second = "Date,Item,Qty\n2025-11-04,FIGG,3\n2025-11-05,Figg,4\n"
    books = read(first, second)
    assert "'Figg' is not in scents.csv: 3 lines with 9 bottles set aside." in str(books.problems[0])
    assert books.accounts[["lines_read", "set_aside"]].to_numpy().tolist() == [[2, 2], [2, 2]]
