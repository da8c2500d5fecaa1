"""Short, odd and hostile folders, all the way: past, season, check, reasons, sentences, pictures.

Each gives a wide honest range or a sentence that says what is not known; never a crash, never a confident number.
"""

import os

import numpy as np
import pandas as pd
import pytest

from planner import charts, flow, sentences, summaries
from planner.files import load_folder
from planner.problems import MakerError
from planner.tables import STEPS, check

TOML = """
name = "Odd"
currency = "EUR"
{more}
[bench]
days = ["Sat"]
hours_per_day = 4

[[channel]]
name = "web"
{channels}
[[export]]
files = "web*.csv"
source = "web"
channel = "web"
columns = {{ day = "Day", item = "Item", bottles = "Bottles", price = "Price" }}
{totals}
"""
SEASON = "[season]\nfirst_day = 2025-10-20\nlast_day = 2025-12-18\n"
TODAY = "2025-10-06"
SCENTS = ("Fig", "Rose", "Oud")
LEVELS = {"Fig": 0.9, "Rose": 0.5, "Oud": 0.2}  # bottles a day


def sold(first, last, levels=LEVELS, seed=1, peak=((11, 1), (12, 18)), price=18.0):
    """Return lines of daily sales with four times as much in the peak."""
    rng = np.random.default_rng(seed)
    days = pd.date_range(first, last, unit="us")
    inside = [(peak[0] <= (day.month, day.day) <= peak[1]) for day in days]
    rate = np.where(inside, 4.0, 1.0)
    parts = [
        pd.DataFrame({"Day": days, "Item": scent, "Bottles": rng.poisson(level * rate), "Price": price})
        for scent, level in levels.items()
    ]
    lines = pd.concat(parts, ignore_index=True)
    return lines[lines["Bottles"] > 0]


def folder(path, lines, scents=SCENTS, today=TODAY, season=SEASON, country="IE", channels="", totals="", **files):
    """Write a shop and load it; `files` are further CSV files as text, scent columns beyond the name as dicts."""
    (path / "sales").mkdir()
    lines.to_csv(path / "sales" / "web.csv", index=False)
    more = f'today = {today}\ncountry = "{country}"\n{season}'
    (path / "shop.toml").write_text(TOML.format(more=more, channels=channels, totals=totals), encoding="utf-8")
    table = (
        scents if isinstance(scents, str) else "scent,price,batch_bottles\n" + "".join(f"{s},18,24\n" for s in scents)
    )
    (path / "scents.csv").write_text(table, encoding="utf-8")
    for name, text in files.items():
        (path / f"{name}.csv").write_text(text, encoding="utf-8")
    return load_folder(path)


def all_the_way(shop, count=300):
    """Go the whole way of 3-season-demand; return past, ahead, reasons and all that is said."""
    past = flow.read_past(shop)
    ahead = flow.foresee(shop, past, count)
    why = flow.explain_season(shop, past, ahead)
    shape = flow.year_shape(ahead)
    by_scent = summaries.unsold_by_scent(why.unsold, shop["scents"])
    said = [
        sentences.say_method(ahead.by_month),
        sentences.say_season(ahead.forecast, ahead.first_day, ahead.last_day, ahead.paths),
        sentences.say_check(ahead.check, ahead.widening),
        sentences.say_year(shape),
        sentences.say_departures(why.departures),
        sentences.say_growth(why.growth, why.level, shop.today),
        sentences.say_unsold(by_scent, shop.settings, ahead.by_month, why.level, shop.today),
        sentences.say_prices(why.prices, shop.settings),
        sentences.say_left_out(why.left_out, ahead.by_month),
        sentences.say_changes(why.changes, ahead.by_month),
        sentences.say_history(why.level, shop.today, ahead.by_month),
        sentences.say_asleep(past.everywhere, why.left_out, shop["scents"], shop.today, ahead.by_month),
        sentences.say_scaled(ahead.check.summary),
    ]
    drawn = [
        charts.season_weeks_chart(summaries.with_last_year(ahead.forecast, past.demand), said[1]),
        charts.season_totals_chart(summaries.season_totals(ahead.forecast), said[1]),
        charts.past_check_chart(summaries.past_ranges(ahead.check.ranges), said[2]),
        charts.season_shape_chart(shape, said[3]),
        charts.departures_chart(why.departures, said[4]),
        charts.shop_level_chart(why.level, said[5]),
        charts.unsold_chart(summaries.weekly_unsold(why.unsold), said[6]),
        charts.changes_chart(why.changes, said[9]),
    ]
    for chart in drawn:
        chart.to_dict()
    summaries.held_by_scent(ahead.check.ranges)
    summaries.by_method(ahead.check.summary)
    honest(ahead, said)
    if os.environ.get("SAY"):
        print("\n".join(said))
        print(why.assumed.to_string(), why.changes.to_string())
    return past, ahead, why, said


