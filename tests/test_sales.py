import io
from datetime import date

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.sales import read_sales
from planner.settings import Export, Settings
from planner.tables import FILES, STEPS, SalesFile, empty

TODAY = pd.Timestamp("2026-01-31")
SCENTS = pd.DataFrame({"scent": ["Fig", "Night Rose", "Oud"], "row": [2, 3, 4]})
SETS = pd.DataFrame({"set": ["Trio", "Trio", "Trio"], "scent": ["Fig", "Night Rose", "Oud"], "bottles": [2, 1, 1]})
WEB = Export(
    "web*",
    "web shop",
    "web",
    {"day": "Date", "item": "Item", "bottles": "Qty", "price": "Price", "order": "Order", "status": "Status"},
    decimal=".",
    refund_orders="R",
    refund_status=("refunded", "cancelled"),
)
MARKET = Export(
    "market*",
    "card reader",
    "market",
    {"day": "Day", "item": "Article", "bottles": "Pieces", "amount": "Sum"},
    date_order="day-first",
    decimal=",",
)
HEAD = "Date,Order,Item,Qty,Price,Status,Email\n"
MARKET_HEAD = "Day;Article;Pieces;Sum\n"


def shop(**changes):
    return Settings("A made-up shop", "EUR", exports=(WEB, MARKET), not_products=("Postage", "Gift card*"), **changes)


def file(name, text, encoding="utf-8"):
    content = text.encode(encoding) if isinstance(text, str) else text
    return SalesFile(name, lambda: io.BytesIO(content))


def read(*files, settings=None, scents=SCENTS, sets=None, today=TODAY):
    return read_sales(files, settings or shop(), scents, empty(FILES["sets"]) if sets is None else sets, today)


def web(*lines, name="web.csv", **more):
    return read(file(name, HEAD + "".join(f"{line},a@b.c\n" for line in lines)), **more)


def sentences(books):
    return [str(problem) for problem in books.problems]


def rows(frame, *columns):
    return list(frame[list(columns)].itertuples(index=False, name=None))


def test_one_of_each_kind():
    books = web(
        "2025-11-03,1001,Fig,2,14.50,paid",
        "2025-11-04,R1001,Fig,-1,14.50,",
        "2025-11-05,1002,Oud,1,14.50,Refunded",  # marked by its status: back, whatever the sign
        "2025-11-05,1003,Oud,-3,0,",
        "2025-11-06,1004,Night Rose,1,0.00,paid",
        "2025-11-07,1005,Oud,-2,12,paid",
        "2025-11-05,1002,Oud,1,14.50,paid",
    )
    assert rows(books.sales, "scent", "bottles", "unit_price", "kind", "row") == [
        ("Fig", 2, 14.5, "sale", 2),
        ("Fig", -1, 14.5, "refund", 3),
        ("Oud", -1, 14.5, "refund", 4),
        ("Oud", -3, 0, "write-off", 5),
        ("Night Rose", 1, 0, "free", 6),
        ("Oud", -2, 12, "refund", 7),
        ("Oud", 1, 14.5, "sale", 8),
    ]
    assert list(books.sales.columns) == list(STEPS["sales"].columns)
    assert books.sales["channel"].unique().tolist() == ["web"]
    account = books.accounts.iloc[0]
    assert account[["sold", "refunded", "written_off", "free"]].tolist() == [3, 4, 3, 1]
    assert books.problems == []


