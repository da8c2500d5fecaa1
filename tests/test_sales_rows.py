"""Rows of text: quotes, line breaks inside cells, rows that are too long, bytes that are no text."""

import csv
import io

import numpy as np
import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.sales import read_sales, text
from planner.sales.rows import TOO_LONG, UNCLOSED, Shape, TooLongError, blocks, cells_of
from planner.sales.text import text_encoding
from planner.settings import Export, Settings
from planner.tables import FILES, SalesFile, empty

SCENTS = pd.DataFrame({"scent": ["Fig", "Night Rose", "Oud"]})
COLUMNS = {"day": "Date", "item": "Item", "bottles": "Qty", "price": "Price"}
HEAD = "Date,Item,Qty,Price,Note\n"


def file(content, name="web.csv", encoding="utf-8"):
    content = content.encode(encoding) if isinstance(content, str) else content
    return SalesFile(name, lambda: io.BytesIO(content))


def read(content, name="web.csv", encoding="utf-8", scents=SCENTS, **export):
    export = {"columns": COLUMNS, **export}
    settings = Settings("s", "EUR", exports=(Export("*", "shop", "web", **export),))
    today = pd.Timestamp("2026-01-31")
    return read_sales([file(content, name, encoding)], settings, scents, empty(FILES["sets"]), today)


def sold(books):
    return list(books.sales[["scent", "bottles", "row"]].itertuples(index=False, name=None))


def aside(books):
    return list(books.set_aside[["row", "reason"]].itertuples(index=False, name=None))


def cut(lines, shape, size=None):
    data = "".join(line + "\n" for line in lines).encode()
    size = size or len(data) or 1
    found = list(blocks((data[at : at + size] for at in range(0, len(data), size)), shape, 0))
    return b"".join(block.rows for block in found).decode(), np.concatenate([block.faults for block in found]).tolist()


# lines, faults by row (worked by hand); three cells, digits in the first and the last
ROWS = [
    (["1,a,2", "3,b,4"], [0, 0]),
    (["1,a,2", "3,b", "", "5,c,6,7"], [0, 0, 0, TOO_LONG]),
    (['1,"a,a",2'], [0]),
    (['1,"a ""quoted"" a",2', '3,"",4'], [0, 0]),
    (['1,"a', 'b",2', "3,c,4"], [0, 0]),
    (['1,"a', "", 'b",2', "3,c,4"], [0, 0]),
    (['1,5" oil,2', "3,c,4"], [0, 0]),  # a quote inside a cell that does not begin with one is a letter
    (['1,"a,2', "3,c,4"], [UNCLOSED, 0]),
    (['1,"a,2', "3,c,4", '5,"d,6', "7,e,8"], [UNCLOSED, 0, UNCLOSED, 0]),
    (['1,"a,2', "3,c,4", '5,d",6', "7,e,8"], [UNCLOSED, 0, 0, 0]),  # closed by accident: rows would be swallowed
    (['1,"a" b,2', "3,c,4"], [UNCLOSED, 0]),
    (['1,"a', 'b","c', 'd"', "3,c,4"], [0, 0]),
    (['1,"a"', "3,c,4,5"], [0, TOO_LONG]),
    (["1,a,2,,,", "3,b,4, ", "5,c,6"], [0, 0, 0]),  # blank cells behind the last
    (['1,"a",2,""," "', '3,"b",4,,"x"'], [0, TOO_LONG]),
    (['1,"a,2,,', "3,b,4,,"], [UNCLOSED, 0]),
    (["1,a, dark,2,", "3,b,4,,5"], [TOO_LONG, TOO_LONG]),  # "a, dark" without quotes moved the rest
    (['1,"' + "x\n" * 99 + '",2', "3,c,4"], [0, 0]),
    (['1,"' + "x\n" * 100 + '",2', "3,c,4"], [UNCLOSED, *[0] * 99, UNCLOSED, 0]),
]


@pytest.mark.parametrize(("lines", "faults"), ROWS)
@pytest.mark.parametrize("size", [None, 7, 1])
def test_rows_and_their_faults(lines, faults, size):
    assert cut(lines, Shape(",", 3, (0, 2)), size)[1] == faults


CELL = st.text(st.sampled_from('ab1 ,;"\n'), max_size=5)


