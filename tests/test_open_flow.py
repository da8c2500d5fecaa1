"""The main job on real invoice lines, as a folder of its own: reading, demand, pace and forecast.

Source: Chen, D. (2015). Online Retail [Dataset]. UCI Machine Learning Repository. https://doi.org/10.24432/C5BW33,
CC BY 4.0; here the subset of 235 candle, scent, soap and incense stock codes and three non-product codes. The facts
are those of the data set's own README.
"""

import gzip

import pandas as pd
import pytest

from planner import flow
from planner.cli import main
from planner.files import load_folder

pytestmark = pytest.mark.open_data

SHOP = """
name = "A gift shop of 2011"
currency = "GBP"
country = "GB"
note = "Open data: Online Retail, Chen 2015, UCI Machine Learning Repository, CC BY 4.0."
not_products = ["POST", "M", "D"]
[[export]]
files = "*.csv"
source = "web shop"
channel = "web"
columns = { day = "InvoiceDate", item = "StockCode", bottles = "Quantity", price = "UnitPrice", order = "InvoiceNo" }
refund_orders = "C"
"""


@pytest.fixture(scope="module")
def folder(open_data, tmp_path_factory):
    path = tmp_path_factory.mktemp("gift shop")
    raw = gzip.decompress((open_data / "online_retail_scented_subset.csv.gz").read_bytes())
    (path / "sales").mkdir()
    (path / "sales" / "invoices.csv").write_bytes(raw)
    (path / "shop.toml").write_text(SHOP, encoding="utf-8")
    codes = pd.read_csv(path / "sales" / "invoices.csv", usecols=["StockCode"], dtype="str")["StockCode"].str.upper()
    scents = pd.DataFrame({"scent": sorted(set(codes) - {"POST", "M", "D"})})
    scents.to_csv(path / "scents.csv", index=False)
    return path


@pytest.fixture(scope="module")
def shop(folder):
    return load_folder(folder, "2011-12-10")


@pytest.fixture(scope="module")
def past(shop):
    return flow.read_past(shop)


def test_every_line_has_a_place_and_totals_are_those_of_the_data_set(past):
    accounts = past.books.accounts.iloc[0]
    assert accounts["lines_read"] == 17_685
    assert accounts["lines_read"] == accounts["counted"] + accounts["merged"] + accounts["set_aside"]
    assert past.books.set_aside["reason"].ne("").all()
    sales = past.books.sales
    gross = sales.loc[sales["kind"] == "sale", "bottles"].sum()
    back = sales.loc[sales["kind"] == "refund", "bottles"].sum()
    assert gross == 150_309
    assert gross + back == 147_070
    assert (sales["kind"] == "refund").sum() == 243


def test_demand_holds_every_bottle_that_was_not_refunded(past):
    # refunds of sales before the data begins find no sale to take back; they are refunds in sales, and not in demand
    net = 147_070
    demand = past.demand["bottles"].sum()
    assert net <= demand <= 150_309
    refunds = past.books.sales.query("kind == 'refund'").groupby("scent")["bottles"].sum()
    sold = past.books.sales.query("kind == 'sale'").groupby("scent")["bottles"].sum()
    kept = past.demand.groupby("scent")["bottles"].sum()
    assert (kept.reindex(sold.index) >= (sold + refunds.reindex(sold.index, fill_value=0))).all()
    assert demand - net < 0.01 * net


def test_the_item_with_most_units_is_among_the_fastest(shop, past):
    pace = flow.rank_scents(shop, past, flow.cost_oils(shop))
    assert "22969" in set(pace["scent"].head(10))  # 12,532 units, the most of all
    assert pace["chance_fastest"].sum() == pytest.approx(1.0)


def test_the_season_is_foreseen_with_ranges_that_are_neither_nothing_nor_everything(shop, past):
    ahead = flow.foresee(shop, past, count=200)
    total = ahead.forecast[ahead.forecast["week"].isna()].set_index("scent").loc["all scents"]
    lately = past.demand[past.demand["week"] >= "2011-09-12"].groupby("week")["bottles"].sum().mean()
    weeks = (ahead.last_day - ahead.first_day).days / 7
    assert 0.1 * lately * weeks < total["p50"] < 3 * lately * weeks
    assert total["p10"] < total["p50"] < total["p90"]
    assert ahead.forecast["p05"].ge(0).all()


def test_the_pages_are_made_from_this_folder_too(folder, capsys):
    assert (
        main(["run", str(folder), "1-sales-check", "2-fastest-scents", "3-season-demand", "--today", "2011-12-10"]) == 0
    )
    results = folder / "results"
    for name in ("1-sales-check", "2-fastest-scents", "3-season-demand"):
        assert "CC BY 4.0" in (results / f"{name}.html").read_text(encoding="utf-8")
    assert pd.read_csv(results / "sales.csv", dtype={"scent": "str"}, low_memory=False)["bottles"].gt(0).any()
    assert "index.html" in capsys.readouterr().out