SET_ASIDE = [
    ("November,1,Fig,1,14.5,", "'November' is not a day (year-first)."),
    (",1,Fig,1,14.5,", "It has no day."),
    ("2026-02-01,1,Fig,1,14.5,", "2026-02-01 is in the future."),
    ("2025-11-03,1,Fig,2.5,14.5,", "2.5 is not a whole number of bottles."),
    ("2025-11-03,1,Fig,some,14.5,", "'some' is not a number of bottles."),
    ("2025-11-03,1,Fig,,14.5,", "It has no number of bottles."),
    ("2025-11-03,1,Fig,0,14.5,", "It is for 0 bottles."),
    ("2025-11-03,1,Fig,9780306406157,14.5,", "9780306406157 is more bottles than anybody fills."),
    ("2025-11-03,1,Fig,1,-14.5,", "The price -14.5 is negative."),
    ('2025-11-03,1,Fig,1,"14,5",', "'14,5' is not a price."),
    ("2025-11-03,1,,1,14.5,", "It names no item."),
    ("2025-11-03,1,Figg,1,14.5,", "'Figg' is not in scents.csv."),
    ("2025-11-03,1,POSTAGE,1,4,", "It is not a product."),
    ("2025-11-03,1,Gift card 20,1,20,", "It is not a product."),
    (",,Total,5,70,", "It is a total, not a sale."),
    ("Grand total,,,5,70,", "It is a total, not a sale."),
    ("Date,Order,Item,Qty,Price,Status", "It repeats the headings."),  # exports put one below the other
    (",,,1,,", "It is a total, not a sale."),  # the sum above it
    (",,,5,14.5,", "It is a total, not a sale."),
    (",,,5,70,", "It names no item and no day."),
]


@pytest.mark.parametrize(("line", "reason"), SET_ASIDE)
def test_what_is_set_aside_and_why(line, reason):
    books = web("2025-11-02,9,Oud,1,14.5,", line)
    assert rows(books.set_aside, "file", "row", "reason") == [("web.csv", 3, reason)]
    assert rows(books.accounts, "lines_read", "counted", "merged", "set_aside") == [(2, 1, 0, 1)]


def test_a_negative_price_is_named_with_file_and_row():
    books = web("2025-11-02,9,Oud,1,14.5,", "2025-11-03,1,Fig,1,-14.5,")
    assert sentences(books) == [
        "web.csv, row 3, Price: The price -14.5 is negative. Correct it in the file, then run again."
    ]


def test_a_reason_that_comes_often_is_one_sentence():
    books = web(*(f"Month {n},1,Fig,1,14.5," for n in range(7)), "2025-11-03,1,Fig,1,14.5,")
    assert sentences(books) == [
        "web.csv, row 2, Date: 'Month 0' is not a day (year-first). So are 7 lines in all, rows 2, 3, 4, 5, 6 and "
        "others. Correct it in the file, then run again."
    ]


def test_today_is_not_the_future():
    assert len(web("2026-01-31,1,Fig,1,14.5,").sales) == 1


def test_blank_rows_are_no_lines_and_keep_the_row_numbers():
    text = HEAD + "\n,,,,,,\n2025-11-03,1,Fig,1,14.5,,x\n\n  ,,,,,,only@mail\n2025-11-04,2,Oud,1,14.5,,x\n\n"
    books = read(file("web.csv", text))
    assert books.sales["row"].tolist() == [4, 7]
    assert books.accounts["lines_read"].tolist() == [2]


def test_a_quoted_line_break_is_one_row_of_a_spreadsheet():
    above = 'My shop\n\nDate,Order,Item,Qty,Price,Status,"Note\nof buyer"\n'
    text = above + '2025-11-03,1,Fig,1,14.5,,"a\nb\r\nc"\n2025-11-04,2,Oud,1,14.5,,\n'
    assert read(file("web.csv", text)).sales["row"].tolist() == [4, 5]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_any_text_reads_the_same(end, encoding, delimiter):
    scents = pd.DataFrame({"scent": ["Thé vert", "Fig"]})
    lines = [HEAD.strip(), "2025-11-03,1,Thé vert,1,14.5,,x", "2025-11-04,2,Fig,2,14.5,,x", ""]
    books = read(file("web.csv", end.join(lines).replace(",", delimiter), encoding), scents=scents)
    assert rows(books.sales, "scent", "bottles", "row") == [("Thé vert", 1, 2), ("Fig", 2, 3)]


