"""What lines are: months across, months in words, stockists, lines that are no products, and what takes back a sale."""

import io
import tomllib
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
        f"1.csv, row 2: 2 lines taken for no product by the words of the item: {item} (2 pieces). Nothing to do if "
        "so. A scent that is called so goes into scents.csv, or under [names] in shop.toml."
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


# what takes a sale back

ORDERS = {"columns": {**COLUMNS, "price": "Price", "order": "Order", "status": "Status"}}
HEAD = "Date,Item,Qty,Price,Order,Status\n"


def net(books):
    return int(books.sales["bottles"].sum())


def test_an_order_that_was_cancelled_is_no_sale_and_takes_no_other_back():
    books = read(HEAD + "2025-11-01,Fig,5,18,1000,paid\n2025-11-03,Fig,1,18,1002,cancelled\n", **ORDERS)
    assert net(books) == 5
    assert books.set_aside["reason"].tolist() == ["It was cancelled or paid back, and counts as no sale."]
    assert [str(problem) for problem in books.problems] == [
        "1.csv, Status: lines with the status cancelled (1) are read as cancelled or paid back. To state it, write "
        'refund_status = ["cancelled"] under its [[export]] in shop.toml.'
    ]


def test_a_line_that_takes_back_another_of_its_order_is_a_refund():
    text = "2025-11-01,Fig,2,18,1000,paid\n2025-11-03,Fig,1,18,1000,refunded\n2025-11-03,Fig,3,18,1000,refunded\n"
    books = read(HEAD + text.replace("3,18,1000", "1,18,1000"), **ORDERS)
    assert lines(books, "bottles", "kind") == [(2, "sale"), (-1, "refund"), (-1, "refund")]
    books = read(HEAD + text, **ORDERS)  # more than was sold in the order: these lines were the sale
    assert net(books) == 2


def test_a_sale_in_one_export_that_a_later_one_calls_refunded_nets_to_none():
    first, later = "2025-11-01,Fig,2,18,1000,paid\n", "2025-11-01,Fig,2,18,1000,refunded\n"
    books = read(HEAD + first, HEAD + later, **ORDERS)
    assert lines(books, "bottles", "kind", "file") == [(2, "sale", "1.csv"), (-2, "refund", "2.csv")]


def test_without_order_numbers_a_status_takes_back_a_sale_like_it_shortly_before():
    columns = {**COLUMNS, "status": "Status"}
    text = "Date,Item,Qty,Status\n2025-06-01,Fig,2,paid\n{},Fig,2,refunded\n"
    assert net(read(text.format("2025-06-20"), columns=columns)) == 0
    assert net(read(text.format("2025-12-20"), columns=columns)) == 2


def test_what_is_paid_back_at_the_price_it_was_sold_for_is_a_refund():
    text = "2025-11-01,Fig,1,18,1000,\n2025-11-03,Fig,1,-18,1001,\n2025-11-03,Fig,1,-4,1002,\n"
    books = read(HEAD + text, **ORDERS)
    assert lines(books, "bottles", "unit_price", "kind") == [(1, 18, "sale"), (-1, 18, "refund")]
    assert books.set_aside["reason"].tolist() == ["The price -4 is negative."]


def test_order_numbers_with_letters_in_front_are_asked_about():
    text = "2025-11-01,Fig,2,18,1001,paid\n2025-11-04,Fig,2,18,R1001,paid\n2025-11-05,Fig,1,18,W77,paid\n"
    books = read(HEAD + text, **ORDERS)
    assert net(books) == 5
    assert [str(problem) for problem in books.problems] == [
        "1.csv, row 3, Order: 1 order number with R in front of another order's, like R1001, counted as sales. If they "
        'pay back the other, write refund_orders = "R" under its [[export]] in shop.toml.'
    ]
    assert net(read(HEAD + text, refund_orders="R", **ORDERS)) == 1