@given(
    st.lists(st.lists(CELL, min_size=2, max_size=4), min_size=1, max_size=8),
    st.sampled_from(",;\t|"),
    st.integers(1, 40),
)
def test_rows_are_those_of_a_plain_csv_reader(table, delimiter, size):
    # the slow plain reference: Python's csv; digits nowhere, so that no cell is taken for a row
    stream = io.StringIO(newline="")
    csv.writer(stream, delimiter=delimiter, lineterminator="\n").writerows(table)
    written, faults = cut(stream.getvalue().split("\n")[:-1], Shape(delimiter, 9, (8,)), size)
    assert written == stream.getvalue()
    assert faults == [0] * len(table)


@given(st.lists(st.text(st.sampled_from('ab1,"'), max_size=8), min_size=1, max_size=30), st.integers(1, 40))
def test_no_line_is_lost_whatever_the_quotes(lines, size):
    rows, faults = cut(lines, Shape(",", 3, (0, 2)), size)
    unquoted = [line.replace('"', "") for line in lines]
    assert rows.replace('"', "").split("\n")[:-1] == unquoted
    assert len(faults) <= len(lines)
    assert cut(lines, Shape(",", 3, (0, 2)))[1] == faults  # however the text was cut into pieces


def test_cells_of_a_row():
    assert cells_of(b'a;"b;\nc";', ";") == ["a", "b;\nc", ""]


def test_a_line_without_end_is_told_and_not_held():
    served = []

    def endless():
        while True:
            served.append(1)
            yield b"x" * (1 << 19)

    with pytest.raises(TooLongError):
        list(blocks(endless(), Shape(",", 3), 0))
    assert len(served) == 3


def test_a_line_of_two_megabytes_is_one_sentence():
    books = read(HEAD + "2025-11-03,Fig,1,14.5,\n" + "x" * (1 << 21))
    assert [str(problem) for problem in books.problems] == [
        "web.csv: has a line of more than 1,048,576 characters, which is no row of sales. "
        "Export it again as .csv or .xlsx, or open it in a spreadsheet and save it as one of these."
    ]


@pytest.mark.parametrize("note", ["x" * 1_500_000, '"' + "x" * 3_000_000 + '"', '"x\n""' + "x" * 1_500_000 + '"'])
def test_a_row_that_ends_but_is_too_long_is_the_same_sentence(note):
    books = read(HEAD + f"2025-11-03,Fig,1,14.5,{note}\n2025-11-04,Oud,1,14.5,\n")
    assert "has a line of more than 1,048,576 characters" in str(books.problems[0])
    assert len(books.sales) == 0


@pytest.mark.parametrize("item", ["x" * 900_000, '"' + "é" * 2001 + '"', '"a\n' + "x" * 2000 + '"'])
def test_a_needed_cell_that_is_too_long_is_set_aside_and_its_beginning_kept(item):
    books = read(HEAD + f"2025-11-03,{item},1,14.5,\n2025-11-04,Oud,1,14.5,{'x' * 3000}\n")
    assert sold(books) == [("Oud", 1, 3)]
    assert aside(books) == [(2, "It has a cell of more than 2,000 characters.")]
    kept = item.strip('"')[:60] + "…"
    assert books.set_aside["scent"].tolist() == [kept]
    assert books.set_aside["bottles"].tolist() == [1]


def test_a_cell_of_two_thousand_characters_is_read_whole():
    books = read(HEAD + f"2025-11-03,{'é' * 2000},1,14.5,\n")
    assert books.set_aside["scent"].tolist() == ["é" * 2000]


def test_one_long_line_and_nothing_else_has_no_headings():
    for content in ("x" * (1 << 20), '"' + "x" * (1 << 20), "a,b\n" + "x," * (1 << 19)):
        assert "has no row with the headings Date, Item, Qty and Price." in str(read(content).problems[0])


def test_lone_quotes_cost_their_own_lines_only():
    lines = [
        '2025-11-03,"Fig,1,14.5,',
        "2025-11-04,Oud,2,14.5,",
        '2025-11-05,Fig,3,14.5,so "good',
        "2025-11-06,Fig,4,14,",
    ]
    books = read(HEAD + "\n".join(lines))
    assert sold(books) == [("Oud", 2, 3), ("Fig", 3, 4), ("Fig", 4, 5)]
    assert aside(books) == [(2, 'It has a quote (") that is not closed where its cell ends.')]
    assert books.set_aside[["scent", "bottles"]].to_numpy().tolist() == [["…", 1]]