def test_a_late_byte_that_is_not_utf8_turns_the_whole_file_to_western_text():
    scents = pd.DataFrame({"scent": ["Thé vert", "Fig"]})
    lines = [*(f"2025-11-03,{n},Fig,1,14.5,,x\n" for n in range(30_000)), "2025-11-04,x,Thé vert,1,14.5,,x\n"]
    books = read(file("web.csv", HEAD + "".join(lines), "cp1252"), scents=scents)
    assert books.sales["scent"].value_counts().to_dict() == {"Fig": 30_000, "Thé vert": 1}


def test_a_file_on_disk_is_closed_again(tmp_path):
    path = tmp_path / "web.csv"
    path.write_text(HEAD + "2025-11-03,1,Fig,1,14.5,,x\n")
    opened = []

    def open_it():
        opened.append(path.open("rb"))
        return opened[-1]

    assert len(read(SalesFile("web.csv", open_it)).sales) == 1
    assert all(stream.closed for stream in opened)


def test_codes_keep_their_zeros_and_words_for_nothing_stay_names():
    scents = pd.DataFrame({"scent": ["00123", "123", "NA", "None"]})
    books = web(*(f"2025-11-03,1,{name},1,14.5," for name in ("00123", "123", "NA", "None")), scents=scents)
    assert books.sales["scent"].tolist() == ["00123", "123", "NA", "None"]


def test_price_from_the_amount_of_the_line():
    books = read(
        file("market.csv", MARKET_HEAD + "03.11.2025;Fig;3;43,50 €\n03.11.2025;Fig;-1;-14,50 €\n04.11.2025;Oud;2;0\n")
    )
    assert rows(books.sales, "bottles", "unit_price", "kind") == [
        (3, 14.5, "sale"),
        (-1, 14.5, "refund"),
        (2, 0, "free"),
    ]


def test_without_any_price_the_sign_says_the_kind():
    export = Export("*", "sheet", "market", {"day": "Date", "item": "Item", "bottles": "Qty"})
    settings = Settings("s", "EUR", exports=(export,))
    books = read(file("s.csv", "Date,Item,Qty\n2025-11-03,Fig,1\n2025-11-04,Fig,-1\n"), settings=settings)
    assert books.sales["kind"].tolist() == ["sale", "refund"]
    assert books.sales["unit_price"].isna().all()


def test_a_spreadsheet_reads_as_text_does():
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.append(["this sheet holds notes only"])
    sheet = book.create_sheet("sales")
    for row in (
        ["A title"],
        [],
        ["Day", "Article", "Pieces", "Sum"],
        [date(2025, 11, 3), "Fig", 3, 43.5],
        [],
        ["4.11.2025", "Oud", 1, "14,50"],
    ):
        sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    books = read(file("market.xlsx", stream.getvalue()))
    assert rows(books.sales, "day", "scent", "bottles", "unit_price", "row") == [
        (pd.Timestamp("2025-11-03"), "Fig", 3, 14.5, 4),
        (pd.Timestamp("2025-11-04"), "Oud", 1, 14.5, 6),
    ]


def test_a_gift_set_is_its_scents_with_its_price_shared_by_bottles():
    # 4 bottles in the set; two sets for 48.00 each: 12.00 a bottle
    books = web("2025-11-03,1,TRIO,2,48,", "2025-11-04,1,Fig,1,14.5,", sets=SETS)
    assert rows(books.sales, "line", "scent", "bottles", "unit_price", "row") == [
        (1, "Fig", 4, 12, 2),
        (2, "Night Rose", 2, 12, 2),
        (3, "Oud", 2, 12, 2),
        (4, "Fig", 1, 14.5, 3),
    ]
    assert rows(books.accounts, "lines_read", "counted", "sold") == [(2, 2, 9)]


def test_a_set_of_an_unknown_scent_is_named_and_its_sales_set_aside():
    sets = SETS.assign(scent=["Fig", "Night Rose", "Oudh"], row=[2, 3, 4])
    books = web("2025-11-03,1,Trio,2,48,", "2025-11-04,1,Fig,1,14.5,", sets=sets)
    assert len(books.set_aside) == 1
    assert "sets.csv, row 4: the set Trio cannot hold 1 of 'Oudh'." in sentences(books)[0]