def test_an_order_whose_status_stands_on_the_sale_and_on_what_takes_it_back_nets_to_none():
    text = "2025-11-01,Fig,2,18,1,refunded\n2025-11-04,Fig,-2,18,1,refunded\n"
    books = read(HEAD + text, **ORDERS)
    assert lines(books, "bottles", "kind") == [(2, "sale"), (-2, "refund")]
    first = text.splitlines()[0]
    assert net(read(HEAD + first.replace("refunded", "paid"), HEAD + text, **ORDERS)) == 0


def test_a_prefix_and_a_status_together_take_back_once():
    text = "2025-11-01,Fig,2,18,1,paid\n2025-11-04,Fig,2,18,R1,refunded\n"
    assert net(read(HEAD + text, refund_orders="R", **ORDERS)) == 0
    text = "2025-11-01,Fig,2,18,ROSE1,paid\n"
    assert net(read(HEAD + text, refund_orders="R", **ORDERS)) == 2  # a letter follows: another kind of number


def test_a_cancelled_order_does_not_take_back_one_of_that_number_long_before():
    text = "2024-11-01,Fig,2,18,1,paid\n2025-11-04,Fig,2,18,1,cancelled\n"
    assert net(read(HEAD + text, **ORDERS)) == 2


def test_what_an_order_gives_back_in_parts_counts_each_time():
    first = "2025-11-01,Fig,5,18,1,paid\n2025-11-20,Fig,-1,18,1,\n"
    second = "2025-11-20,Fig,-1,18,1,\n2025-11-23,Fig,-1,18,1,\n"
    assert net(read(HEAD + first, HEAD + second, **ORDERS)) == 3


def test_letters_before_an_order_of_another_file_are_asked_about():
    first, second = "2025-11-01,Fig,2,18,1001,paid\n", "2025-11-04,Fig,2,18,REF-1001,paid\n"
    books = read(HEAD + first, HEAD + second, **ORDERS)
    assert 'refund_orders = "REF-"' in str(books.problems[0])


def test_what_takes_back_bottles_of_a_stockist_goes_to_the_stockists():
    text = "2025-11-01,Fig,48,9,1,paid\n2025-11-04,Fig,-6,9,1,paid\n2025-11-04,Fig,-1,18,2,paid\n"
    books = read(
        HEAD + text, wholesale_from=24, channels=(Channel("market"), Channel("stockists", "to order")), **ORDERS
    )
    assert lines(books, "bottles", "channel") == [(48, "stockists"), (-6, "stockists"), (-1, "market")]


def test_totals_of_one_month_in_two_files_are_the_larger_of_the_two():
    books = read("Item,May 2025,June 2025\nFig,10,3\n", "Item,June 2025,July 2025\nFig,9,5\n", **ACROSS)
    assert lines(books, "day", "bottles") == [("2025-05-01", 10), ("2025-06-01", 9), ("2025-07-01", 5)]


def test_words_of_no_product_do_not_swallow_what_may_be_a_scent():
    scents = pd.DataFrame({"scent": ["Tip of the Tongue", "Shipping Forecast", "Fig", "Gift of Moss", "Total"]})
    items = [
        "TIP OF TONGUE",
        "Shipping Forcast",
        "Fig (tax free)",
        "Fig + shipping",
        "Gift of Moss",
        "Total",
        "Gift wrap",
    ]
    text = "Date,Item,Qty\n" + "".join(f"2025-11-03,{item},1\n" for item in items)
    made = Settings("s", "EUR", exports=(Export("*", "sheet", "market", COLUMNS),), not_products=("Gift*",))
    files = [SalesFile("1.csv", lambda: _stream(text))]
    books = read_sales(files, made, scents, empty(FILES["sets"]), pd.Timestamp("2026-01-31"))
    assert lines(books, "scent") == [("Gift of Moss",), ("Total",)]
    reasons = books.set_aside["reason"].tolist()
    assert reasons == [f"'{item}' is not in scents.csv." for item in items[:4]] + ["It is not a product."]