def honest(ahead, said):
    """Hold what must be true of every forecast: its contract, finite numbers, ranges about a middle, plain words."""
    check(ahead.forecast, STEPS["forecast"])
    levels = ahead.forecast[["p05", "p10", "p25", "p50", "p75", "p90", "p95"]].to_numpy(float)
    assert np.isfinite(levels).all()
    assert (levels >= 0).all()
    assert (np.diff(levels, axis=1) >= 0).all()
    for sentence in said:
        assert sentence
        assert not any(word in sentence for word in ("nan", "NaT", "inf ", "None"))


def total(ahead, scent="all scents"):
    return ahead.forecast[ahead.forecast["week"].isna() & ahead.forecast["scent"].eq(scent)].iloc[0]


def wide(row, times):
    """Whether the upper end of eight in ten is so many times the lower end, or the lower end is next to nothing."""
    return row["p90"] >= times * max(row["p10"], 1.0) or row["p10"] <= 2


def test_no_sale_at_all(tmp_path):
    lines = sold("2025-01-01", "2025-01-31").iloc[:0]
    _, ahead, why, said = all_the_way(folder(tmp_path, lines))
    assert wide(total(ahead), 2)
    assert total(ahead)["p95"] > 0  # nothing sold yet is not nothing wanted
    assert "cannot be checked" in said[2]
    assert "there are no weeks" in said[2]
    assert why.growth.empty
    assert why.unsold.empty


def test_three_weeks_of_sales(tmp_path):
    _, ahead, why, said = all_the_way(folder(tmp_path, sold("2025-09-15", "2025-10-05")))
    assert wide(total(ahead), 2.5)
    assert "cannot be checked" in said[2]
    assert "nothing that was tried on your shop" in said[2]
    assert "less than a year" in said[5]
    assert ahead.widening.factor == 1
    strength = why.assumed.set_index("what").loc["strength of Christmas", "known_from"]
    assert strength == "a rule of thumb: none seen yet"


@pytest.mark.parametrize("years", [1, 3])
def test_one_scent(tmp_path, years):
    lines = sold(f"{2025 - years}-09-01", "2025-10-05", {"Fig": 0.9})
    _, ahead, why, _ = all_the_way(folder(tmp_path, lines, ("Fig",)))
    fig, family = total(ahead, "Fig"), total(ahead)
    assert (fig.loc["mean":] == family.loc["mean":]).all()
    assert wide(fig, 1.5)
    assert why.departures["factor"].between(0.5, 2).all()  # one scent is the shop: it departs from nothing


def test_one_season_says_what_it_cannot_tell(tmp_path):
    _, ahead, _, said = all_the_way(folder(tmp_path, sold("2023-11-15", "2025-10-05")))
    assert ahead.widening.seasons == 1
    assert ahead.widening.factor == 1
    assert "In the last season" in said[2]
    assert "One season is one throw of the dice" in said[2]


