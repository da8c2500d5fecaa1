"""The season all scents share, how uneven weeks are, launches, earnings and tails, each on its own."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from planner.pace import first_season, leaving_frees
from planner.pace.earning import earnings
from planner.pace.evidence import weekly_evidence, with_season
from planner.pace.launches import ALL_NEW, launch_weeks
from planner.pace.unevenness import USUAL_UNEVENNESS, half_drift, week_unevenness
from planner.pace.window import pace_window

MONDAYS = pd.date_range("2025-09-29", periods=52, freq="7D")


def wide(values, weeks=MONDAYS):
    return pd.DataFrame(values, index=weeks[: len(next(iter(values.values())))], dtype="float64")


def demand_of(bottles, on_shelf):
    """Table demand of wide bottles and days on the shelf."""
    long = bottles.rename_axis(index="week", columns="scent").stack().rename("bottles").reset_index()
    days = on_shelf.rename_axis(index="week", columns="scent").stack().to_numpy() * 7
    return long.assign(channel="all", shelf_days=days)[days > 0].reset_index(drop=True)


def test_the_season_is_that_of_a_poisson_regression_on_scents_and_weeks():
    # each scent from its launch on, no shelf empty: then scaling gives what statsmodels' regression gives
    rng = np.random.default_rng(2)
    season = 1 + 2 * np.exp(-((np.arange(52) - 11) ** 2) / 12)
    shelf = wide({"Fig": np.ones(52), "Rose": np.ones(52), "Oud": np.arange(52) >= 9, "Moss": np.arange(52) >= 30})
    bottles = pd.DataFrame(rng.poisson(300 * season[:, None] * [4, 2, 3, 1] * shelf), shelf.index, shelf.columns)
    ours = with_season(bottles.astype(float), shelf)
    week, scent = np.nonzero(shelf.to_numpy())
    design = np.column_stack([np.eye(52)[week], np.eye(4)[scent][:, 1:]])
    fit = sm.GLM(bottles.to_numpy()[week, scent], design, family=sm.families.Poisson()).fit()
    theirs = np.exp(fit.params[:52])
    assert ours.season.to_numpy() == pytest.approx(theirs / theirs.mean(), rel=2e-3)
    pace = (ours.bottles.sum() / ours.fair.sum()).to_numpy()
    assert pace / pace[0] == pytest.approx(np.exp([0, *fit.params[52:]]), rel=2e-3)


def test_what_ran_out_in_the_peak_does_not_flatten_it():
    # all sell the same; in the ten times busier weeks two of three were sold out, and the season is still ten
    season = np.where((np.arange(52) > 20) & (np.arange(52) < 25), 10.0, 1.0)
    shelf = wide({"Fig": np.ones(52), "Rose": season == 1.0, "Oud": season == 1.0})
    bottles = shelf.mul(20 * season, axis=0)
    found = with_season(bottles, shelf).season
    assert found[season == 10].to_numpy() / found[season == 1].mean() == pytest.approx(10, rel=0.03)
    assert found.mean() == pytest.approx(1.0)


def test_a_week_with_nothing_on_the_shelf_has_no_season_and_moves_nothing():
    shelf = wide({"Fig": np.arange(52) != 30, "Rose": np.arange(52) != 30})
    found = with_season(shelf * 6.0, shelf).season
    assert np.isnan(found.iloc[30])
    assert found.drop(found.index[30]).to_numpy() == pytest.approx(1.0)


def test_a_scent_sold_out_while_it_sold_best_is_filled_in_from_the_weeks_around():
    # Fig sells 5 a week, 20 from week 40 to 46, of which only 40, 41 and 46 found it on the shelf; its mean over the
    # 26 weeks is (19 × 5 + 7 × 20) / 26 = 9.04, the mean of the weeks on the shelf 7.05: a good part of that is found
    week = np.arange(52)
    shelf = wide({"Fig": ~np.isin(week, [42, 43, 44, 45]), **{f"S{n}": np.ones(52) for n in range(30)}})
    rate = np.where((week >= 40) & (week < 47), 20.0, 5.0)
    bottles = shelf * 10.0
    bottles["Fig"] = rate * shelf["Fig"]
    window = pace_window(with_season(bottles, shelf), 26)
    filled = window.sold["Fig"] / window.weeks["Fig"]
    seen = bottles["Fig"].iloc[-26:].sum() / 22
    assert seen == pytest.approx(7.05, abs=0.01)
    assert seen + 0.5 < filled < 9.04
    assert window.unseen["Fig"] > window.unseen["S0"] == 0


@pytest.mark.parametrize(("size", "true"), [(4.0, 1 / 4), (12.0, 1 / 12), (None, 0.0)])
def test_unevenness_is_found_from_neighbouring_weeks_whatever_the_drift(size, true):
    rng = np.random.default_rng(3)
    rates = rng.gamma(3, 3, 40) * np.exp(np.linspace(0, 1.0, 104))[:, None]  # all grow threefold meanwhile
    wobble = 1.0 if size is None else rng.gamma(size, 1 / size, rates.shape)
    bottles = pd.DataFrame(rng.poisson(rates * wobble).astype(float))
    fair = pd.DataFrame(np.ones(rates.shape))
    found = week_unevenness(bottles, fair)
    assert found == pytest.approx(true, abs=0.03)
    assert half_drift(bottles, fair * 0 + 1, found) > 0.02  # the growth shows between the halves


def test_without_sales_unevenness_is_the_usual_one():
    nothing = pd.DataFrame(np.zeros((10, 2)))
    assert week_unevenness(nothing, nothing + 1) == pytest.approx(USUAL_UNEVENNESS, rel=0.1)


def test_launches_are_those_stated_else_first_seen_and_unknown_before_the_sales_begin():
    shelf = wide({"Old": np.ones(10), "New": np.arange(10) >= 4, "Stated": np.ones(10)})
    demand = demand_of(shelf, shelf)
    scents = pd.DataFrame({"scent": ["Old", "New", "Stated"], "first_sold": pd.to_datetime([None, None, "2024-05-09"])})
    launched = launch_weeks(demand, scents)
    assert launched["New"] == MONDAYS[4]
    assert launched["Stated"] == pd.Timestamp("2024-05-06")  # the Monday of that week
    assert pd.isna(launched["Old"])
    assert launch_weeks(demand)["New"] == MONDAYS[4]


def test_first_seasons_are_laid_over_each_other_by_weeks_since_launch():
    # two settled scents sell 10 a week, twice that in ten weeks; A and B begin at 3 and 1 times that, then sell 1 times
    season = np.where((np.arange(52) >= 12) & (np.arange(52) < 22), 2.0, 1.0)
    shelf = wide({"Old": np.ones(52), "Rose": np.ones(52), "A": np.arange(52) >= 10, "B": np.arange(52) >= 20})
    bottles = shelf.mul(10 * season, axis=0)
    bottles.loc[MONDAYS[10:14], "A"] *= 3
    begun = first_season(demand_of(bottles, shelf)).set_index(["scent", "first_week"])
    assert set(begun.index.get_level_values("scent")) == {"A", "B", ALL_NEW}
    assert begun.loc[("A", 1), "ratio"] == pytest.approx(3.0, rel=0.03)
    assert begun.loc[("A", 5), "ratio"] == pytest.approx(1.0, rel=0.03)
    assert begun.loc[("B", 1), "ratio"] == pytest.approx(1.0, rel=0.03)
    together = begun.loc[(ALL_NEW, 1)]  # by sales: A 3 × 60 and B 60 of what the average sells in those weeks
    assert together["ratio"] == pytest.approx((180 + 60) / 120, rel=0.03)
    assert (begun["ratio_low"] < begun["ratio"]).all()
    assert (begun["ratio"] < begun["ratio_high"]).all()
    assert begun.loc["A"].index.tolist() == [1, 5, 9, 13, 17, 21, 25]
    assert begun.loc[("A", 25), "last_week"] == 26
    young = first_season(demand_of(bottles.iloc[:23], shelf.iloc[:23])).set_index(["scent", "first_week"])
    assert young.loc[("B", 1), "last_week"] == 3  # launched three weeks before the end


def test_a_block_of_a_day_or_two_on_the_shelf_says_nothing_of_a_launch():
    shelf = wide({"Old": np.ones(30), "A": (np.arange(30) >= 10).astype(float)})
    shelf.loc[MONDAYS[14:18], "A"] = [0.1, 0.0, 0.0, 0.1]
    shelf.loc[MONDAYS[22:26], "A"] = [0.5, 0.0, 0.0, 0.5]  # one whole week in all is enough
    bottles = shelf.mul(10)
    begun = first_season(demand_of(bottles, shelf)).set_index("scent")
    assert begun["first_week"].tolist() == [1, 9, 13, 17]
    newest = first_season(demand_of(bottles.iloc[:11].mul(0.9), shelf.iloc[:11].mul(0.9)))
    assert newest.empty


def test_without_a_launch_there_is_no_first_season():
    shelf = wide({"Old": np.ones(10)})
    assert first_season(demand_of(shelf, shelf)).empty
    assert first_season(demand_of(shelf, shelf).iloc[:0]).empty
    assert weekly_evidence(demand_of(shelf, shelf).iloc[:0]).bottles.empty


COSTS = pd.DataFrame(
    {
        "scent": ["Fig", "Oud"],
        "contribution_per_bottle": [14.0, 10.0],
        "fragrance_g": [1.75, np.nan],
        "material_cost": [3.0, 2.0],
    }
)
SCENTS = pd.DataFrame({"scent": ["Fig", "Oud"], "batch_bottles": [24.0, np.nan], "retained": [1.0, np.nan]})
MINUTES = pd.DataFrame({"setup_minutes": [36.5], "minutes_per_bottle": [3.0]})


def test_earnings_by_hand():
    # a batch of 24 takes 36.5 + 72 = 108.5 minutes and leaves 23 for sale: 4.717 minutes a bottle, 178.1 money an hour
    earned = earnings(COSTS, SCENTS, MINUTES)
    assert earned.loc["Fig", "contribution_per_hour"] == pytest.approx(14 / (108.5 / 23 / 60))
    assert earned.loc["Fig", "contribution_per_fragrance_g"] == pytest.approx(8.0)
    assert earned.loc["Oud"].isna().tolist() == [False, True, True]
    assert earnings(COSTS)["contribution_per_hour"].isna().all()


def test_what_leaving_a_scent_frees_by_hand():
    pace = pd.DataFrame(
        {
            "scent": ["Fig", "Oud", "Rose"],
            "rank": pd.array([1, 2, 3], dtype="Int64"),
            "pace": [2.0, 0.5, 9.0],
            "abc": ["A", "C", "A"],
            "ratio_trend": [-0.4, np.nan, 0.2],
            "chance_fading": [0.93, np.nan, 0.0],
        }
    )
    assert leaving_frees(pace.iloc[2:], COSTS, SCENTS, MINUTES).empty  # no tail, no row
    tail = leaving_frees(pace, COSTS, SCENTS, MINUTES).set_index("scent")
    assert tail.index.tolist() == ["Fig", "Oud"]
    assert tail["fading"].tolist() == [True, False]
    fig = tail.loc["Fig"]
    assert fig["bottles_a_year"] == 104.0
    assert fig["contribution_a_year"] == 1456.0
    assert fig["bench_hours"] == pytest.approx(104 * 108.5 / 23 / 60)
    assert fig["fragrance_g"] == pytest.approx(182.0)
    assert fig["materials_a_year"] == 312.0
    assert tail.loc["Oud", ["bench_hours", "fragrance_g"]].isna().all()