def test_names_by_shop_toml_and_by_folding():
    names = {"Rosa nocturna": "Night Rose", "The fig one": "FIG"}
    items = ["fig", " FIG ", "night-rose", "NightRose", "rosa nocturna", "The Fig One", "Oud."]
    books = web(*(f"2025-11-03,1,{item},1,14.5," for item in items), settings=shop(names=names))
    assert books.sales["scent"].tolist() == ["Fig", "Fig", "Night Rose", "Night Rose", "Night Rose", "Fig", "Oud"]


def test_an_exact_name_wins_and_a_folded_one_must_be_the_only_one():
    scents = pd.DataFrame({"scent": ["Fig", "FIG", "Oud"]})
    books = web(*(f"2025-11-03,1,{item},1,14.5," for item in ("Fig", "FIG", "fig", "oud")), scents=scents)
    assert books.sales["scent"].tolist() == ["Fig", "FIG", "Oud"]
    assert rows(books.set_aside, "row", "reason") == [(4, "'fig' may be FIG or Fig.")]
    assert "Say which under [names] in shop.toml." in sentences(books)[0]


def test_unknown_names_come_by_bottles_with_the_line_to_paste():
    books = web(
        "2025-11-03,1,Nite Rose,3,14.5,",
        "2025-11-03,2,Nite Rose,4,14.5,",
        "2025-11-03,3,Wax melt,50,3,",
        "2025-11-03,4,Fig,1,14,",
    )
    assert sentences(books) == [
        "web.csv, row 4: 'Wax melt' is not in scents.csv: 1 line with 50 bottles set aside. "
        'Add it to scents.csv, or write "Wax melt" into the list not_products at the top of shop.toml.',
        "web.csv, row 2: 'Nite Rose' is not in scents.csv: 2 lines with 7 bottles set aside. "
        'If it is Night Rose, write under [names] in shop.toml: "Nite Rose" = "Night Rose". '
        'Otherwise: Add it to scents.csv, or write "Nite Rose" into the list not_products at the top of shop.toml.',
    ]


ZIP = b"PK\x03\x04" + bytes(200)
WHOLE = [
    (file("web.csv", ""), "web.csv: is empty."),
    (file("web.csv", " \r\n\n"), "web.csv: is empty."),
    (file("web.csv", ZIP), "web.csv: is not text but a zip file or a spreadsheet."),
    (file("web.csv", bytes(range(256)) * 20), "web.csv: is not text."),
    (file("web.xlsx", ZIP), "web.xlsx: is not a spreadsheet that can be opened"),
    (file("web.csv", HEAD.replace("Qty", "Quantities")), "web.csv: has no heading Qty. It has Date, Order, Item,"),
    (file("web.csv", "a,b\n1,2\n"), "web.csv: has no row with the headings Date, Item, Qty, Price, Order and Status."),
    (
        file("till.csv", "Sold on,What\n2025-11-03,Fig\n"),
        "till.csv: no [[export]] in shop.toml says how to read it. What is in it does not tell which column",
    ),
]


@pytest.mark.parametrize(("bad", "sentence"), WHOLE)
def test_a_file_that_cannot_be_read_is_set_aside_whole_and_the_rest_goes_on(bad, sentence):
    books = read(bad, file("market.csv", MARKET_HEAD + "03.11.2025;Fig;3;43,50\n"))
    assert len(books.sales) == 1
    assert books.accounts["counted"].tolist() == [0, 1]
    assert (books.accounts["lines_read"] == books.accounts["counted"] + books.accounts["set_aside"]).all()
    assert len(books.problems) == 1
    assert sentences(books)[0].startswith(sentence)


