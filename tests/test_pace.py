"""The ranking as a whole: what it does with seasons, empty shelves, launches, markets and few sales."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.pace import scent_pace
from planner.problems import MakerError
from planner.settings import Ranking, Settings, read_settings

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
    assert pace["share"].sum() == pytest.approx(1.0, abs=1e-12)
    assert pace["chance_fastest"]["D"] == 0
    assert pace.loc["D", ["rank", "rank_to"]].tolist() == [4, 4]
    assert pace["rank"].nunique() < 4
    # a shop that wants to be nearly certain tells fewer scents apart
    careful = replace(SETTINGS, ranking=Ranking(told_apart_pct=99.9))
    demand = demand_of({"A": 6.0, "B": 4.5, "C": 1.0})
    bold, sure = (
        scent_pace(demand, costs_of(*"ABC"), shop, np.random.default_rng(3)).set_index("scent")
        for shop in (SETTINGS, careful)
    )
    assert (sure["rank_to"] - sure["rank"]).sum() > (bold["rank_to"] - bold["rank"]).sum()


def test_a_launch_in_the_busy_season_does_not_look_fast():
    # both sell 4 a week, five times as much in the last eight weeks, the only ones in which New was there: by the
    # calendar New sells 20 a week and Old 9
    season = np.ones(104)
    season[-8:] = 5.0
    ratios = []
    for seed in range(12):
        demand = demand_of({"Old": 4.0, "New": 4.0}, season=season, seed=seed)
        late = demand["week"] >= demand["week"].max() - pd.Timedelta(weeks=7)
        pace = pace_of(demand[(demand["scent"] == "Old") | late])
        ratios.append(np.log(pace.loc["New", "pace"] / pace.loc["Old", "pace"]))
    assert np.mean(ratios) == pytest.approx(0.0, abs=0.08)  # ± 2 standard errors of 160 against 160 bottles
    assert np.abs(ratios).max() < np.log(1.5)


def test_a_scent_sold_in_the_weeks_of_markets_only_is_set_against_those_weeks():
    # every second week a market doubles all sales; Stall was on the shelf in those weeks only
    season = np.tile([1.0, 2.0], 52)
    ratios = []
    for seed in range(12):
        demand = demand_of({"Web": 6.0, "Rose": 5.0, "Stall": 6.0}, season=season, seed=seed)
        quiet = (demand["scent"] == "Stall") & (demand["week"].rank(method="dense") % 2 == 1)
        demand.loc[quiet, ["bottles", "shelf_days"]] = [np.nan, 0.0]
        pace = pace_of(demand)
        ratios.append(np.log(pace.loc["Stall", "pace"] / pace.loc["Web", "pace"]))
    assert np.mean(ratios) == pytest.approx(0.0, abs=0.08)


def test_exposure_counts_where_the_table_has_it():
    rose = demand_of({"Rose": 6.0}).assign(exposure=1.0)
    fig = rose.assign(scent="Fig", exposure=0.5)  # as many bottles in half the selling
    pace = pace_of(pd.concat([fig, rose]))
    assert pace.loc["Fig", "pace"] / pace.loc["Rose", "pace"] == pytest.approx(2.0, rel=0.03)
    assert pace.loc["Fig", "shelf_weeks"] == pytest.approx(13.0)


def test_what_sells_to_order_is_no_pace():
    demand = demand_of({"Fig": 6.0, "Rose": 4.0})
    bulk = demand[demand["scent"] == "Rose"].assign(channel="wholesale", bottles=50.0)
    pd.testing.assert_frame_equal(pace_of(pd.concat([demand, bulk])), pace_of(demand))


def test_a_scent_on_the_shelf_too_short_comes_last_without_a_place_whatever_it_sold():
    demand = demand_of({"Old": 4.0, "Rose": 3.0, "New": 40.0})
    last = demand["week"].max()
    three = demand[(demand["scent"] != "New") | (demand["week"] > last - pd.Timedelta(weeks=3))]
    pace = pace_of(three)
    assert pace.index.tolist() == ["Old", "Rose", "New"]
    assert pace["rank"].isna().tolist() == [False, False, True]
    assert pace.loc["New", "weeks_since_launch"] == 3
    assert np.isnan(pace.loc["New", "chance_fastest"])  # nobody can say, so it takes nothing from those ranked
    assert pace["chance_fastest"].sum() == pytest.approx(1.0, abs=1e-12)
    four = demand[(demand["scent"] != "New") | (demand["week"] > last - pd.Timedelta(weeks=4))]
    assert pace_of(four)["rank"].notna().all()
    none = pace_of(demand[demand["week"] > last - pd.Timedelta(weeks=2)])
    assert none["rank"].isna().all()
    assert none["chance_fastest"].isna().all()


@given(st.lists(st.tuples(st.floats(0.05, 30), st.integers(1, 12)), min_size=1, max_size=6), st.integers(0, 99))
@settings(max_examples=30, deadline=None)
def test_chances_of_ranked_scents_add_to_one_and_others_have_none(scents, seed):
    demand = demand_of({f"S{n}": rate for n, (rate, _) in enumerate(scents)}, weeks=12, seed=seed)
    there = pd.Series({f"S{n}": weeks for n, (_, weeks) in enumerate(scents)})
    since = demand["week"].max() - pd.to_timedelta(7 * (demand["scent"].map(there) - 1), unit="D")
    pace = pace_of(demand[demand["week"] >= since])
    ranked = there.reindex(pace.index) >= 4
    assert pace["rank"].notna().tolist() == ranked.tolist()
    assert pace["chance_fastest"].notna().tolist() == ranked.tolist()
    assert pace["chance_fastest"].sum() == pytest.approx(1.0 if ranked.any() else 0.0, abs=1e-12)


def test_four_whole_weeks_are_enough_however_their_days_were_added_up():
    demand = demand_of({"Old": 4.0, "New": 4.0}, weeks=30)
    part = demand["week"] > demand["week"].max() - pd.Timedelta(weeks=5)
    demand = demand[(demand["scent"] == "Old") | part].assign(exposure=1.0)
    days = [4, 7, 7, 3, 7]  # 28 days, but their sevenths add up to 3.9999999999999996
    demand.loc[demand["scent"] == "New", "exposure"] = [count / 7 for count in days]
    assert sum(count / 7 for count in days) < 4
    assert pace_of(demand).loc["New", "rank"] >= 1


def test_a_scent_sold_to_order_only_is_no_shoppers_choice():
    demand = demand_of({"Fig": 6.0, "Rose": 4.0})
    bulk = demand_of({"Bulk": 0.0})
    order = bulk.assign(channel="wholesale", bottles=24.0, shelf_days=0.0)
    pd.testing.assert_frame_equal(pace_of(pd.concat([demand, bulk, order])), pace_of(demand))
    tester = pd.concat([demand, bulk.assign(bottles=1.0), order])  # some went to shoppers too
    assert pace_of(tester).loc["Bulk", "bottles"] == 26
    nothing = pd.concat([demand, bulk])  # for sale, wanted by nobody: a pace near zero is the truth
    assert pace_of(nothing).loc["Bulk", "rank"] == 3


def test_the_average_that_paces_are_drawn_to_stands_beside_them():
    pace = pace_of(demand_of({f"S{n}": 3.0 + n for n in range(8)}))
    assert pace["average_pace"].nunique() == 1
    average = pace["average_pace"].iloc[0]
    assert average == pytest.approx(6.5, rel=0.1)  # by hand: the mean of 3 to 10
    slow = pace["raw_pace"] < average
    assert (pace["pace"] > pace["raw_pace"])[slow].all()
    assert (pace["pace"] < pace["raw_pace"])[~slow].all()


def test_few_sales_are_drawn_to_the_average_and_the_raw_pace_is_shown_beside():
    rates = {f"S{n}": 5.0 + n / 10 for n in range(10)}
    demand = demand_of({**rates, "New": 0.0})
    recent = demand["week"] > demand["week"].max() - pd.Timedelta(weeks=5)
    demand = demand[(demand["scent"] != "New") | recent].copy()
    demand.loc[demand["scent"] == "New", "bottles"] = 1.0
    pace = pace_of(demand)
    assert pace.loc["New", "raw_pace"] == pytest.approx(1.0, rel=0.25)
    average = pace["pace"].drop("New").mean()
    assert pace.loc["New", "raw_pace"] < pace.loc["New", "pace"] < average
    drawn = np.abs(pace["pace"] / pace["raw_pace"] - 1)
    assert drawn.idxmax() == "New"


@given(st.permutations(list(range(60))), st.integers(2, 5))
@settings(max_examples=15, deadline=None)
def test_the_order_of_rows_and_a_change_of_the_whole_level_change_no_ranking(order, times):
    demand = demand_of({"A": 7.0, "B": 4.0, "C": 1.0}, weeks=20, seed=5)
    pace = pace_of(demand)
    pd.testing.assert_frame_equal(pace_of(demand.iloc[order]), pace)
    more = pace_of(demand.assign(bottles=demand["bottles"] * times))
    assert more["raw_pace"].to_numpy() == pytest.approx(times * pace["raw_pace"].to_numpy(), rel=0.15)
    assert more.index.tolist() == pace.index.tolist()


def test_sold_out_weeks_do_not_count_against_a_scent():
    demand = demand_of({"Fig": 8.0, "Rose": 4.0})
    out = (demand["scent"] == "Fig") & (demand["week"] >= demand["week"].max() - pd.Timedelta(weeks=15))
    demand.loc[out, "bottles"] = np.nan
    demand.loc[out, "shelf_days"] = 0.0
    pace = pace_of(demand)
    assert pace.loc["Fig", "pace"] > 1.5 * pace.loc["Rose", "pace"]


def test_trend_is_growth_on_the_year_before_and_unknown_without_one():
    weeks = 104
    season = np.where(np.arange(weeks) < 52, 1.0, 1.5)
    pace = pace_of(demand_of({"Fig": 20.0, "Rose": 20.0}, season=season))
    assert pace.loc["Fig", "trend"] == pytest.approx(0.5, abs=0.1)
    assert pace.loc["Fig", "trend_low"] < 0.5 < pace.loc["Fig", "trend_high"]
    assert pace_of(demand_of({"Fig": 20.0}, weeks=40))["trend"].isna().all()


def test_growth_of_the_whole_shop_is_no_growth_against_all_scents():
    season = np.where(np.arange(104) < 52, 1.0, 1.5)
    pace = pace_of(demand_of({"Fig": 20.0, "Rose": 20.0, "Oud": 9.0}, season=season))
    assert pace["trend"].to_numpy() == pytest.approx(0.5, abs=0.15)
    assert pace["ratio_trend"].to_numpy() == pytest.approx(0.0, abs=0.1)
    assert (pace["chance_fading"] < 0.05).all()


def test_a_scent_that_loses_half_its_pace_fades_and_one_sold_out_for_months_does_not():
    demand = demand_of({"Fig": 20.0, "Rose": 20.0, "Moss": 14.0, "Oud": 14.0})
    last_year = demand["week"] > demand["week"].max() - pd.Timedelta(weeks=52)
    demand.loc[last_year & (demand["scent"] == "Moss"), "bottles"] //= 2
    out = demand["week"].between("2026-01-05", "2026-05-04") & (demand["scent"] == "Oud")
    demand.loc[out, ["bottles", "shelf_days"]] = [np.nan, 0.0]
    pace = pace_of(demand)
    assert pace.loc["Moss", "chance_fading"] > 0.95
    assert pace.loc["Moss", "ratio_trend"] == pytest.approx(-0.45, abs=0.12)
    assert (pace["chance_fading"].drop("Moss") < 0.1).all()


@pytest.mark.parametrize("weeks", [1, 3])
def test_a_short_history_gives_a_wide_range_and_no_crash(weeks):
    pace = pace_of(demand_of({"Fig": 2.0, "Rose": 0.0}, weeks=weeks))
    assert (pace["pace_high"] > pace["pace_low"]).all()


def test_nothing_sold_is_an_empty_ranking():
    assert scent_pace(demand_of({"Fig": 1.0}).iloc[:0], costs_of(), SETTINGS, np.random.default_rng(1)).empty


def test_the_same_seed_gives_the_same_table():
    demand = demand_of({"Fig": 5.0, "Rose": 4.0})
    pd.testing.assert_frame_equal(pace_of(demand), pace_of(demand))


def test_how_sure_a_ranking_must_be_is_read_from_the_shop_and_nonsense_refused():
    shop = read_settings('name = "T"\ncurrency = "EUR"\n[ranking]\ntold_apart_pct = 95\n')
    assert shop.ranking.told_apart_pct == 95.0
    assert SETTINGS.ranking.told_apart_pct == 80.0
    with pytest.raises(MakerError, match="told_apart_pct is between 50 and 100, not 20"):
        read_settings('name = "T"\ncurrency = "EUR"\n[ranking]\ntold_apart_pct = 20\n')