def test_a_row_with_more_cells_than_headings_is_set_aside():
    # a decimal comma without quotes moves the rest to the right: the price would be 14
    books = read(HEAD + "2025-11-03,Fig,1,14,50,\n2025-11-04,Oud,2,14.5,\n")
    assert sold(books) == [("Oud", 2, 3)]
    assert aside(books) == [(2, "It has more cells than there are headings.")]


def test_blank_cells_behind_the_last_heading_are_no_fault():
    head = "Date,Item,Qty,Price\n2025-11-01,Oud,1,18\n"
    assert sold(read(head + "2025-11-03,Fig,1,18,,,\n")) == [("Oud", 1, 2), ("Fig", 1, 3)]
    assert sold(read(head + '2025-11-03,Fig,1,18.50,"", \n')) == [("Oud", 1, 2), ("Fig", 1, 3)]


MOVED = ["Fig,1,14,50,", "Fig,1,€ 14,50 ,", "Fig,1,1,014.50,", "Oud, 2,1,14.5,", "Fig,1,14,50,,,"]


@pytest.mark.parametrize("moved", MOVED)
def test_a_row_that_a_comma_moved_is_no_sale_though_what_it_has_too_much_is_blank(moved):
    books = read(HEAD + f"2025-11-03,{moved}\n2025-11-04,Oud,2,14.5,\n")
    assert sold(books) == [("Oud", 2, 3)]
    assert aside(books) == [(2, "It has more cells than there are headings.")]


def test_text_of_rows_whose_cells_may_be_out_of_place_is_not_kept():
    columns = {"day": "Date", "order": "Order", "item": "Item", "bottles": "Qty"}
    text = (
        "Date,Order,Name,Item,Qty\n2025-11-03,1001,Ana Made-Up, 4 Quay Street,Fig,1\n"
        '2025-11-04,1002,"Bo Made-Up, Quay Street,2\n2025-11-05,1003,Cy,Oud,3\n,,,Total,6,x\n'
    )
    books = read(text, columns=columns)
    assert sold(books) == [("Oud", 3, 4)]
    assert books.set_aside["scent"].tolist() == ["…", "…", "Total"]
    assert books.set_aside["order"].tolist()[:2] == ["…", "…"]
    assert aside(books)[2] == (5, "It is a total, not a sale.")
    assert "Quay" not in books.set_aside.to_csv() + "".join(map(str, books.problems))


def test_a_decimal_comma_without_quotes_in_every_row_moves_nothing_in_silence():
    books = read(HEAD + "2025-11-03,Fig,1,14,50,\n2025-11-04,Oud,2,14,50,\n2025-11-04,Oud,2,9,00,\n")
    assert len(books.sales) == 0


def test_rows_that_all_end_in_one_more_delimiter_are_as_wide_as_the_table():
    assert sold(read(HEAD + "2025-11-03,Fig,1,14.5,,\n2025-11-04,Oud,2,14.5,,\n")) == [("Fig", 1, 2), ("Oud", 2, 3)]


def test_a_heading_that_stands_twice_is_asked_about():
    text = "Date,Item,Qty,Price,Price\n2025-11-03,Fig,1,14.5,12\n"
    assert str(read(text).problems[0]) == (
        "web.csv, row 1, Price: 2 columns are called Price, columns 4 and 5. Say which under its [[export]] in "
        'shop.toml: price = "Price #1" is the first of them.'
    )
    books = read(text, columns=COLUMNS | {"price": "Price #2"})
    assert books.sales["unit_price"].tolist() == [12]


def test_headings_two_rows_deep():
    text = "Sold,,Money,\nDate,Item,each,\nQty,,,\n".replace("\nQty", "\nx")
    text = "When,Bottle,,Money,\n,Name,Qty,each,all\n2025-11-03,Fig,2,14.5,29\n"
    columns = {"day": "When", "item": "Bottle Name", "bottles": "Bottle Qty", "price": "Money each"}
    assert sold(read(text, columns=columns)) == [("Fig", 2, 3)]