def test_what_stands_among_the_sales_is_no_remark():
    books = read("Date,Item,Qty\n12 Elm Lane,,\n2025-11-01,Fig,1\n")
    assert books.set_aside["reason"].tolist() == ["It names no item."]
    assert len(books.problems) == 1


# the same order in two exports

AGAIN = {
    "a blank": ("Fig,1,18,1001,", 'Fig,1,18,"1001 ",', 1, 1, False),
    "a decimal": ("Fig,1,18,1001,", "Fig,1,18,1001.0,", 1, 1, False),
    "another price": ("Fig,1,18,1001,", "Fig,1,17,1001,", 1, 1, False),
    "cut in two": ("Fig,2,18,1001,", "Fig,1,18,1001,\n2025-11-01,Fig,1,18,1001,", 2, 2, False),
    "fewer before": ("Fig,2,18,1001,", "Fig,3,18,1001,", 3, 1, True),
    "another order": ("Fig,2,18,1001,", "Fig,2,18,1002,", 4, 0, False),
    "another scent": ("Fig,2,18,1001,", "Oud,2,18,1001,", 4, 0, False),
}


@pytest.mark.parametrize("how", AGAIN)
def test_an_order_in_two_exports_counts_once_however_it_is_written(how):
    first, second, bottles, merged, differs = AGAIN[how]  # merged: lines of either file that do not count
    books = read(HEAD + f"2025-11-01,{first}\n", HEAD + f"2025-11-01,{second}\n", **ORDERS)
    assert net(books) == bottles
    assert any("have more bottles" in str(problem) for problem in books.problems) == differs
    assert books.accounts["merged"].sum() == merged


def test_receipts_that_begin_anew_each_day_are_told_apart_by_their_day():
    first = [f"2025-11-0{day},Fig,1,18,{number}," for day in (1, 2, 3) for number in (1, 2, 3)]
    second = [f"2025-11-0{day},Fig,1,18,{number}," for day in (3, 4) for number in (1, 2, 3)]
    books = read(HEAD + "\n".join(first), HEAD + "\n".join(second), **ORDERS)
    assert net(books) == 12  # the third of November stands in both
    assert books.accounts["merged"].tolist() == [0, 3]


def test_the_same_order_number_in_another_year_is_another_order():
    books = read(HEAD + "2024-11-01,Fig,1,18,1,\n", HEAD + "2025-11-01,Fig,1,18,1,\n", **ORDERS)
    assert net(books) == 2
    books = read(HEAD + "2024-11-01,Fig,1,18,1,\n", HEAD + "2024-11-02,Fig,1,18,1,\n", **ORDERS)
    assert net(books) == 1  # the day moved with the clock of the export


# totals, remarks, and days that stand on the first line of an order

TOTAL_LINES = [
    "Subtotal April,,,",
    ",Summe März,3,54",
    ",Total for March 2025,3,54",
    ",Grand Total (EUR),3,54",
    "TOTAL (2 items),,3,54",
    "2025-11-03,,3,45",  # the sum of the two lines above, in bottles and in money
]


@pytest.mark.parametrize("line", TOTAL_LINES)
def test_totals_are_told_by_their_words_or_their_sums(line):
    columns = {**COLUMNS, "amount": "Amount"}
    text = f"Date,Item,Qty,Amount\n2025-11-01,Fig,1,15\n2025-11-02,Oud,2,30\n{line}\n"
    books = read(text, columns=columns)
    assert books.set_aside["reason"].tolist() == ["It is a total, not a sale."]
    assert net(books) == 3
    assert books.problems == []


def test_a_dated_line_without_an_item_is_no_total_unless_all_of_it_is_a_sum():
    columns = {**COLUMNS, "amount": "Amount"}
    start = "Date,Item,Qty,Amount\n2025-11-01,Fig,1,15\n"
    for text in (f"{start}2025-11-02,,1,15\n", f"{start}2025-11-02,Oud,2,30\n2025-11-03,,3,40\n"):
        assert read(text, columns=columns).set_aside["reason"].tolist() == ["It names no item."]


