"""The season forecast on a real shop's sales, made on past days: a guard of its quality."""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from planner.season import check_on_past, draw_paths, fit_season
from planner.season.scores import crps
from planner.settings import Season, Settings

DAY = pd.Timedelta(days=1)
SHOP = Settings("Open data", "GBP", country="GB")


@pytest.fixture(scope="module")
def lines(open_data):
    """Sales lines of products, as the data set's own page counts them (150,309 units)."""
    table = pd.read_csv(
        open_data / "online_retail_scented_subset.csv.gz", dtype={"InvoiceNo": "str", "StockCode": "str"}
    )
    product = ~table["StockCode"].isin(["POST", "M", "D"]) & ~table["InvoiceNo"].str.startswith("C")
    table = table[product & (table["Quantity"] > 0) & (table["UnitPrice"] > 0)]
    assert table["Quantity"].sum() == 150_309
    day = pd.to_datetime(table["InvoiceDate"]).dt.normalize()
    week = day - pd.to_timedelta(day.dt.day_of_week, unit="D")
    return table.assign(scent=table["StockCode"].str.upper(), week=week, one=1)


def by_week(lines, column):
    """Return the sum of a column by code and week."""
    weeks = pd.date_range("2010-11-29", "2011-12-05", freq="7D", name="week")
    return lines.groupby(["scent", "week"])[column].sum().unstack(fill_value=0).reindex(columns=weeks, fill_value=0)


@pytest.fixture(scope="module")
def weekly(lines):
    """Units by code and week."""
    return by_week(lines, "Quantity")


@pytest.fixture(scope="module")
def calendar():
    """Return the two weeks at the turn of the year in which nothing was invoiced."""
    closed = {"first_day": [pd.Timestamp("2010-12-24")], "last_day": [pd.Timestamp("2011-01-03")]}
    return pd.DataFrame({**closed, "what": ["no invoices"], "kind": ["closed"], "channel": [None]})


def demand_before(weekly, origin):
    """Return the demand table of the weeks before the origin, each code from its first sale on."""
    past = weekly.loc[:, : origin - pd.Timedelta(days=1)]
    rows = past[past.any(axis=1)].stack().rename("bottles").reset_index()
    first = rows[rows["bottles"] > 0].groupby("scent")["week"].min()
    rows = rows[rows["week"] >= rows["scent"].map(first)]
    return rows.assign(channel="all", shelf_days=7.0, usual_price=1.0).astype({"bottles": "Int64", "scent": "str"})


def scents_of(demand):
    names = demand["scent"].drop_duplicates().reset_index(drop=True)
    table = pd.DataFrame({"scent": names, "like": None, "guess_low": np.nan, "guess_high": np.nan})
    return table.assign(first_sold=pd.NaT, last_sold=pd.NaT).astype(
        {"first_sold": "datetime64[us]", "last_sold": "datetime64[us]"}
    )


def foreseen(sold, calendar, origin, weeks):
    """Return drawn totals, what happened and the pace of the eight weeks before, for `weeks` weeks from the origin."""
    origin = pd.Timestamp(origin)
    end, before = origin + pd.Timedelta(weeks=weeks) - DAY, origin - DAY
    demand = demand_before(sold, origin)
    model = fit_season(demand, scents_of(demand), calendar, SHOP, origin)
    totals = draw_paths(model, origin, end, 500, np.random.default_rng(0)).bottles.sum(axis=2)
    own = sold.loc[list(model.scents)]
    pace = own.loc[:, origin - pd.Timedelta(weeks=8) : before].mean(axis=1).to_numpy() * weeks
    return totals, own.loc[:, origin:end].sum(axis=1).to_numpy(), pace


# A guard: the most is what was measured when this was written (.488 .412 .453 of the units sold) and a tenth. The
# pace of the last eight weeks gives .70 .73 .76. Ranges of 80 % held .66 .82 .79, .84 .91 .84 lay below the 90 % mark.
@pytest.mark.open_data
@pytest.mark.parametrize(
    ("origin", "weeks", "most"), [("2011-09-12", 12, 0.54), ("2011-06-20", 8, 0.455), ("2011-03-28", 8, 0.50)]
)
def test_better_than_the_pace_of_the_last_eight_weeks(weekly, calendar, origin, weeks, most):
    totals, happened, pace = foreseen(weekly, calendar, origin, weeks)
    ours = crps(totals, happened).sum() / happened.sum()
    assert len(happened) > 190
    assert ours < 0.75 * np.abs(pace - happened).sum() / happened.sum()
    assert ours < most
    low, high = np.quantile(totals, [0.1, 0.9], axis=0)
    assert ((happened >= low) & (happened <= high)).mean() > 0.6
    assert (happened <= high).mean() > 0.78
    assert totals.mean(axis=0).sum() == pytest.approx(happened.sum(), rel=0.15)


# Four shops of 24 codes that sold 1 to 12 lines a week in the half year before, drawn from what was known then.
# Measured: .292 .294 .358 of the lines sold (most: a tenth more), the pace of the last eight weeks .41 .44 .42.
@pytest.mark.open_data
@pytest.mark.parametrize(
    ("origin", "weeks", "most"), [("2011-09-12", 12, 0.32), ("2011-06-20", 8, 0.325), ("2011-03-28", 8, 0.395)]
)
def test_small_shops_counted_in_order_lines(lines, calendar, origin, weeks, most):
    sold = by_week(lines, "one")
    rate = sold.loc[:, : pd.Timestamp(origin) - DAY].iloc[:, -26:].mean(axis=1)
    some = sold[(rate >= 1) & (rate <= 12)]
    scores = []
    for shop in range(4):
        own = some.iloc[np.random.default_rng(shop).permutation(len(some))[:24]]
        totals, happened, pace = foreseen(own, calendar, origin, weeks)
        scores.append(np.array([crps(totals, happened).sum(), np.abs(pace - happened).sum()]) / happened.sum())
    ours, naive = np.mean(scores, axis=0)
    assert ours < most
    assert ours < 0.9 * naive


@pytest.mark.open_data
def test_the_check_on_the_past_of_a_shop_with_one_season(weekly, calendar):
    demand = demand_before(weekly, pd.Timestamp("2011-12-05"))
    usual = check_on_past(demand, scents_of(demand), calendar, SHOP, np.random.default_rng(0), count=200)
    assert usual.scores.empty  # its season ends on 18 December, after the data
    assert "cannot be checked" in usual.sentence
    autumn = replace(SHOP, season=Season(date(2011, 10, 10), date(2011, 11, 27)))
    past = check_on_past(demand, scents_of(demand), calendar, autumn, np.random.default_rng(0), count=200)
    methods = past.summary.set_index("method")
    assert list(methods.index) == ["our model", "pace of the last 8 weeks"]  # no last year to look at
    assert methods.loc["our model", "pinball"] < methods.loc["pace of the last 8 weeks", "pinball"]
    assert past.sentence.startswith("In the last season the 80 % range held")