# single-byte text: the names that the maker has say which one was meant
SINGLE = [
    ("cp1252", ["Thé vert", "Rosenöl"]),
    ("cp1250", ["Róża leśna", "Růže"]),
    ("cp1251", ["Чёрная роза", "Сандал"]),
    ("cp1253", ["Τριαντάφυλλο", "Γιασεμί"]),
    ("cp1254", ["Gül bahçesi", "Işıltı"]),
    ("mac_roman", ["Thé vert", "Crème"]),
    ("cp850", ["Rosenöl", "Weiß"]),
]


@pytest.mark.parametrize(("encoding", "names"), SINGLE)
def test_single_byte_text_reads_by_the_names_the_maker_has(encoding, names):
    lines = "".join(f"2025-11-03,{name},{n},14.5,\n" for n, name in enumerate(names, 1))
    books = read(HEAD + lines, encoding=encoding, scents=pd.DataFrame({"scent": names}))
    assert books.sales["scent"].tolist() == names


def test_headings_in_single_byte_text():
    columns = {"day": "Día", "item": "Artículo", "bottles": "Qty"}
    books = read("Día,Artículo,Qty\n2025-11-03,Fig,2\n", encoding="cp1252", columns=columns)
    assert sold(books) == [("Fig", 2, 2)]


def test_single_byte_text_without_any_known_name_is_told_by_its_letters():
    content = (HEAD + "2025-11-03,Чёрная роза,1,14.5,\n2025-11-03,Сандал и ваниль,1,14.5,\n").encode("cp1251")
    assert text_encoding(file(content), content).name == "cp1251"


def test_nul_is_left_out_and_told():
    books = read(HEAD + "2025-11-03,F\0ig,1,14.5,\0\n")
    assert sold(books) == [("Fig", 1, 2)]
    assert "holds 2 NUL characters and is read without" in str(books.problems[0])
    assert not books.problems[0].stops


def test_the_mark_at_the_end_of_old_files_is_no_line():
    books = read(HEAD + "2025-11-03,Fig,1,14.5,\n\x1a")
    assert sold(books) == [("Fig", 1, 2)]
    assert books.accounts["lines_read"].tolist() == [1]


def test_a_bad_byte_in_utf8_costs_its_own_line_only():
    scents = pd.DataFrame({"scent": ["Thé vert", "Fig"]})
    content = (HEAD + "2025-11-03,Thé vert,1,14.5,ééé\n2025-11-04,Fig,2,14.5,\n").encode()
    content += b"2025-11-05,Th\xff vert,4,14.5,\n"
    books = read(content, scents=scents)
    assert sold(books) == [("Thé vert", 1, 2), ("Fig", 2, 3)]
    assert aside(books) == [(4, "'Th\ufffd vert' is not in scents.csv.")]
    assert "is UTF-8 text with 1 byte that is not, read as \ufffd." in str(books.problems[0])


@pytest.mark.parametrize("scents", [["Ämber", "Fig"], ["Amber"]])  # also where no name is known to tell it
@pytest.mark.parametrize("bad", [b"Caf\xe9", b"Caf\xe9 cr\xe8me"])
def test_a_small_utf8_text_with_a_bad_byte_or_two_is_still_utf8(scents, bad):
    content = (HEAD + "2025-11-03,Ämber,1,14.5,\n2025-11-04,Fig,2,14.5,").encode() + bad
    books = read(content, scents=pd.DataFrame({"scent": scents}))
    assert "is UTF-8 text with" in str(books.problems[0])
    assert [*books.sales["scent"], *books.set_aside["scent"]].count("Ämber") == 1


@pytest.mark.parametrize(
    ("encoding", "names"),
    [("cp1251", ["Чёрная роза", "Тёплый дождь"]), ("cp1252", ["CAFÉ™", "Crème brûlée", "Thé été"])],
)
def test_letters_that_happen_to_be_one_in_utf8_do_not_make_a_text_utf8(encoding, names):
    for known in (names, ["Fig"]):
        content = (HEAD + "".join(f"2025-11-03,{name},1,14.5,\n" for name in names)).encode(encoding)
        assert text_encoding(file(content), content, known).name == encoding


# each line quoted as a whole, as spreadsheets save a text that they took for a single column
WRAPPED = (
    '"Date,Item,Qty,Price,Note"\n'
    '"2025-11-03,Fig,1,14.5,""a """"b"""", c"""\n'
    '"2025-11-04,""Night Rose"",2,14.5,"\n'
    "\n"
    '"2025-11-05,Oud,3,14.5,"\n'
)


