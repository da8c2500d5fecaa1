"""The reading of real invoice lines, held against the facts that the data set's own README states.

Source: Chen, D. (2015). Online Retail [Dataset]. UCI Machine Learning Repository. https://doi.org/10.24432/C5BW33,
CC BY 4.0; here the subset of 235 candle, scent, soap and incense stock codes and three non-product codes.
"""

import gzip
import io

import pandas as pd
import pytest

from planner.sales import read_sales
from planner.settings import Export, Settings
from planner.tables import FILES, SalesFile, empty

pytestmark = pytest.mark.open_data

NOT_PRODUCTS = ("POST", "M", "D")
COLUMNS = {"day": "InvoiceDate", "item": "StockCode", "bottles": "Quantity", "price": "UnitPrice", "order": "InvoiceNo"}
EXPORT = Export("*.csv", "web shop", "web", COLUMNS, refund_orders="C")
SETTINGS = Settings("a giftware shop", "GBP", exports=(EXPORT,), not_products=NOT_PRODUCTS)


@pytest.fixture(scope="module")
def raw(open_data):
    return gzip.decompress((open_data / "online_retail_scented_subset.csv.gz").read_bytes())


@pytest.fixture(scope="module")
def scents(open_data):
    codes = pd.read_csv(open_data / "online_retail_scented_subset.csv.gz", usecols=["StockCode"], dtype="str")
    return pd.DataFrame({"scent": sorted(set(codes["StockCode"].str.upper()) - set(NOT_PRODUCTS))})


def _file(name, content):
    return SalesFile(name, lambda: io.BytesIO(content))


def _read(files, scents):
    return read_sales(files, SETTINGS, scents, empty(FILES["sets"]), pd.Timestamp("2012-01-01"))


@pytest.fixture(scope="module")
def books(raw, scents):
    return _read([_file("invoices.csv", raw)], scents)


def _units_and_money(sales, *kinds):
    lines = sales[sales["kind"].isin(kinds)]
    return int(lines["bottles"].sum()), round(float((lines["bottles"] * lines["unit_price"]).sum()), 2)


def test_every_line_is_counted_or_set_aside(books):
    account = books.accounts.iloc[0]
    assert account["lines_read"] == 17_685
    assert account["counted"] + account["merged"] + account["set_aside"] == 17_685
    assert account["set_aside"] == 1_904  # POST 1,256, M 571, D 77
    assert books.set_aside["scent"].str.upper().value_counts().to_dict() == {"POST": 1_256, "M": 571, "D": 77}
    assert account["first_day"] == pd.Timestamp("2010-12-01")
    assert account["last_day"] == pd.Timestamp("2011-12-09")
    assert books.problems == []


def test_gross_and_net_sales_to_the_unit_and_the_penny(books):
    assert _units_and_money(books.sales, "sale") == (150_309, 211_455.75)
    assert _units_and_money(books.sales, "sale", "refund") == (147_070, 206_362.77)


def test_kinds_of_line(books):
    kinds = books.sales["kind"].value_counts()
    assert kinds["refund"] == 243
    assert kinds["write-off"] == 130
    assert (books.sales.loc[books.sales["kind"] == "refund", "bottles"] < 0).all()


def test_gross_units_by_month(books):
    sold = books.sales[books.sales["kind"] == "sale"]
    by_month = sold.groupby(sold["day"].dt.to_period("M"))["bottles"].sum()
    assert by_month.tolist() == [
        *(17_153, 11_942, 10_415, 10_109, 8_875, 9_218, 10_537),
        *(7_878, 8_342, 13_151, 18_436, 19_038, 5_215),
    ]


def test_top_items(books):
    sold = books.sales[books.sales["kind"] == "sale"].groupby("scent")["bottles"].sum().nlargest(5)
    assert sold.to_dict() == {"22969": 12_532, "21121": 6_634, "72741": 5_978, "85175": 5_353, "21122": 5_331}


def _codes(lines):
    return [line.split(",")[1] for line in lines]


def test_codes_that_differ_by_case_only_are_one_scent(books, raw):
    codes = set(_codes(raw.decode().splitlines()[1:])) - set(NOT_PRODUCTS)
    assert len(codes) == 235
    assert books.sales["scent"].nunique() == len({code.upper() for code in codes}) < 235


def test_exact_repeats_inside_the_file_are_kept(books):
    # 181 of the 17,685 lines repeat another in everything; all products among them are counted
    assert books.accounts.loc[0, "counted"] == len(books.sales) == 17_685 - 1_904


def test_two_exports_that_overlap_give_the_same_sales(books, raw, scents):
    lines = raw.decode().splitlines(keepends=True)
    early, late = lines[:12_001], lines[:1] + lines[6_001:]
    both = _read([_file("early.csv", "".join(early).encode()), _file("late.csv", "".join(late).encode())], scents)
    columns = ["day", "scent", "bottles", "unit_price", "channel", "order", "kind"]
    expected = books.sales[columns].sort_values(columns).reset_index(drop=True)
    pd.testing.assert_frame_equal(both.sales[columns].sort_values(columns).reset_index(drop=True), expected)
    assert both.accounts["lines_read"].tolist() == [12_000, 11_685]
    in_both = [code for code in _codes(lines[6_001:12_001]) if code not in NOT_PRODUCTS]
    assert both.accounts["merged"].tolist() == [0, len(in_both)]
