"""The ranking on a real shop's sales: its counts, cancellations, and a last month that is cut off.

Source of the data and of the figures: see test_open_flow.py; the figures are those of the data set's own README.
"""

import gzip

import numpy as np
import pandas as pd
import pytest
from test_open_flow import SHOP as FOLDER

from planner import flow
from planner.files import load_folder
from planner.pace import scent_pace
from planner.settings import Settings

SHOP = Settings("Open data", "GBP", country="GB")
LAST_DAY = pd.Timestamp("2011-12-09")
pytestmark = pytest.mark.open_data


@pytest.fixture(scope="module")
def lines(open_data):
    """Return lines of products with a price; a cancellation takes back, by its negative quantity."""
    table = pd.read_csv(
        open_data / "online_retail_scented_subset.csv.gz", dtype={"InvoiceNo": "str", "StockCode": "str"}
    )
    table["scent"] = table["StockCode"].str.upper()
    table["day"] = pd.to_datetime(table["InvoiceDate"]).dt.normalize()
    table["cancelled"] = table["InvoiceNo"].str.startswith("C")
    table = table[~table["scent"].isin(["POST", "M", "D"]) & (table["UnitPrice"] > 0)]
    return table[table["cancelled"] | (table["Quantity"] > 0)]


@pytest.fixture(scope="module")
def past(open_data, tmp_path_factory):
    """Return what the planner reads of the same lines, from a folder."""
    path = tmp_path_factory.mktemp("gift shop for pace")
    (path / "sales").mkdir()
    raw = gzip.decompress((open_data / "online_retail_scented_subset.csv.gz").read_bytes())
    (path / "sales" / "invoices.csv").write_bytes(raw)
    (path / "shop.toml").write_text(FOLDER, encoding="utf-8")
    codes = pd.read_csv(path / "sales" / "invoices.csv", usecols=["StockCode"], dtype="str")["StockCode"].str.upper()
    pd.DataFrame({"scent": sorted(set(codes) - {"POST", "M", "D"})}).to_csv(path / "scents.csv", index=False)
    return flow.read_past(load_folder(path, "2011-12-10"))


def demand_of(lines, last_day=LAST_DAY):
    """Return table demand net of cancellations, each code on the shelf from its first sale."""
    lines = lines[lines["day"] <= last_day]
    week = lines["day"] - pd.to_timedelta(lines["day"].dt.day_of_week, unit="D")
    net = lines["Quantity"].groupby([lines["scent"], week.rename("week")]).sum()
    weeks = pd.date_range("2010-11-29", last_day, freq="7D", name="week")
    rows = net.unstack(fill_value=0).reindex(columns=weeks, fill_value=0).stack().rename("bottles").reset_index()
    first = week.groupby(lines["scent"]).min()
    rows = rows[rows["week"] >= rows["scent"].map(first)]
    days = np.minimum((last_day - rows["week"]).dt.days + 1, 7)
    return rows.assign(channel="all", shelf_days=days.astype(float), bottles=rows["bottles"].clip(lower=0))


def pace_of(demand, weeks=26):
    scents = sorted(demand["scent"].unique())
    costs = pd.DataFrame({"scent": pd.Series(scents, dtype="str"), "contribution_per_bottle": 1.0})
    return scent_pace(demand, costs, SHOP, np.random.default_rng(1), weeks=weeks).set_index("scent")


def test_gross_and_net_units_are_those_of_the_data_set(lines):
    assert lines.loc[~lines["cancelled"], "Quantity"].sum() == 150_309
    assert lines["cancelled"].sum() == 243
    assert lines["Quantity"].sum() == 147_070
    gross = lines[~lines["cancelled"]].groupby("scent")["Quantity"].sum()
    assert gross[["22969", "21121", "72741", "85175", "21122"]].tolist() == [12_532, 6_634, 5_978, 5_353, 5_331]


def test_the_ranking_of_the_whole_time_is_that_of_net_units(lines, past):
    costs = pd.DataFrame({"scent": past.demand["scent"].unique(), "contribution_per_bottle": 1.0})
    always = past.demand.assign(exposure=1.0)  # when shelves were empty is not in the data
    pace = scent_pace(always, costs, SHOP, np.random.default_rng(1), weeks=54).set_index("scent")
    net = lines.groupby("scent")["Quantity"].sum()
    # a cancellation of a sale before the data begin finds nothing to take back: less than one unit in a hundred
    over = pace["bottles"] - net.reindex(pace.index)
    assert 0 <= over.sum() + net.drop(pace.index).sum() * -1 < 1_470
    assert (over >= 0).all()
    assert (over == 0).mean() > 0.8
    assert pace["bottles"].idxmax() == net.idxmax() == "22969"
    assert pace["bottles"].nlargest(5).index.tolist() == net.nlargest(5).index.tolist()
    assert pace["share"]["22969"] == pytest.approx(net["22969"] / 147_070, rel=0.01)
    assert pace["chance_fastest"].sum() == pytest.approx(1.0)
    all_year = pace[pace["shelf_weeks"] >= 45]  # of these, more net units is a higher pace
    assert len(all_year) > 50
    assert all_year["pace"].corr(net.reindex(all_year.index), method="spearman") > 0.95


def test_the_last_month_that_is_cut_off_after_nine_days_is_not_read_as_a_decline(lines):
    by_month = lines[~lines["cancelled"]].groupby(lines["day"].dt.strftime("%Y-%m"))["Quantity"].sum()
    assert by_month[["2011-11", "2011-12"]].tolist() == [19_038, 5_215]  # by the calendar it fell by 73 %
    whole, until = pace_of(demand_of(lines)), pace_of(demand_of(lines, pd.Timestamp("2011-11-27")))
    both = whole.index.intersection(until.index)
    change = np.log(whole.loc[both, "pace"] / until.loc[both, "pace"])
    often = (until.loc[both, "bottles"] > 200).to_numpy(dtype=bool)
    assert often.sum() > 50
    assert change[often].median() == pytest.approx(0.0, abs=0.1)
    top = until.index[:10]
    assert len(set(top) & set(whole.index[:12])) >= 9
    assert whole["trend"].isna().all()  # with one year of sales there is no year before, and no decline is claimed
    assert whole["chance_fading"].isna().all()


def test_a_cut_off_week_counts_by_its_days(lines):
    # the same sales, the last week cut off on its Wednesday: paces stay where they were
    whole, cut = (
        pace_of(demand_of(lines, pd.Timestamp("2011-12-04"))),
        pace_of(demand_of(lines, pd.Timestamp("2011-11-30"))),
    )
    often = (whole["bottles"] > 200).to_numpy(dtype=bool)
    change = np.log(cut["pace"].reindex(whole.index[often]) / whole["pace"][often])
    assert change.median() == pytest.approx(0.0, abs=0.05)