def test_a_file_nobody_knows_gets_lines_to_paste():
    books = read(file("till.csv", "Receipt;Date;Product name;Qty;Unit price\n1;2025-11-03;Fig;1;14.5\n"))
    assert (
        'columns = { day = "Date", item = "Product name", bottles = "Qty", price = "Unit price", order = "Receipt" }'
        in (sentences(books)[0])
    )


def test_days_that_speak_against_the_stated_order_set_the_file_aside():
    lines = ["03/11/2025;Fig;1;14,50", "04/11/2025;Fig;1;14,50", "11/25/2025;Fig;1;14,50"]
    books = read(file("market.csv", MARKET_HEAD + "\n".join(lines)))
    assert sentences(books) == [
        "market.csv, Day: has 1 day that can only be month-first, none that can only be day-first as shop.toml says. "
        'Write date_order = "month-first" under its [[export]], or correct the days.'
    ]
    # one that can only be day-first: the odd one is a slip, and set aside alone
    books = read(file("market.csv", MARKET_HEAD + "\n".join([*lines, "25/11/2025;Fig;1;14,50"])))
    assert books.accounts["counted"].tolist() == [3]


def test_no_file_at_all():
    books = read()
    assert len(books.sales) == len(books.accounts) == 0
    assert sentences(books) == ["sales: holds no export. Put one into it, then run again."]
    assert list(books.accounts.columns)[:6] == ["file", "source", "lines_read", "counted", "merged", "set_aside"]


# the same sale twice


def market(*days_and_scents, name):
    return file(name, MARKET_HEAD + "".join(f"{day}.11.2025;{scent};1;14,50\n" for day, scent in days_and_scents))


def test_two_alike_market_sales_in_one_file_are_two_sales():
    assert len(read(market(("03", "Fig"), ("03", "Fig"), name="market.csv")).sales) == 2


def test_a_web_and_a_market_sale_alike_in_everything_are_two_sales():
    books = read(file("web.csv", HEAD + "2025-11-03,,Fig,1,14.5,,x\n"), market(("03", "Fig"), name="market.csv"))
    assert len(books.sales) == 2
    assert books.accounts["merged"].tolist() == [0, 0]


def test_without_orders_the_larger_count_of_the_day_is_right():
    # on the 3rd two in one file and three in the other: three were sold
    first = market(("02", "Fig"), ("03", "Fig"), ("03", "Fig"), name="market-1.csv")
    second = market(("03", "Fig"), ("03", "Fig"), ("03", "Fig"), ("04", "Fig"), name="market-2.csv")
    books = read(first, second)
    assert books.sales["day"].dt.day.value_counts().to_dict() == {2: 1, 3: 3, 4: 1}
    assert rows(books.accounts, "lines_read", "counted", "merged") == [(3, 3, 0), (4, 2, 2)]
    assert sentences(books) == [
        "market-2.csv, row 2: 2 lines stand in market-1.csv too and are counted once. Nothing to do."
    ]
    assert not books.problems[0].stops


def test_with_orders_the_order_decides_and_not_the_day():
    one = file("web-1.csv", HEAD + "2025-11-03,1,Fig,1,14.5,,x\n2025-11-03,2,Fig,1,14.5,,x\n")
    two = file("web-2.csv", HEAD + "2025-11-03,2,FIG,1,14.50,,x\n2025-11-03,3,Fig,1,14.5,,x\n")
    books = read(one, two)
    assert rows(books.sales, "order", "file") == [("1", "web-1.csv"), ("2", "web-1.csv"), ("3", "web-2.csv")]


def test_no_customer_data_is_kept():
    books = web("2025-11-03,1,Fig,1,14.5,", "November,1,Fig,1,14.5,")
    for table in (books.sales, books.set_aside, books.accounts):
        assert "a@b.c" not in table.to_csv()


# the books balance for anything: random dirt with known truth