def test_all_scents_sold_out_all_the_time(tmp_path):
    days = pd.date_range("2024-01-01", "2025-10-01", freq="7D").strftime("%Y-%m-%d")
    stock = "date,scent,on_hand\n" + "".join(f"{day},{scent},0\n" for day in days for scent in SCENTS)
    lines = sold("2024-01-01", "2025-10-05").iloc[:0]
    past, ahead, _, said = all_the_way(folder(tmp_path, lines, stock=stock))
    assert total(ahead)["p95"] > 0
    assert wide(total(ahead), 2)
    assert "cannot be checked" in said[2]
    assert past.demand["shelf_days"].fillna(0).eq(0).all()


def test_a_few_days_on_the_shelf_after_each_batch_and_sold_out_else(tmp_path):
    """Each month's batch of 24 is gone within days: what is wanted must lie far above what was sold."""
    begins = pd.date_range("2023-06-01", "2025-10-01", freq="MS")
    lines = pd.concat(
        [
            pd.DataFrame({"Day": day + pd.Timedelta(days=n), "Item": "Fig", "Bottles": [8], "Price": 18.0})
            for day in begins
            for n in range(3)
        ]
    )
    lines = lines[lines["Day"] <= TODAY]
    stock = "date,scent,on_hand\n2023-05-31,Fig,0\n"
    runs = "lot,date,scent,bottles_filled,ready_on\n" + "".join(
        f"L{i},{day:%Y-%m-%d},Fig,24,{day:%Y-%m-%d}\n" for i, day in enumerate(begins)
    )
    _, ahead, why, said = all_the_way(folder(tmp_path, lines, ("Fig",), stock=stock, runs=runs))
    weeks = len(ahead.paths.weeks)
    assert total(ahead)["p50"] > 2 * 24 * 12 / 52 * weeks  # 24 a month is what was sold, three days of thirty
    assert wide(total(ahead), 1.5)
    assert why.unsold["unsold"].sum() > why.unsold["bottles"].sum()
    assert "more were wanted than were there" in said[6]


@pytest.mark.parametrize("day", ["2025-02-12", "2024-12-10", "2025-10-04"])
def test_a_single_giant_order(tmp_path, day):
    usual = sold("2023-09-01", "2025-10-05")
    giant = pd.DataFrame({"Day": pd.to_datetime([day]), "Item": "Oud", "Bottles": 900, "Price": 18.0})
    (tmp_path / "with").mkdir()
    (tmp_path / "without").mkdir()
    _, ahead, why, said = all_the_way(folder(tmp_path / "with", pd.concat([usual, giant])))
    plain = all_the_way(folder(tmp_path / "without", usual))[1]
    assert total(ahead, "Oud")["p95"] < 3 * total(plain, "Oud")["p95"]
    assert total(ahead)["p50"] == pytest.approx(total(plain)["p50"], rel=0.25)
    if day < "2025-10":  # the last week is not over
        assert why.left_out["scent"].tolist() == ["Oud"]
        assert "Oud, 90" in said[8]
        assert "one giant order" in said[8]


def test_nothing_but_a_giant_order(tmp_path):
    giant = pd.DataFrame({"Day": pd.to_datetime(["2025-03-05"]), "Item": "Oud", "Bottles": 900, "Price": 18.0})
    _, ahead, _, _ = all_the_way(folder(tmp_path, giant))
    assert wide(total(ahead), 2)


def test_a_gap_of_a_year(tmp_path):
    lines = pd.concat([sold("2023-01-01", "2024-03-31"), sold("2025-04-01", "2025-10-05", seed=2)])
    _, ahead, why, _ = all_the_way(folder(tmp_path, lines))
    gap = why.assumed.set_index("what").loc["a gap in the sales", "assumed"]
    assert gap == "52 weeks without a sale of any scent, from 1 Apr 2024 to 30 Mar 2025, are unknown and not zero"
    assert why.growth.empty  # a year ago lies in the gap
    whole = 1.6 * (26 + 4 * 48)  # bottles a day of all scents, days to come before and in the peak
    assert total(ahead)["p05"] < whole < 3 * total(ahead)["p95"]
    assert wide(total(ahead), 1.6)


