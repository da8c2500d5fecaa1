"""A table written in 60 dialects reads back as it was, or is refused with the right question; there is no third way."""

import csv
import io
import random
from collections.abc import Iterator
from itertools import combinations, product

import pandas as pd
import pytest

from planner.sales import read_sales
from planner.sales.evidence import date_evidence, decimal_evidence
from planner.settings import Export, Settings, read_settings
from planner.tables import FILES, SalesFile, empty

TODAY = pd.Timestamp("2026-01-31")
SCENTS = pd.DataFrame({"scent": ["Thé vert", "Rosenöl", "Fig", "Oud; old"]})
COLUMNS = {"day": "Día", "item": "Item", "bottles": "Qty", "price": "Price", "order": "Order"}

DIALECT = {
    "encoding": ["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "cp1252", "mac_roman"],
    "delimiter": [",", ";", "\t", "|"],
    "end": ["\n", "\r\n", "\r"],
    "decimal": [".", ",", ". '", ", ."],  # the sign, and what sets thousands apart
    "days": ["%Y-%m-%d", "%Y-%m-%dT%H:%M:%SZ", "%d/%m/%Y", "%m/%d/%Y %H:%M", "%d.%m.%y", "%d %b %Y"],
    "days tell": [True, False],  # False: no day is after the twelfth
    "prices tell": [True, False],  # False: no price has cents
    "preamble": ["", "title", "blank rows", "address"],
    "totals": ["", "label", "sums"],
}
PREAMBLE = {
    "": [],
    "title": [["All sales of 2025"]],
    "blank rows": [[], ["", "", ""], []],
    "address": [["A made-up shop"], ["Quay 4", "Anywhere"], [], ["Printed on", "2026-01-02"]],
}


def dialects(count: int) -> list[dict]:
    draw = random.Random(3)
    return [{name: values[draw.randrange(len(values))] for name, values in DIALECT.items()} for _ in range(count)]


SIXTY = dialects(60)


def clean(dialect: dict) -> list[tuple]:
    """Lines of the table: day, item, bottles, price, order."""
    draw = random.Random(5)
    days = [pd.Timestamp(2025, m, d) for m in (3, 11, 12) for d in ((5, 9, 28) if dialect["days tell"] else (5, 9, 12))]
    prices = [14.5, 1234.5, 0.0, 2000.25] if dialect["prices tell"] else [14, 1234, 0, 2000]
    lines = []
    for number, day in enumerate(sorted(draw.choices(days, k=20) + days[:3])):
        bottles = draw.choice([1, 2, 12, -1])
        lines.append((day, draw.choice(SCENTS["scent"].tolist()), bottles, draw.choice(prices), f"{1000 + number}"))
    return lines


def money(value: float, dialect: dict) -> str:
    sign, group = dialect["decimal"][0], dialect["decimal"][2:]
    text = f"{value:,.2f}" if dialect["prices tell"] else f"{value:,.0f}"
    return text.replace(",", "#").replace(".", sign).replace("#", group)


def totals(lines: list[tuple], dialect: dict) -> Iterator[list[str]]:
    bottles, amount = sum(line[2] for line in lines), sum(line[2] * line[3] for line in lines)
    if dialect["totals"] == "label":
        yield ["Grand total", "", str(bottles), money(amount, dialect), ""]
    if dialect["totals"] == "sums":
        yield ["", "", str(bottles), money(amount, dialect), ""]


def written(lines: list[tuple], dialect: dict) -> bytes:
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=dialect["delimiter"], lineterminator=dialect["end"])
    writer.writerows([*PREAMBLE[dialect["preamble"]], ["Día", "Item", "Qty", "Price", "Order", "E-mail"]])
    half = len(lines) // 2
    for part in (lines[:half], lines[half:]):
        for day, item, bottles, price, order in part:
            writer.writerow(
                [day.strftime(dialect["days"]), item, bottles, money(price, dialect), order, f"x{order}@example.org"]
            )
        if dialect["totals"] == "sums":
            writer.writerows(totals(part, dialect))
    writer.writerows(totals(lines, dialect))
    return stream.getvalue().encode(dialect["encoding"])