@pytest.mark.parametrize("cut", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_lines_in_quotes_as_a_whole_are_read_without_them(cut, encoding):
    books = read(WRAPPED.replace(",", cut), encoding=encoding)
    assert sold(books) == [("Fig", 1, 2), ("Night Rose", 2, 3), ("Oud", 3, 5)]
    assert str(books.problems[0]).startswith("web.csv: has every line in quotes as a whole;")


def test_lines_in_quotes_are_the_same_in_pieces_of_any_size(monkeypatch):
    expected = b"".join(text.pieces(file(WRAPPED), "utf-8-sig")).decode()
    assert expected.split("\n")[1:3] == ['2025-11-03,Fig,1,14.5,"a ""b"", c"', '2025-11-04,"Night Rose",2,14.5,']
    for size in (1, 7, 50):
        monkeypatch.setattr(text, "PIECE", size)
        assert b"".join(text.pieces(file(WRAPPED), "utf-8-sig")).decode() == expected


def test_a_title_may_stand_above_lines_in_quotes_but_a_row_without_them_shows_that_they_are_cells():
    books = read("All sales\n" + WRAPPED)
    assert sold(books) == [("Fig", 1, 3), ("Night Rose", 2, 4), ("Oud", 3, 6)]
    quoted_cells = '"Sales, all"\n"of the shop, 2025"\n' + HEAD + '2025-11-03,"Fig",1,14.5,\n'
    assert sold(read(quoted_cells)) == [("Fig", 1, 4)]


@pytest.mark.parametrize(
    "content",
    [
        '"Date,Item,Qty,Price"\n"2025-11-03,""Fig\nx"",1,14"\n"2025-11-04,Oud,2,14"\n',  # a quoted line of two lines
        '"Date,Item,Qty,Price";\n"2025-11-03,Fig,1,14";\n',
    ],
)
def test_headings_in_one_cell_are_told_with_what_to_do(content):
    wanted = "web.csv, row 1: has all its headings in one cell: its lines are not cut into cells. Split the column in a"
    assert str(read(content).problems[0]).startswith(wanted)
    lines = content.replace('"', "").replace(";", "").splitlines()
    assert "has all its headings in one cell" in str(read(sheet(*([line] for line in lines)), "w.xlsx").problems[0])


def test_rows_of_sales_above_the_headings_are_told():
    head, line = HEAD.strip(), "2025-11-0{},Fig,1,14.5,"
    books = read("\n".join([line.format(3), line.format(4), "Printed,2025,3,,", head, line.format(5)]))
    assert sold(books) == [("Fig", 1, 5)]
    assert [str(problem) for problem in books.problems] == [
        "web.csv, row 4: rows 1 to 2 look like sales and stand above the headings: not read. "
        "Move the headings to the top, then run again."
    ]
    books = read("\n".join(["A shop,,,,", line.format(3), head, line.format(5)]))
    assert "row 2 looks like sales and stands above the headings: not read." in str(books.problems[0])


def test_a_damaged_spreadsheet_is_told_without_the_words_of_a_program():
    whole = sheet(["Date", "Item", "Qty", "Price"])
    for content in (whole[:300], b"PK\x03\x04" + b"x" * 99):
        assert str(read(content, "w.xlsx").problems[0]) == (
            "w.xlsx: is not a spreadsheet that can be opened: it is damaged. "
            "Export it again as .csv or .xlsx, or open it in a spreadsheet and save it as one of these."
        )


def test_pieces_of_any_size_give_the_same_text(monkeypatch):
    content = "Date;Thé\r\n\r1;é\0\n".encode("utf-16")
    for size in (1, 2, 3, 5, 100):
        monkeypatch.setattr(text, "PIECE", size)
        assert b"".join(text.pieces(file(content), "utf-16")).decode() == "Date;Thé\n\n1;é\n\n"


def sheet(*rows, merge=None):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    if merge:
        book.active.merge_cells(merge)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def test_a_formula_without_a_saved_value_is_never_a_number():
    books = read(
        sheet(["Date", "Item", "Qty", "Price"], ["2025-11-03", "Fig", "=1+1", 14.5], ["2025-11-04", "Oud", 1, 9]),
        "w.xlsx",
    )
    assert sold(books) == [("Oud", 1, 3)]
    assert aside(books) == [(2, "'=1+1' is not a number of bottles.")]


def test_a_day_or_a_word_in_merged_cells_stands_for_each_of_their_rows_and_a_number_only_once():
    rows = (["Date", "Item", "Qty", "Price"], ["2025-11-03", "Fig", 1, 14.5], [None, "Oud", 2, 14.5])
    books = read(sheet(*rows, merge="A2:A3"), "w.xlsx")
    assert sold(books) == [("Fig", 1, 2), ("Oud", 2, 3)]
    assert "has cells merged over several rows (A2:A3): a day or a word" in str(books.problems[0])
    rows = (["Date", "Item", "Qty", "Price"], ["2025-11-03", "Fig", 6, 14.5], ["2025-11-04", "Oud", None, 14.5])
    books = read(sheet(*rows, merge="C2:C3"), "w.xlsx")
    assert sold(books) == [("Fig", 6, 2)]
    assert aside(books) == [(3, "It has no number of bottles.")]


def test_merged_cells_of_a_very_large_sheet_are_told_only(monkeypatch):
    monkeypatch.setattr("planner.sales.spreadsheet.MOST_FILLED", 10)
    rows = (["Date", "Item", "Qty", "Price"], ["2025-11-03", "Fig", 1, 14.5], [None, "Oud", 2, 14.5])
    books = read(sheet(*rows, merge="A2:A3"), "w.xlsx")
    assert sold(books) == [("Fig", 1, 2)]
    assert aside(books) == [(3, "It has no day.")]
    assert "only the first of these rows has their value" in str(books.problems[0])


def test_headings_merged_over_two_rows_are_one_heading():
    rows = (["Date", "Item", "Sold", None], [None, None, "Qty", "Price"], ["2025-11-03", "Fig", 6, 14.5])
    columns = {"day": "Date", "item": "Item", "bottles": "Sold Qty", "price": "Sold Price"}
    books = read(sheet(*rows, merge="A1:A2"), "w.xlsx", columns=columns)
    assert sold(books) == [("Fig", 6, 3)]


def test_a_spreadsheet_that_unpacks_to_no_end_is_not_opened(monkeypatch):
    monkeypatch.setattr("planner.sales.spreadsheet.MOST_UNPACKED", 1000)
    books = read(sheet(["Date", "Item", "Qty", "Price"]), "w.xlsx")
    assert "MB, more than any sheet of sales." in str(books.problems[0])


# names with a size at their end: only the size of the label folds

SIZED = pd.DataFrame(
    {"scent": ["Fig", "Fig Mini", "Oud"], "label_ml": [10, 5, None], "label_fl_oz": [None, None, 0.34]}
)
ENDINGS = [
    ("Fig 10 ml", "Fig"),
    ("fig (10ml)", "Fig"),
    ("Fig - 10,0 ML", "Fig"),
    ("Fig Mini, 5 ml", "Fig Mini"),
    ("Fig 5 ml", None),
    ("Fig Mini 10 ml", None),
    ("Fig 100 ml", None),
    ("Fig 10 oz", None),
    ("Oud 0.34 fl oz", "Oud"),
    ("Oud 0.34 fl. oz.", "Oud"),
    ("Oud 0.34oz", "Oud"),
    ("Oud 10 ml", None),  # 0.34 fl oz is 10.05 ml: not what the label says
    ("10 ml", None),
    ("The fig one 10 ml", "Fig"),
]


@pytest.mark.parametrize(("item", "scent"), ENDINGS)
def test_a_size_folds_only_when_it_is_the_label_quantity(item, scent):
    settings_ = Settings("s", "EUR", exports=(Export("*", "s", "w", COLUMNS),), names={"The fig one": "Fig"})
    content = f'{HEAD}2025-11-03,"{item}",1,14.5,\n'
    books = read_sales([file(content)], settings_, SIZED, empty(FILES["sets"]), pd.Timestamp("2026-01-31"))
    assert books.sales["scent"].tolist() == ([scent] if scent else [])


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_at_all_end_in_sentences(content):
    books = read(HEAD.encode() + content)
    account = books.accounts.iloc[0]
    assert account["lines_read"] == account["counted"] + account["set_aside"]