def test_29_february_and_years_of_53_weeks(tmp_path):
    season = "[season]\nfirst_day = 2024-02-05\nlast_day = 2024-02-29\n"
    lines = sold("2020-02-01", "2024-01-14", peak=((2, 1), (2, 29)))
    _, ahead, _, said = all_the_way(folder(tmp_path, lines, today="2024-01-15", season=season))
    assert ahead.last_day == pd.Timestamp("2024-02-29")
    assert ahead.check.ranges["origin"].nunique() >= 2  # 29 February of other years is 28 February
    assert "cannot be checked on the past" not in said[2]
    assert wide(total(ahead), 1.3)


@pytest.mark.parametrize("today", ["2020-12-28", "2021-01-03", "2021-01-04"])
def test_today_in_week_53(tmp_path, today):
    lines = sold("2018-12-31", today)
    _, ahead, _, _ = all_the_way(folder(tmp_path, lines, today=today, season=""))
    assert len(ahead.paths.weeks) in (12, 13)
    assert wide(total(ahead), 1.3)


def test_totals_of_weeks_that_start_on_sunday(tmp_path):
    """There is no setting for the first day of a week: a total on a Sunday stands for the Monday week it lies in."""
    lines = sold("2023-09-03", "2025-10-04")
    lines["Day"] = lines["Day"] - pd.to_timedelta((lines["Day"].dt.day_of_week + 1) % 7, unit="D")
    lines = lines.groupby(["Day", "Item", "Price"], as_index=False)["Bottles"].sum()
    past, ahead, _, _ = all_the_way(folder(tmp_path, lines, totals='totals = "week"'))
    assert past.demand["bottles"].sum() == lines["Bottles"].sum()
    assert wide(total(ahead), 1.3)


def test_a_southern_shop_with_its_own_season(tmp_path):
    season = "[season]\nfirst_day = 2026-04-13\nlast_day = 2026-05-09\n"
    lines = sold("2023-02-01", "2026-03-29", peak=((4, 10), (5, 9)))
    _, ahead, why, said = all_the_way(folder(tmp_path, lines, today="2026-03-30", season=season, country="AU"))
    assert ahead.check.ranges["origin"].dt.month.isin([3]).all()
    assert ahead.check.ranges["origin"].nunique() == 2
    assert "2 seasons" in said[2]
    posting = why.assumed.set_index("what").loc["last posting day before Christmas"]
    assert "nobody said" in posting["known_from"]
    truth = 1.6 * (11 + 4 * 30)  # bottles a day of all scents, calm days and days of the peak
    assert total(ahead)["p10"] < truth < total(ahead)["p90"]
    assert total(ahead)["mean"] == pytest.approx(truth, rel=0.15)  # its own season is learned like an event
    assert not why.changes["what"].str.startswith(("without", "posting")).any()
    assert "Christmas" not in " ".join(why.changes["what"])  # none lies in the window


@pytest.mark.parametrize("last", ["2024-06-30", "2023-01-15"])
def test_sales_that_end_long_before_the_season(tmp_path, last):
    (tmp_path / "old").mkdir()
    (tmp_path / "new").mkdir()
    _, ahead, _, said = all_the_way(folder(tmp_path / "old", sold("2021-06-01", last)))
    fresh = all_the_way(folder(tmp_path / "new", sold("2023-01-01", "2025-10-05")))[1]
    old, new = total(ahead), total(fresh)
    assert old["p90"] / old["p10"] > 1.2 * new["p90"] / new["p10"]  # more may have changed since
    assert "cannot be checked on the past" not in said[2]


def test_a_season_far_away(tmp_path):
    season = "[season]\nfirst_day = 2027-10-18\nlast_day = 2027-12-17\n"
    _, ahead, _, _ = all_the_way(folder(tmp_path, sold("2023-09-01", "2025-10-05"), season=season))
    assert ahead.last_day == pd.Timestamp("2027-12-17")
    assert wide(total(ahead), 1.6)


