import numpy as np
import pandas as pd
import pytest

from planner.pace import scent_pace
from planner.settings import Settings

SETTINGS = Settings(name="Test", currency="EUR")


def demand_of(rates, weeks=104, start="2024-09-23", season=None, spread=None, seed=1):
    """Weekly demand of scents with true rates: negative binomial where a spread is given, else Poisson."""
    rng = np.random.default_rng(seed)
    season = np.ones(weeks) if season is None else season
    rows = []
    for scent, rate in rates.items():
        mean = rate * season
        wobble = 1.0 if spread is None else rng.gamma(spread, 1 / spread, weeks)
        for week, bottles in zip(
            pd.date_range(start, periods=weeks, freq="7D"), rng.poisson(mean * wobble), strict=True
        ):
            rows.append((week, scent, "all", float(bottles), 7.0, 18.0))
    return pd.DataFrame(rows, columns=["week", "scent", "channel", "bottles", "shelf_days", "usual_price"])


def costs_of(*scents):
    return pd.DataFrame({"scent": list(scents), "contribution_per_bottle": 10.0})


def pace_of(demand, seed=3):
    scents = sorted(demand["scent"].unique())
    return scent_pace(demand, costs_of(*scents), SETTINGS, np.random.default_rng(seed)).set_index("scent")


def test_the_faster_scent_comes_first_with_its_pace_and_share():
    pace = pace_of(demand_of({"Fig": 12.0, "Rose": 4.0}))
    assert list(pace.index) == ["Fig", "Rose"]
    assert pace["rank"].tolist() == [1, 2]
    assert pace.loc["Fig", "pace"] == pytest.approx(12, rel=0.1)
    assert pace.loc["Fig", "share"] == pytest.approx(0.75, abs=0.05)
    assert pace.loc["Fig", "pace_low"] < 12 < pace.loc["Fig", "pace_high"]
    assert pace["contribution_per_bottle"].tolist() == [10.0, 10.0]


def test_chances_of_being_the_fastest_add_to_one_and_equals_share_a_rank():
    pace = pace_of(demand_of({"A": 6.0, "B": 6.0, "C": 6.1, "D": 1.0}))
    assert pace["chance_fastest"].sum() == pytest.approx(1.0, abs=1e-12)
    assert pace["chance_fastest"]["D"] == 0
    assert pace["rank"].tolist()[-1] == 4
    assert pace["rank"].nunique() < 4


def test_a_launch_in_the_busy_season_does_not_look_fast():
    weeks = 104
    season = np.ones(weeks)
    season[-8:] = 5.0
    demand = demand_of({"Old": 4.0, "New": 4.0}, season=season)
    demand = demand[(demand["scent"] == "Old") | (demand["week"] >= demand["week"].max() - pd.Timedelta(weeks=7))]
    pace = pace_of(demand)
    assert pace.loc["New", "pace"] == pytest.approx(pace.loc["Old", "pace"], rel=0.25)
    assert pace["rank"].tolist() == [1, 1]


def test_sold_out_weeks_do_not_count_against_a_scent():
    demand = demand_of({"Fig": 8.0, "Rose": 4.0})
    out = (demand["scent"] == "Fig") & (demand["week"] >= demand["week"].max() - pd.Timedelta(weeks=15))
    demand.loc[out, "bottles"] = np.nan
    demand.loc[out, "shelf_days"] = 0.0
    pace = pace_of(demand)
    assert pace.loc["Fig", "pace"] > 1.5 * pace.loc["Rose", "pace"]


def test_ranges_hold_the_truth_about_as_often_as_they_say():
    # 60 shops of 6 scents with restless weeks; 90 of 100 ranges should hold the true pace
    held, total = 0, 0
    for seed in range(60):
        rates = dict(zip("ABCDEF", np.random.default_rng(seed).gamma(4, 1.5, 6), strict=True))
        pace = pace_of(demand_of(rates, spread=4.0, seed=seed), seed)
        # the season's level is only known from the same sales, so compare with the shop's own level
        level = pace["pace"].sum() / sum(rates.values())
        for scent, rate in rates.items():
            held += pace.loc[scent, "pace_low"] <= rate * level <= pace.loc[scent, "pace_high"]
            total += 1
    assert 0.85 < held / total < 0.97


def test_trend_is_growth_on_the_year_before_and_unknown_without_one():
    weeks = 104
    season = np.where(np.arange(weeks) < 52, 1.0, 1.5)
    pace = pace_of(demand_of({"Fig": 20.0, "Rose": 20.0}, season=season))
    assert pace.loc["Fig", "trend"] == pytest.approx(0.5, abs=0.1)
    assert pace.loc["Fig", "trend_low"] < 0.5 < pace.loc["Fig", "trend_high"]
    assert pace_of(demand_of({"Fig": 20.0}, weeks=40))["trend"].isna().all()


@pytest.mark.parametrize("weeks", [1, 3])
def test_a_short_history_gives_a_wide_range_and_no_crash(weeks):
    pace = pace_of(demand_of({"Fig": 2.0, "Rose": 0.0}, weeks=weeks))
    assert (pace["pace_high"] > pace["pace_low"]).all()


def test_nothing_sold_is_an_empty_ranking():
    assert scent_pace(demand_of({"Fig": 1.0}).iloc[:0], costs_of(), SETTINGS, np.random.default_rng(1)).empty


def test_the_same_seed_gives_the_same_table():
    demand = demand_of({"Fig": 5.0, "Rose": 4.0})
    pd.testing.assert_frame_equal(pace_of(demand), pace_of(demand))
