"""A shop that knows its sales by month only: from the sheet to weekly paths, the check on the past, and odd folders."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner import flow
from planner.by_month import assumed_by_month
from planner.files import load_folder
from planner.monthly import (
    Months,
    as_if_open,
    check_months,
    foresee_months,
    grain,
    month_assumptions,
    month_lines,
    month_totals,
    split_over_weeks,
    spread_sales,
)
from planner.settings import Channel, Export, Settings
from planner.tables import STEPS, check

SHEET = Export("sheet*.csv", "sheet", "web", {"item": "Item"}, months_across=True)
DAILY = Export("web*.csv", "web", "web", {"day": "Day", "item": "Item", "bottles": "Bottles"})
SHOP = Settings("By month", "EUR", exports=(SHEET, DAILY), channels=(Channel("web"), Channel("wholesale", "to order")))
SEASON = {1: 0.6, 2: 0.9, 3: 0.7, 4: 0.7, 5: 0.9, 6: 0.7, 7: 0.6, 8: 0.6, 9: 0.8, 10: 1.1, 11: 1.9, 12: 2.9}
LEVELS = {"Fig": 60, "Rose": 35, "Oud": 20, "Neroli": 3}
PROFILE = np.log([SEASON[month] for month in range(1, 13)])


def sales(rows, file="sheet.csv", channel="web", kind="sale"):
    """Return a table sales of rows (day, scent, bottles)."""
    table = pd.DataFrame(rows, columns=["day", "scent", "bottles"])
    table["day"] = pd.to_datetime(table["day"])
    table = table.assign(line=range(1, len(table) + 1), unit_price=18.0, channel=channel, order="", kind=kind)
    return check(table.assign(file=file, row=range(2, len(table) + 2)), STEPS["sales"])


def together(*tables):
    joined = pd.concat(tables, ignore_index=True)
    return joined.assign(line=range(1, len(joined) + 1))


def scents(**columns):
    """Return a table of scents with the columns a step needs."""
    table = pd.DataFrame({"scent": pd.Series(dtype="str")} | columns)
    for name in ("first_sold", "last_sold"):
        table[name] = pd.to_datetime(table[name]) if name in table else pd.Series(pd.NaT, table.index, "datetime64[us]")
    for name in ("guess_low", "guess_high"):
        table[name] = table.get(name, np.nan)
    return table


def even_days(first, last):
    day = pd.date_range(first, last, unit="us")
    return pd.DataFrame({"day": day, "weight": 1.0})


def history(years=3, levels=LEVELS, seed=3, last="2025-09-01"):
    """Return bottles by month of an invented shop with a big December: a row a scent."""
    rng = np.random.default_rng(seed)
    months = pd.date_range(end=last, periods=round(12 * years), freq="MS", unit="us")
    season = np.array([SEASON[month] for month in months.month])
    rate = np.array(list(levels.values()))[:, None] * season * np.exp(rng.normal(0, 0.15, (len(levels), len(months))))
    return Months(rng.poisson(rate).astype(float), tuple(levels), months)


# the grain


def test_an_export_with_months_across_is_by_month():
    table = sales([("2025-01-01", "Fig", 5), ("2025-02-01", "Fig", 9)])
    assert month_lines(table, SHOP).all()
    assert grain(table, SHOP) == "month"


def test_lines_of_single_days_are_by_week():
    table = sales([(f"2025-01-{day:02}", "Fig", 2) for day in range(1, 29)], file="web.csv")
    assert not month_lines(table, SHOP).any()
    assert grain(table, SHOP) == "week"


def test_sales_that_all_stand_on_first_days_are_by_month_unless_they_are_few():
    rows = [(f"2025-{month:02}-01", "Fig", 5) for month in range(1, 8)]
    assert grain(sales(rows, file="web.csv"), SHOP) == "month"
    assert grain(sales(rows[:2], file="web.csv"), SHOP) == "week"
    assert grain(sales([*rows, ("2025-08-02", "Fig", 1)], file="web.csv"), SHOP) == "week"


def test_a_tenth_of_the_bottles_known_by_month_decides_and_wholesale_does_not():
    daily = sales([(f"2025-01-{day:02}", "Fig", 10) for day in range(2, 12)], file="web.csv")
    assert grain(together(daily, sales([("2025-01-01", "Fig", 9)])), SHOP) == "week"
    assert grain(together(daily, sales([("2025-01-01", "Fig", 12)])), SHOP) == "month"
    assert grain(together(daily, sales([("2025-01-01", "Fig", 500)], channel="wholesale")), SHOP) == "week"
    assert grain(sales([]), SHOP) == "week"


# months and days


def test_month_totals_worked_by_hand():
    table = together(
        sales([("2025-01-01", "Fig", 5), ("2025-03-01", "Fig", 4), ("2025-02-01", "Oud", 7), ("2025-04-01", "Fig", 9)]),
        sales([("2025-03-09", "Fig", -6)], kind="refund"),
        sales([("2025-02-11", "Fig", 100)], channel="wholesale"),
    )
    names = scents(scent=["Fig", "New", "Oud"], last_sold=[None, None, "2025-02-28"])
    series = month_totals(table, names, SHOP, pd.Timestamp("2025-04-20"))  # April is not over
    assert series.names == ("Fig", "New", "Oud")
    assert series.months.strftime("%Y-%m").tolist() == ["2025-01", "2025-02", "2025-03"]
    # a month without a sale is zero, before the first and after the last day it is unknown, and nothing is below zero
    np.testing.assert_array_equal(series.values, [[5, 0, 0], [np.nan] * 3, [np.nan, 7, np.nan]])


def test_a_month_in_which_a_scent_was_first_sold_late_is_not_a_whole_one():
    table = sales([("2025-01-01", "Fig", 5), ("2025-03-01", "Oud", 4), ("2025-04-01", "Oud", 4)])
    names = scents(scent=["Fig", "Oud"], first_sold=[None, "2025-02-10"])
    series = month_totals(table, names, SHOP, pd.Timestamp("2025-05-01"))
    np.testing.assert_array_equal(series.values[1], [np.nan, np.nan, 4, 4])


def test_a_new_scent_sells_like_those_it_is_like():
    series = history(levels={"Fig": 90, "Rose": 30, "Oud": 10, "Neroli": 40})
    rows = [
        (day, name, n)
        for name, one in zip(series.names, series.values, strict=True)
        for day, n in zip(series.months, one, strict=True)
    ]
    table = scents(
        scent=["Fig", "Rose", "Oud", "Neroli", "New", "Other"], like=[None, None, None, None, "Fig; Oud; Fog", None]
    )
    found = month_totals(sales(rows), table, SHOP, pd.Timestamp("2025-10-06"))
    assert found.like == ((), (), (), (), (0, 2), ())
    paths = foresee_months(found, 3, 4000, np.random.default_rng(1), PROFILE).sum(axis=2)
    usual = found.values[:4].mean(axis=1)
    ratio = np.median(paths[:, 4]) / np.median(paths[:, 5])
    assert ratio == pytest.approx(np.sqrt(usual[0] * usual[2]) / np.median(usual[:4]), rel=0.15)


def test_one_giant_order_is_not_a_month_to_learn_from_and_one_december_is():
    months = pd.date_range("2024-07-01", periods=12, freq="MS")
    rows = [(month, name, 5 if month.month != 12 else 50) for month in months for name in ("Fig", "Oud", "Rose")]
    quiet = month_totals(sales(rows), scents(), SHOP, pd.Timestamp("2025-07-01"))
    assert not np.isnan(quiet.values).any()  # all sell ten times as much before Christmas
    rows = [(day, name, 900 if (name, day.month) == ("Oud", 3) else n) for day, name, n in rows]
    series = month_totals(sales(rows), scents(), SHOP, pd.Timestamp("2025-07-01"))
    assert np.argwhere(np.isnan(series.values)).tolist() == [[series.names.index("Oud"), 8]]


def test_a_month_is_spread_over_its_days_by_weight_to_the_unit():
    table = sales([("2025-02-01", "Fig", 57), ("2025-02-01", "Oud", 1), ("2025-03-01", "Fig", -2)])
    days = even_days("2025-02-01", "2025-03-31")
    days.loc[days["day"].dt.day_of_week == 6, "weight"] = 0.0  # closed on Sundays
    spread = spread_sales(table, pd.Series(True, index=table.index), days, pd.Timestamp("2025-06-01"))
    check(spread, STEPS["sales"])
    assert spread["line"].is_unique
    of_fig = spread[(spread["scent"] == "Fig") & (spread["day"] < "2025-03-01")]
    assert of_fig["bottles"].sum() == 57
    assert of_fig["bottles"].between(2, 3).all()  # 24 open days
    assert len(of_fig) == 24
    assert not (spread["day"].dt.day_of_week == 6).any()
    assert spread.loc[spread["scent"] == "Oud", "bottles"].tolist() == [1]
    assert spread.loc[spread["day"] >= "2025-03-01", "bottles"].sum() == -2


def test_a_month_that_is_not_over_ends_today_and_other_lines_stay():
    table = sales([("2025-02-01", "Fig", 30), ("2025-02-08", "Fig", 3)])
    only_first = pd.Series([True, False])
    days = even_days("2025-02-01", "2025-02-28")
    spread = spread_sales(table, only_first, days, pd.Timestamp("2025-02-10"))
    assert spread["day"].max() == pd.Timestamp("2025-02-10")
    assert spread["bottles"].sum() == 33
    assert spread_sales(table, pd.Series([False, False]), days, pd.Timestamp("2025-02-10")) is table


@given(st.integers(0, 400), st.integers(1, 28))
def test_no_bottle_is_lost_between_month_and_days(bottles, today):
    table = sales([("2025-02-01", "Fig", bottles)])
    days = even_days("2025-02-01", "2025-02-28")
    spread = spread_sales(table, pd.Series([True]), days, pd.Timestamp(2025, 2, today))
    assert spread["bottles"].sum() == bottles
    assert spread["day"].is_unique


# weeks


def test_months_are_split_over_weeks_by_the_days_of_the_window():
    series = Months(np.array([[30.0]]), ("Fig",), pd.date_range("2025-09-01", periods=1, freq="MS", unit="us"))
    paths = np.full((4000, 1, 2), 31.0)
    paths[:, :, 1] = 30.0  # one bottle a day in October and November
    window = (pd.Timestamp("2025-10-15"), pd.Timestamp("2025-11-04"))
    days = even_days("2025-10-01", "2025-11-30")
    weeks = split_over_weeks(paths, series, days, window, scents(scent=["Fig"]), np.random.default_rng(1))
    assert weeks.weeks.strftime("%m-%d").tolist() == ["10-13", "10-20", "10-27", "11-03"]
    assert weeks.bottles.dtype.kind == "i"
    # Wednesday to Sunday, two whole weeks, Monday and Tuesday
    assert weeks.of("Fig").mean(axis=0) == pytest.approx([5, 7, 7, 2], abs=0.15)


def test_all_bottles_of_months_wholly_in_the_window_are_kept():
    series = Months(np.array([[30.0]]), ("Fig",), pd.date_range("2025-09-01", periods=1, freq="MS", unit="us"))
    paths = np.random.default_rng(1).integers(0, 50, (200, 1, 2)).astype(float)
    window = (pd.Timestamp("2025-10-01"), pd.Timestamp("2025-11-30"))
    weeks = split_over_weeks(paths, series, even_days(*window), window, scents(scent=["Fig"]), np.random.default_rng(1))
    np.testing.assert_array_equal(weeks.of("Fig").sum(axis=1), paths.sum(axis=(1, 2)))


def test_a_scent_sells_only_between_its_first_and_last_day():
    series = Months(np.full((2, 1), 30.0), ("Fig", "Oud"), pd.date_range("2025-09-01", periods=1, freq="MS", unit="us"))
    said = scents(scent=["Fig", "Oud"], first_sold=["2025-10-20", None], last_sold=[None, "2025-10-05"])
    window = (pd.Timestamp("2025-10-01"), pd.Timestamp("2025-10-31"))
    weeks = split_over_weeks(
        np.full((3000, 2, 1), 31.0), series, even_days(*window), window, said, np.random.default_rng(1)
    )
    assert weeks.of("Fig")[:, :3].sum() == 0
    assert weeks.of("Fig").sum(axis=1).mean() == pytest.approx(12, abs=0.2)  # 20 to 31 October
    assert weeks.of("Oud")[:, 1:].sum() == 0
    assert weeks.of("Oud").sum(axis=1).mean() == pytest.approx(5, abs=0.2)


def test_a_scent_never_sold_follows_the_guess_and_one_sold_does_not():
    values = np.array([[np.nan], [30.0]])
    series = Months(values, ("New", "Fig"), pd.date_range("2025-09-01", periods=1, freq="MS", unit="us"))
    said = scents(scent=["New", "Fig"], guess_low=[20.0, 900.0], guess_high=[80.0, 999.0])
    window = (pd.Timestamp("2025-10-01"), pd.Timestamp("2025-11-30"))
    weeks = split_over_weeks(
        np.full((8000, 2, 2), 7.0), series, even_days(*window), window, said, np.random.default_rng(1)
    )
    total = weeks.of("New").sum(axis=1)
    assert np.quantile(total, [0.1, 0.5, 0.9]) == pytest.approx([20, 40, 80], rel=0.06)
    assert (weeks.of("Fig").sum(axis=1) == 14).all()


# the check on the past


def rows_of(table, scent, month):
    return table[(table["scent"] == scent) & (table["origin"] == pd.Timestamp(f"{month}-01"))]


def test_past_seasons_are_compared_with_what_happened():
    series = history(years=4)
    found = check_months(series, [10, 11, 12], 400, np.random.default_rng(1), PROFILE)
    assert found.ranges["origin"].dt.strftime("%Y-%m").unique().tolist() == ["2022-09", "2023-09", "2024-09"]
    row = rows_of(found.ranges, "Fig", "2024-09").iloc[0]
    inside = (series.months >= "2024-10-01") & (series.months <= "2024-12-01")
    assert row["bottles"] == series.values[0, inside].sum()
    naive = rows_of(found.scores, "Fig", "2024-09").set_index("method").loc["same months last year"]
    before = (series.months >= "2023-10-01") & (series.months <= "2023-12-01")
    assert naive["mean"] == series.values[0, before].sum()
    ours = found.summary.set_index("method").loc["our model"]
    own = found.ranges[found.ranges["scent"] != "all scents"]
    assert ours["held_80"] == own["bottles"].between(own["p10"], own["p90"]).sum()
    assert f"held {int(ours['held_80'])} times of {len(own)}" in found.sentence
    assert found.sentence.startswith("In the last 3 seasons, by whole months, ")


def test_the_check_looks_at_nothing_after_its_origin():
    series = history(years=4)
    changed = series.values.copy()
    changed[:, series.months >= "2024-09-01"] *= 7
    first = check_months(series, [10, 11, 12], 50, np.random.default_rng(1), PROFILE).ranges
    second = check_months(
        Months(changed, series.names, series.months), [10, 11, 12], 50, np.random.default_rng(1), PROFILE
    ).ranges
    pd.testing.assert_frame_equal(first.drop(columns="bottles"), second.drop(columns="bottles"))


def test_with_a_year_of_months_it_says_what_cannot_be_checked():
    found = check_months(history(years=1), [10, 11, 12], 50, np.random.default_rng(1), PROFILE)
    assert found.summary.empty
    assert "cannot be checked on the past yet" in found.sentence
    assert "there are 12 months" in found.sentence


# the whole folder

TOML = """
name = "By month"
currency = "EUR"
today = {today}
{season}
[bench]
days = ["Sat"]
hours_per_day = 4