def questions(dialect: dict) -> list[str]:
    """Return what must be asked: by hand, from the rules of writing alone."""
    asked = []
    if not dialect["days tell"] and dialect["days"] in ("%d/%m/%Y", "%m/%d/%Y %H:%M"):
        asked.append('date_order = "day-first" or date_order = "month-first"')
    if dialect["days"] == "%d.%m.%y" and not dialect["days tell"]:
        asked.append('date_order = "year-first" or date_order = "day-first" or date_order = "month-first"')
    if not dialect["prices tell"] and dialect["decimal"] in (", .",):
        asked.append('decimal = "." or decimal = ","')  # 1.234 may be 1234
    return asked


def read(content: bytes, **stated: str):
    export = Export("*", "shop", "web", COLUMNS, **stated)
    settings = Settings("s", "EUR", exports=(export,))
    file = SalesFile("web.csv", lambda: io.BytesIO(content))
    return read_sales([file], settings, SCENTS, empty(FILES["sets"]), TODAY)


def expect(lines: list[tuple], books) -> None:
    found = books.sales[["day", "scent", "bottles", "unit_price", "order"]]
    expected = pd.DataFrame(lines, columns=list(found.columns))
    assert found.to_numpy().tolist() == expected.to_numpy().tolist()
    assert set(books.set_aside["reason"]) <= {"It is a total, not a sale."}
    assert books.accounts.loc[0, "lines_read"] == len(lines) + len(books.set_aside)


@pytest.mark.parametrize("dialect", SIXTY, ids=lambda dialect: " ".join(map(repr, dialect.values())))
def test_a_dialect_reads_back_identical_or_is_asked_about(dialect):
    lines = clean(dialect)
    content = written(lines, dialect)
    books, asked = read(content), questions(dialect)
    told = [problem.todo for problem in books.problems if problem.stops]
    assert len(told) == len(asked)
    for todo, question in zip(told, asked, strict=True):
        assert question in todo
    if asked:
        assert len(books.sales) == 0
    else:
        expect(lines, books)


@pytest.mark.parametrize("dialect", [one for one in SIXTY if questions(one)], ids=str)
def test_what_is_asked_about_reads_back_once_it_is_stated(dialect):
    order = {"%Y": "year-first", "%d": "day-first", "%m": "month-first"}[dialect["days"][:2]]
    lines = clean(dialect)
    expect(lines, read(written(lines, dialect), date_order=order, decimal=dialect["decimal"][0]))


def test_every_value_of_the_dialects_meets_nearly_every_other():
    names = list(DIALECT)
    pairs = [(a, x, b, y) for a, b in combinations(names, 2) for x, y in product(DIALECT[a], DIALECT[b])]
    met = [any(one[a] == x and one[b] == y for one in SIXTY) for a, x, b, y in pairs]
    assert sum(met) / len(met) > 0.9
    assert sum(bool(questions(one)) for one in SIXTY) >= 10


# what the cells of a file say, by hand: days, the order they show (blank: asked), the sentence
DAYS = [
    (["2024-11-03", "2024-11-28"], "year-first"),
    (["03/11/2024", "28/11/2024"], "day-first"),
    (["11/28/2024", "11/03/2024"], "month-first"),
    (["03/11/2025", "28/11/2025"], ""),  # the future against the calendar
    (["03/11/2025"], "month-first"),  # as day-first it would be after today, 2025-06-30: sales are never in the future
    (["03/05/2025", "05/03/2025"], ""),
    (["03/03/2025"], "day-first"),  # the same day either way
    (["28/05/2025", "05/28/2025"], ""),
    (["3 Nov 2024", "2024-11-03"], "year-first"),
    (["3-Nov-24"], "day-first"),
    (["", "soon"], "year-first"),
]


@pytest.mark.parametrize(("texts", "order"), DAYS)
def test_what_days_say_about_their_order(texts, order):
    column = pd.Series(texts, dtype="str").astype("category")
    assert date_evidence(column, pd.Timestamp("2025-06-30")).choice == order


NUMBERS = [
    (["14.50", "3"], "."),
    (["14,50", "3"], ","),
    (["1,500", "3"], ""),
    (["1.500", "3"], ""),
    (["1,500", "2.75"], "."),
    (["1,500", "2,75"], ","),
    (["2.75", "2,75"], ""),
    (["3", "4", "free"], "."),
]


@pytest.mark.parametrize(("texts", "sign"), NUMBERS)
def test_what_numbers_say_about_their_decimal_sign(texts, sign):
    lines = pd.DataFrame({"price": texts, "bottles": "", "amount": ""}, dtype="str").astype("category")
    assert decimal_evidence(lines).choice == sign