def test_a_remark_below_the_table_needs_no_attention():
    books = read("Date,Item,Qty\n2025-11-01,Fig,1\nPage 1 of 1,,\n# end,,\n")
    assert books.set_aside["reason"].tolist() == ["It is a remark below the table: no item, no day and no number."] * 2
    assert books.problems == []


def test_a_line_without_a_day_has_that_of_its_order():
    text = "2025-11-01,Fig,1,18,1,\n,Oud,2,18,1,\n,Oud,1,18,2,\n"
    text += "2025-11-04,Fig,1,18,3,\n2025-11-05,Fig,1,18,3,\n,Oud,1,18,3,\n"
    books = read(HEAD + text, **ORDERS)
    assert lines(books, "day", "scent", "row") == [
        ("2025-11-01", "Fig", 2),
        ("2025-11-01", "Oud", 3),
        ("2025-11-04", "Fig", 5),
        ("2025-11-05", "Fig", 6),
    ]
    assert books.set_aside["reason"].tolist() == ["It has no day."] * 2


def test_other_names_for_what_is_no_scent_and_channels_that_are_none_are_named():
    made = Settings(
        "s",
        "EUR",
        exports=(Export("*", "sheet", "fair", COLUMNS),),
        channels=(Channel("market"), Channel("web")),
        names={"Mystery": "Roze"},
    )
    files = [SalesFile("1.csv", lambda: _stream("Date,Item,Qty\n2025-11-01,Fig,1\n"))]
    books = read_sales(files, made, SCENTS, empty(FILES["sets"]), pd.Timestamp("2026-01-31"))
    said = [str(problem) for problem in books.problems]
    assert "'Mystery' is to stand for Roze, which is neither in scents.csv nor in sets.csv." in said[0]
    assert "has the channel fair, and no [[channel]] is called so. Write market or web there" in said[1]


def test_a_decimal_sign_that_the_file_speaks_against_is_refused():
    columns = {**COLUMNS, "price": "Price"}
    books = read(
        'Date,Item,Qty,Price\n2025-11-01,Fig,1,"18,50"\n2025-11-02,Fig,1,1.250\n', columns=columns, decimal="."
    )
    assert "has 1 number that can only have a decimal comma, none that can only have a decimal dot" in str(
        books.problems[0]
    )
    assert books.accounts["set_aside"].tolist() == [2]


def test_the_line_to_paste_for_a_name_is_toml_whatever_the_name_holds():
    name = 'Fihg 5" b\tx'
    books = read('Date,Item,Qty\n2025-11-01,"Fihg 5"" b\tx",1\n')
    line = books.problems[0].todo.partition("shop.toml: ")[2].partition(". Otherwise")[0]
    assert tomllib.loads(line) == {name: "Fig"}


def test_a_very_long_cell_is_cut_short_in_every_sentence():
    books = read(f"Date,Item,Qty\n2025-11-01,Fig,{'9x' * 500}\n2025-11-01,{'Long ' * 300},1\n")
    assert max(len(str(problem)) for problem in books.problems) < 400
    assert books.set_aside["reason"].str.len().max() < 120


def test_a_picture_in_a_name_tells_scents_apart():
    scents = pd.DataFrame({"scent": ["Oud \N{ROSE}"]})
    made = Settings("s", "EUR", exports=(Export("*", "sheet", "market", COLUMNS),))
    text = "Date,Item,Qty\n2025-11-01,oud\N{ROSE},1\n2025-11-01,Oud \N{CHERRY BLOSSOM},1\n2025-11-01,Oud® \N{ROSE},1\n"
    books = read_sales(
        [SalesFile("1.csv", lambda: _stream(text))], made, scents, empty(FILES["sets"]), pd.Timestamp("2026-01-31")
    )
    assert lines(books, "row") == [(2,), (4,)]