ITEMS = ["Fig", "fig ", "Night Rose", "Oud", "Trio", "Postage", "Figg", "", "Total"]
LINE = st.tuples(
    st.sampled_from(["2025-11-03", "2025-11-04", "2025-11-05", "November", "", "2027-01-01", "2025-02-30"]),
    st.sampled_from(["1", "2", "R2", ""]),
    st.sampled_from(ITEMS),
    st.sampled_from(["1", "2", "-1", "0", "1.5", "x", ""]),
    st.sampled_from(["14.5", "0", "-3", "free", ""]),
    st.sampled_from(["paid", "refunded", ""]),
)
FILE = st.lists(LINE, max_size=12)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(FILE, min_size=1, max_size=3), st.sampled_from(",;\t|"), st.sampled_from(["utf-8", "utf-16", "cp1252"]))
def test_books_balance(contents, delimiter, encoding):
    files = []
    for number, lines in enumerate(contents):
        text = "".join(delimiter.join([*line, "a@b.c"]) + "\n" for line in [tuple(HEAD.split(",")[:6]), *lines])
        files.append(file(f"web-{number}.csv", text, encoding))
    books = read(*files, sets=SETS)
    accounts = books.accounts
    blank = [sum(not any(cell.strip() for cell in line) for line in lines) for lines in contents]
    assert accounts["lines_read"].tolist() == [len(lines) - n for lines, n in zip(contents, blank, strict=True)]
    assert (accounts["lines_read"] == accounts["counted"] + accounts["merged"] + accounts["set_aside"]).all()
    assert books.set_aside["reason"].str.len().gt(0).all()
    seen = pd.concat([books.sales[["file", "row"]].drop_duplicates(), books.set_aside[["file", "row"]]])
    assert not seen.duplicated().any()  # no line is both counted and set aside


GOOD = st.tuples(
    st.sampled_from(["2025-11-03", "2025-11-04", "2025-11-05"]),
    st.sampled_from(["Fig", "Oud"]),
    st.sampled_from(["1", "2", "-1"]),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(GOOD, min_size=1, max_size=30), st.data(), st.booleans())
def test_cutting_a_file_into_overlapping_exports_changes_nothing(lines, data, with_orders):
    # whole days (or whole orders) in each export, as shops cut them; the truth is the one uncut file
    lines = sorted(lines)
    unit = [line[0] for line in lines]
    texts = [
        f"{day},{f'{day}-{n // 2}' if with_orders else ''},{item},{bottles},14.5,,x\n"
        for n, (day, item, bottles) in enumerate(lines)
    ]
    cuts = sorted(set(unit))
    until, since = data.draw(st.sampled_from(cuts)), data.draw(st.sampled_from(cuts))
    if since > until:
        since, until = until, since
    early = HEAD + "".join(text for text, day in zip(texts, unit, strict=True) if day <= until)
    late = HEAD + "".join(text for text, day in zip(texts, unit, strict=True) if day >= since)
    whole = read(file("web.csv", HEAD + "".join(texts)))
    cut = read(file("web-1.csv", early), file("web-2.csv", late))
    columns = ["day", "scent", "bottles", "unit_price", "order", "kind"]
    by_all = [frame.sales[columns].sort_values(columns).reset_index(drop=True) for frame in (whole, cut)]
    pd.testing.assert_frame_equal(*by_all)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.lists(GOOD, min_size=1, max_size=12), min_size=2, max_size=3), st.booleans())
def test_books_made_in_parts_are_the_same_books(monkeypatch, contents, with_orders):
    texts = [
        HEAD + "".join(f"{day},{day if with_orders else ''},{item},{n},14.5,,x\n" for day, item, n in lines)
        for lines in contents
    ]
    files = [file(f"web-{number}.csv", text) for number, text in enumerate(texts)]
    whole = read(*files)
    with monkeypatch.context() as small:
        small.setattr("planner.sales.merge.PART", 2)
        small.setattr("planner.sales.accounts.PART", 2)
        small.setattr("planner.sales.text.PIECE", 7)
        parts = read(*files)
    pd.testing.assert_frame_equal(parts.sales, whole.sales)
    pd.testing.assert_frame_equal(parts.accounts, whole.accounts)