def test_the_question_counts_the_evidence():
    text = "Día,Item,Qty,Price,Order\n03/11/2025,Fig,1,9,1\n25/11/2025,Fig,1,9,1\n11/25/2025,Fig,1,9,1\n"
    assert [str(problem) for problem in read(text.encode()).problems] == [
        "web.csv, Día: 1 day can only be day-first, 1 only month-first, 1 can be both. "
        'Say which under its [[export]] in shop.toml: date_order = "day-first" or date_order = "month-first".'
    ]


def test_a_file_nobody_knows_is_proposed_with_its_evidence():
    text = "Date;Item;Qty;Price\n03/11/2025;Fig;1;9,50\n25/11/2025;Fig;1;9,50\n"
    file = SalesFile("till 2025.csv", lambda: io.BytesIO(text.encode()))
    (problem,) = read_sales([file], Settings("s", "EUR"), SCENTS, empty(FILES["sets"]), TODAY).problems
    assert problem.what == (
        "no [[export]] in shop.toml says how to read it. It has 2 lines; 1 day can only be day-first, 0 only "
        "month-first, 1 can be both; 0 numbers can only be with a decimal dot, 2 only with a decimal comma."
    )
    pasted = read_settings('name = "s"\ncurrency = "EUR"\n' + problem.todo.split("\n", 1)[1])
    books = read_sales([file], pasted, SCENTS, empty(FILES["sets"]), TODAY)
    assert books.sales["unit_price"].tolist() == [9.5, 9.5]
    assert [problem for problem in books.problems if problem.stops] == []


@pytest.mark.parametrize(
    "headings", ["Datum;Artikel;Menge;Preis", "Fecha;Producto;Cantidad;Precio", "Order date;Item_name;QTY;Unit price"]
)
def test_headings_are_proposed_in_several_languages(headings):
    file = SalesFile("till.csv", lambda: io.BytesIO((headings + "\n2025-11-03;Fig;1;9.50\n").encode()))
    (problem,) = read_sales([file], Settings("s", "EUR"), SCENTS, empty(FILES["sets"]), TODAY).problems
    day, item, bottles, price = headings.split(";")
    assert f'{{ day = "{day}", item = "{item}", bottles = "{bottles}", price = "{price}" }}' in problem.todo


@pytest.mark.parametrize(
    ("text", "export", "written", "days", "numbers"),
    [
        (
            "Till\n\nDate;Item;Qty;Price\n13/11/2025;Fig;1;9,50\n03/11/2025;Fig;1;9,00\n",
            {},
            "UTF-8 text cut at each semicolon, headings in row 3",
            "day-first: 1 day can only be day-first, 0 only month-first, 1 can be both",
            "decimal comma: 0 numbers can only be with a decimal dot, 2 only with a decimal comma",
        ),
        (
            "Date,Item,Qty,Price\n2025-11-13,Fig,1,9.50\n",
            {"decimal": "."},
            "UTF-8 text cut at each comma, headings in row 1",
            "year-first, as all that can be read begin with their year",
            "decimal dot, as shop.toml says",
        ),
    ],
)
def test_how_each_file_was_read_is_said_with_the_evidence(text, export, written, days, numbers):
    columns = {"day": "Date", "item": "Item", "bottles": "Qty", "price": "Price"}
    settings = Settings("s", "EUR", exports=(Export("*", "till", "market", columns, **export),))
    file = SalesFile("till.csv", lambda: io.BytesIO(text.encode()))
    books = read_sales([file], settings, SCENTS, empty(FILES["sets"]), pd.Timestamp("2026-01-31"))
    (reading,) = books.readings.itertuples(index=False, name=None)
    assert reading == (
        "till.csv",
        "market",
        written,
        "day: Date; item: Item; bottles: Qty; price: Price",
        days,
        numbers,
    )


def test_of_a_file_that_was_not_read_nothing_is_said():
    file = SalesFile("till.csv", lambda: io.BytesIO(b""))
    books = read_sales([file], Settings("s", "EUR"), SCENTS, empty(FILES["sets"]), pd.Timestamp("2026-01-31"))
    assert books.readings.to_numpy().tolist() == [["till.csv", "", "", "", "", ""]]