[[export]]
files = "sheet*.csv"
source = "sheet"
channel = "web"
columns = {{ item = "Item" }}
months_across = true
"""
SEASON_DAYS = "\n[season]\nfirst_day = 2025-10-20\nlast_day = 2025-12-18\n"


def folder(path, series, extra="", today="2025-10-06", season=SEASON_DAYS):
    """Write a shop with one sheet of items by months."""
    (path / "sales").mkdir()
    table = pd.DataFrame(series.values, columns=series.months.strftime("%b %Y")).astype("Int64")
    table.insert(0, "Item", list(series.names))
    table.to_csv(path / "sales" / "sheet.csv", index=False)
    lines = [f"{name},18,24,,,," for name in series.names]
    text = "scent,price,batch_bottles,first_sold,last_sold,guess_low,guess_high\n" + "\n".join(lines) + "\n" + extra
    (path / "scents.csv").write_text(text, encoding="utf-8")
    (path / "shop.toml").write_text(TOML.format(today=today, season=season), encoding="utf-8")
    return load_folder(path)


def season_of(ahead, name):
    table = ahead.forecast[ahead.forecast["week"].isna()]
    return table[table["scent"] == name].iloc[0]


def test_a_folder_of_months_is_foreseen_by_month(tmp_path):
    shop = folder(tmp_path, history(), "Cedar,18,24,2025-10-15,,20,60\n")
    past = flow.read_past(shop)
    assert past.demand["bottles"].sum() == history().values.sum()  # to the unit, on the days of the months
    assert (past.demand.groupby("scent")["week"].nunique() > 100).all()
    ahead = flow.foresee(shop, past)
    assert ahead.paths.weeks[0] == pd.Timestamp("2025-10-06")
    assert ahead.paths.weeks[-1] == pd.Timestamp("2025-12-15")
    truth = 60 * (1.1 * 26 / 31 + 1.9 + 2.9 * 0.72)  # of October from the 6th on, most of December before the 18th
    fig = season_of(ahead, "Fig")
    assert fig["p10"] < truth < fig["p90"]
    assert 1.4 < fig["p90"] / fig["p10"] < 4
    assert fig["p50"] > season_of(ahead, "Rose")["p50"] > season_of(ahead, "Neroli")["p50"]
    cedar = season_of(ahead, "Cedar")
    assert cedar["p10"] == pytest.approx(16.5, rel=0.25)  # the guess 20 to 60, widened to what guesses are worth
    week = ahead.paths.bottles.sum(axis=1).mean(axis=0)
    assert week[8:10].min() > 1.5 * week[:3].max()  # more before Christmas, although no week was ever known
    again = flow.foresee(shop, past)
    np.testing.assert_array_equal(ahead.paths.bottles, again.paths.bottles)
    check(ahead.forecast, STEPS["forecast"])


def test_its_past_is_checked_by_whole_months(tmp_path):
    shop = folder(tmp_path, history())
    found = flow.check_past(shop, flow.read_past(shop), count=200)
    assert "by whole months" in found.sentence
    assert found.ranges["origin"].dt.strftime("%Y-%m").unique().tolist() == ["2023-10", "2024-10"]
    row = rows_of(found.ranges, "Fig", "2024-10").iloc[0]
    inside = (history().months >= "2024-11-01") & (history().months <= "2024-12-01")  # 12 days are no October
    assert row["bottles"] == history().values[0, inside].sum()


@pytest.mark.parametrize(
    ("years", "last", "season"),
    [
        (1 / 12, "2025-09-01", SEASON_DAYS),
        (0.25, "2025-09-01", SEASON_DAYS),
        (2, "2023-06-01", SEASON_DAYS),  # ended long ago
        (3, "2025-10-01", ""),  # the month of today, not over; no season said
        (3, "2025-09-01", "\n[season]\nfirst_day = 2026-05-01\nlast_day = 2026-06-14\n"),  # a season far off
    ],
)
def test_short_old_and_odd_sheets_give_wide_ranges(tmp_path, years, last, season):
    shop = folder(tmp_path, history(years=years, last=last), season=season)
    past = flow.read_past(shop)
    ahead = flow.foresee(shop, past, 300)
    family = season_of(ahead, "all scents")
    assert 0 < family["p10"] < family["p90"] < np.inf
    assert family["p90"] / family["p10"] > 1.5
    assert isinstance(flow.check_past(shop, past, count=50).sentence, str)
    assert len(flow.year_shape(ahead)) == 53


def test_a_scent_that_never_sold_among_others_is_hardly_wanted_and_not_impossible(tmp_path):
    series = history()
    values = np.vstack([series.values, np.zeros(len(series.months))])
    shop = folder(tmp_path, Months(values, (*series.names, "Shelf warmer"), series.months))
    ahead = flow.foresee(shop, flow.read_past(shop), 2000)
    assert season_of(ahead, "Shelf warmer")["p50"] < season_of(ahead, "Fig")["p10"]
    assert season_of(ahead, "Shelf warmer")["p95"] > 0


# totals of months, dated any day

TOTALS = """
[[export]]
files = "list*.csv"
source = "list"
channel = "web"
columns = { day = "Day", item = "Item", bottles = "Bottles" }
totals = "month"
"""


def listed(path, series, dated, calendar="", today="2025-10-06"):
    """Write the shop of `folder` with a line for each scent and month, dated the first, the middle or the last day."""
    shown = {"first": 0, "middle": 14, "last": None}[dated]
    day = series.months + (pd.offsets.MonthEnd(0) if shown is None else pd.Timedelta(days=shown))
    table = pd.DataFrame(series.values.T, index=day.rename("Day"), columns=series.names).astype(int)
    table = table.rename_axis(columns="Item").stack().rename("Bottles").reset_index()
    (path / "sales").mkdir(parents=True)
    table.to_csv(path / "sales" / "list.csv", index=False)
    text = "".join(f"{name},18,24\n" for name in series.names)
    (path / "scents.csv").write_text("scent,price,batch_bottles\n" + text, encoding="utf-8")
    if calendar:
        (path / "calendar.csv").write_text("first_day,last_day,what,kind\n" + calendar, encoding="utf-8")
    head = TOML.format(today=today, season=SEASON_DAYS).split("[[export]]")[0]
    (path / "shop.toml").write_text(head + TOTALS, encoding="utf-8")
    return load_folder(path)


def foreseen(shop, count=400):
    return flow.foresee(shop, flow.read_past(shop), count)


def test_totals_of_months_are_by_month_whatever_day_they_are_dated(tmp_path):
    paths = [foreseen(listed(tmp_path / dated, history(), dated)).paths for dated in ("first", "middle", "last")]
    (tmp_path / "across").mkdir()
    across = foreseen(folder(tmp_path / "across", history())).paths
    for one in paths:
        np.testing.assert_array_equal(one.bottles, across.bottles)


def test_a_total_dated_in_the_middle_is_spread_over_the_whole_month():
    table = sales([("2025-03-15", "Fig", 31)])
    spread = spread_sales(table, pd.Series([True]), even_days("2025-03-01", "2025-03-31"), pd.Timestamp("2025-09-28"))
    assert spread["day"].tolist() == list(pd.date_range("2025-03-01", "2025-03-31"))
    assert spread["bottles"].eq(1).all()


def test_one_single_month_is_a_month_and_not_a_week(tmp_path):
    series = history(years=1 / 12)  # a September: truth in the season is some four to five times as much
    ahead = foreseen(listed(tmp_path, series, "first"), 1000)
    assert ahead.by_month
    family = season_of(ahead, "all scents")
    truth = sum(LEVELS.values()) * (1.1 * 26 / 31 + 1.9 + 2.9 * 0.72)
    assert family["p10"] < truth < family["p90"]
    assert 0.5 * truth < family["mean"] < 2 * truth


def test_a_month_that_is_not_over_is_all_there_is_and_makes_no_confident_forecast(tmp_path):
    series = Months(np.array([[40.0], [20.0]]), ("Fig", "Rose"), pd.DatetimeIndex(["2025-09-01"]))
    ahead = foreseen(listed(tmp_path, series, "first", today="2025-09-21"), 1000)
    assert not ahead.by_month
    family = season_of(ahead, "all scents")
    truth = 60 / 20 * 30 / SEASON[9] * (SEASON[9] / 3 + SEASON[10] + SEASON[11] + SEASON[12] * 0.6)
    assert family["p10"] < truth < family["p90"]
    assert family["p90"] > 2 * family["p10"]


# closures


def test_a_month_half_closed_counts_double_and_one_closed_is_unknown():
    series = Months(np.array([[10.0, 10.0, 0.0]]), ("Fig",), pd.date_range("2025-01-01", periods=3, freq="MS"))
    whole = as_if_open(series, np.array([1.0, 0.5, 0.0]))
    np.testing.assert_array_equal(whole.values, [[10.0, 20.0, np.nan]])
    np.testing.assert_array_equal(series.values, [[10.0, 10.0, 0.0]])


def test_a_closure_ahead_lowers_the_season_by_what_would_have_sold(tmp_path):
    plain = foreseen(listed(tmp_path / "open", history(), "first"), 1000).paths
    closed = foreseen(listed(tmp_path / "a", history(), "first", "2025-11-01,2025-11-30,away,closed\n"), 1000).paths
    before, after = (one.bottles.sum(axis=1).mean(axis=0) for one in (plain, closed))
    weeks = plain.weeks
    inside = (weeks >= "2025-11-03") & (weeks <= "2025-11-24") & (weeks + pd.Timedelta(days=6) <= "2025-11-30")
    assert inside.sum() == 4
    assert after[inside].sum() == 0
    others = (weeks + pd.Timedelta(days=6) < "2025-11-01") | (weeks > "2025-11-30")
    np.testing.assert_allclose(after[others], before[others], rtol=0.06)  # none is moved to other weeks
    part = foreseen(listed(tmp_path / "b", history(), "first", "2025-11-01,2025-11-20,away,closed\n"), 1000).paths
    last = (weeks >= "2025-11-24") & (weeks <= "2025-11-24")
    assert part.bottles.sum(axis=1).mean(axis=0)[last] == pytest.approx(before[last], rel=0.06)


def test_a_closure_in_the_past_is_no_lack_of_demand(tmp_path):
    series = history()
    shut = series.values.copy()
    shut[:, (series.months >= "2024-11-01") & (series.months <= "2024-12-01")] = 0
    shut = Months(shut, series.names, series.months)
    plain, unsaid, said = (
        season_of(foreseen(listed(tmp_path / str(at), one, "first", calendar), 1000), "all scents")["mean"]
        for at, (one, calendar) in enumerate([(series, ""), (shut, ""), (shut, "2024-11-01,2024-12-31,away,closed\n")])
    )
    assert said == pytest.approx(plain, rel=0.1)
    assert abs(unsaid / plain - 1) > 0.2


def test_the_check_knows_of_closures():
    series = history(years=4)
    opened = np.ones(len(series.months))
    opened[series.months == "2024-11-01"] = 0.5
    shut = Months(np.round(series.values * opened), series.names, series.months)
    found = check_months(shut, [10, 11, 12], 400, np.random.default_rng(1), PROFILE, opened)
    plain = check_months(series, [10, 11, 12], 400, np.random.default_rng(1), PROFILE)
    row, same = (rows_of(one.ranges, "Fig", "2024-09").iloc[0] for one in (found, plain))
    inside = (series.months >= "2024-10-01") & (series.months <= "2024-12-01")
    assert row["bottles"] == shut.values[0, inside].sum()  # what was sold, as it was
    lost = 0.5 * 1.9 / (1.1 + 1.9 + 2.9)
    assert row["mean"] / same["mean"] == pytest.approx(1 - lost, abs=0.04)


def test_what_is_assumed_names_seasons_seen_and_closed_days():
    series = Months(np.full((1, 9), 30.0), ("Fig",), pd.date_range("2025-01-01", periods=9, freq="MS"))
    opened = np.where(series.months == "2025-08-01", 0.1, np.where(series.months == "2025-07-01", 0.5, 1.0))
    found = month_assumptions(series, opened, pd.DatetimeIndex(["2025-10-01", "2025-11-01"]), np.array([1.0, 0.35]))
    said = found.set_index("what")["assumed"]
    assert "learned from 9 months" in said["season of the months"]
    assert "3 of the year's 12 months were never seen" in said["season of the months"]
    assert "as if it had been open" in said["closed days in Jul 2025"]
    assert "unknown, and not zero" in said["closed days in Aug 2025"]
    assert said["closed days in Nov 2025"] == "take away 65 % of what it would sell"
    assert "closed days in Oct 2025" not in said


def test_a_closed_month_ahead_is_told_in_the_assumptions(tmp_path):
    shop = listed(tmp_path, history(), "first", "2025-11-01,2025-11-30,away,closed\n")
    window = flow.season_window(shop)
    past = flow.read_past(shop)
    found = assumed_by_month(shop, past.books.sales, window).set_index("what")["assumed"]
    assert found["closed days in Nov 2025"] == "take away 100 % of what it would sell"
    assert "learned from 36 months" in found["season of the months"]
    shown = flow.explain_season(shop, past, flow.foresee(shop, past, 100)).assumed["what"]
    assert {"closed days in Nov 2025", "season of the months", "last posting day before Christmas"} <= set(shown)
    assert shown.is_unique