def test_every_scent_has_ended(tmp_path):
    scents = "scent,price,batch_bottles,last_sold\n" + "".join(f"{name},18,24,2025-06-30\n" for name in SCENTS)
    _, ahead, _, said = all_the_way(folder(tmp_path, sold("2023-09-01", "2025-06-30"), scents))
    assert total(ahead)["p95"] == 0
    assert said[1].startswith("Nothing is foreseen to be wanted from Mon 6 Oct 2025")


def test_closed_all_season(tmp_path):
    calendar = "first_day,what,kind,last_day,channel,note\n2025-10-01,away,closed,2025-12-31,,\n"
    _, ahead, why, _ = all_the_way(folder(tmp_path, sold("2023-09-01", "2025-10-05"), calendar=calendar))
    assert total(ahead)["p95"] == 0
    assert why.changes["what"].iloc[0].startswith("open when the calendar says closed")


def test_markets_without_a_date_yet_are_asked_for(tmp_path):
    days = ["2023-11-11", "2023-12-09", "2024-11-09", "2024-12-07"]
    calendar = "first_day,what,kind,last_day,channel,note\n" + "".join(f"{day},Fair,market,,,\n" for day in days)
    _, _, why, _ = all_the_way(folder(tmp_path, sold("2023-09-01", "2025-10-05"), calendar=calendar))
    markets = why.assumed.set_index("what").loc["market days", "assumed"]
    assert markets.startswith("none ahead, 2 in the same weeks a year before: if they come again, write them into")


def test_no_scent_at_all(tmp_path):
    with pytest.raises(MakerError, match="no scents in it"):
        folder(tmp_path, sold("2025-09-15", "2025-10-05"), ())


def test_refunds_only(tmp_path):
    lines = sold("2025-01-01", "2025-05-31").assign(Bottles=lambda t: -t["Bottles"])
    _, ahead, _, _ = all_the_way(folder(tmp_path, lines))
    assert wide(total(ahead), 2)


def test_thousands_a_day(tmp_path):
    lines = sold("2023-09-01", "2025-10-05", {"Fig": 3000.0, "Rose": 900.0, "Oud": 0.05})
    _, ahead, _, _ = all_the_way(folder(tmp_path, lines))
    assert wide(total(ahead, "Fig"), 1.2)


def test_a_giant_order_on_a_sheet_of_months_is_named(tmp_path):
    months = pd.date_range("2023-01-01", "2025-09-01", freq="MS")
    rng = np.random.default_rng(5)
    lines = pd.DataFrame({"Day": np.tile(months, 2), "Item": np.repeat(["Fig", "Rose"], len(months)), "Price": 18.0})
    lines["Bottles"] = rng.poisson(12, len(lines))
    lines.loc[(lines["Item"] == "Rose") & (lines["Day"] == "2024-05-01"), "Bottles"] = 700
    shop = folder(tmp_path, lines, ("Fig", "Rose"), totals='totals = "month"')
    _, ahead, why, said = all_the_way(shop)
    assert ahead.by_month
    assert "by month" in said[0]
    assert "not known" in said[6]
    assert "by whole months" in said[2]
    assert why.left_out[["scent", "bottles"]].to_numpy().tolist() == [["Rose", 700]]
    assert "the month of Wed 1 May 2024" in said[8]


def test_sales_that_ended_fifteen_years_ago_ask_for_no_millions_and_the_plan_stands(tmp_path):
    lines = sold("2009-06-01", "2010-12-31")
    lines.loc[lines.index[::40], "Bottles"] = 60  # restless: drift is learned as strong
    shop = folder(tmp_path, lines)
    past = flow.read_past(shop)
    ahead = flow.foresee(shop, past, 300)
    year = lines.loc[lines["Day"] >= "2010-01-01", "Bottles"].sum()
    assert total(ahead)["p95"] < 20 * year
    oils = flow.cost_oils(shop)
    plan = flow.plan_restock(shop, past, ahead, oils, flow.study_runs(shop, oils)).plan
    assert plan["batches"].sum() < 100
