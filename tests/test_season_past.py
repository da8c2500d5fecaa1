"""The check on the maker's own past."""

import numpy as np
import pandas as pd
import pytest
from simulated_shops import demand_table, scents_table, simulate

from planner.season import check_on_past
from planner.season.past import LAST_YEAR, OURS, origin_of
from planner.season.scores import mase, pinball
from planner.settings import Settings

SHOP = Settings("Invented", "EUR")


@pytest.fixture(scope="module")
def world():
    return simulate(np.random.default_rng(11), scents=6, weeks=156)


@pytest.fixture(scope="module")
def past(world):
    return check_on_past(demand_table(world), scents_table(world), world.calendar, SHOP, np.random.default_rng(1))


def test_origins_are_mondays_three_weeks_before_past_seasons(past):
    # the usual season is 24 October to 18 December; history from autumn 2021 on has 40 weeks before two of them
    origins = past.ranges["origin"].unique()
    assert list(origins) == [pd.Timestamp("2022-10-03"), pd.Timestamp("2023-10-02")]
    assert origin_of(pd.Timestamp("2023-10-24")) == pd.Timestamp("2023-10-02")


def test_ranges_and_scores_belong_together(past):
    row = past.ranges[past.ranges["scent"] == "Scent 02"].iloc[0]
    score = past.scores[(past.scores["scent"] == "Scent 02") & (past.scores["origin"] == row["origin"])].set_index(
        "method"
    )
    assert score.loc[OURS, "bottles"] == score.loc[LAST_YEAR, "bottles"] == row["bottles"]
    levels = {"p05": 0.05, "p10": 0.1, "p25": 0.25, "p50": 0.5, "p75": 0.75, "p90": 0.9, "p95": 0.95}
    by_hand = np.mean([pinball(row["bottles"], row[name], level) for name, level in levels.items()])
    assert score.loc[OURS, "pinball"] == pytest.approx(by_hand)
    assert score.loc[OURS, "abs_error"] == pytest.approx(abs(row["bottles"] - row["p50"]))


def test_what_happened_is_what_was_sold_in_the_whole_weeks_of_the_season(past, world):
    demand = demand_table(world)
    season = demand[demand["week"].between("2023-10-23", "2023-12-11") & demand["scent"].eq("Scent 01")]
    said = past.ranges[(past.ranges["scent"] == "Scent 01") & (past.ranges["origin"] == "2023-10-02")]
    assert said["bottles"].iloc[0] == season["bottles"].sum()


def test_the_summary_counts_what_held(past):
    ours = past.summary.set_index("method").loc[OURS]
    own = past.ranges[past.ranges["scent"] != "all scents"]
    assert ours["of"] == len(own)
    assert ours["held_80"] == ((own["bottles"] >= own["p10"]) & (own["bottles"] <= own["p90"])).sum()
    assert ours["held_50"] <= ours["held_80"] <= ours["held_90"]
    assert past.summary.set_index("method").loc[LAST_YEAR, "ratio_to_last_year"] == pytest.approx(1.0)
    assert f"held {int(ours['held_80'])} times of {int(ours['of'])}" in past.sentence


def test_last_year_worked_by_hand():
    weeks = pd.date_range("2022-01-03", "2023-12-25", freq="7D").astype("datetime64[us]")
    bottles = np.where(weeks.year == 2022, 2, 3)
    demand = pd.DataFrame({"week": weeks, "scent": "Fig", "channel": "all", "shelf_days": 7.0, "usual_price": 9.0})
    demand["bottles"] = pd.array(bottles, dtype="Int64")
    scents = pd.DataFrame({"scent": ["Fig"], "like": [None], "guess_low": np.nan, "guess_high": np.nan})
    scents = scents.assign(first_sold=pd.NaT, last_sold=pd.NaT).astype(
        {"first_sold": "datetime64[us]", "last_sold": "datetime64[us]"}
    )
    calendar = pd.DataFrame(columns=["first_day", "what", "last_day", "kind", "channel", "note"])
    calendar = calendar.astype({"first_day": "datetime64[us]", "last_day": "datetime64[us]"})
    past = check_on_past(demand, scents, calendar, SHOP, np.random.default_rng(0))
    last = past.scores[(past.scores["origin"] == "2023-10-02") & (past.scores["scent"] == "Fig")].set_index("method")
    # eight weeks of 3 bottles; last year eight weeks of 2; the half year before sold 26 x 3 against 26 x 2
    assert last["bottles"].unique().tolist() == [24]
    assert last.loc[LAST_YEAR, "mean"] == 16
    assert last.loc["last year times growth", "mean"] == pytest.approx(24)
    assert last.loc["pace of the last 8 weeks", "mean"] == pytest.approx(24)
    # a week of 2023 differs by 1 from that of 2022, and so does last year's forecast of each week
    assert last.loc[LAST_YEAR, "scaled_error"] == pytest.approx(1)
    assert last.loc["last year times growth", "scaled_error"] == pytest.approx(0)
    assert last.loc[LAST_YEAR, "pinball"] == pytest.approx(
        4
    )  # half of the error of 8: the levels lie even about the middle


def test_scaled_errors_are_mase_by_its_published_definition():
    """The same by season.scores.mase (Hyndman & Koehler 2006) on a scent that is never sold out."""
    world = simulate(np.random.default_rng(4), scents=3, weeks=156, supply=False)
    demand = demand_table(world)
    past = check_on_past(demand, scents_table(world), world.calendar, SHOP, np.random.default_rng(0), count=100)
    sold = demand[demand["scent"] == "Scent 00"].set_index("week")["bottles"].astype(float)
    origin, season = pd.Timestamp("2023-10-02"), slice("2023-10-23", "2023-12-11")
    before = sold[sold.index < origin].to_numpy()
    happened = sold[season]
    last_year = sold[happened.index - pd.Timedelta(weeks=52)].to_numpy()
    row = past.scores[(past.scores["scent"] == "Scent 00") & (past.scores["origin"] == origin)].set_index("method")
    assert row.loc[LAST_YEAR, "scaled_error"] == pytest.approx(mase(before, happened.to_numpy(), last_year, 52))
    pace = np.full(len(happened), before[-8:].mean())
    assert row.loc["pace of the last 8 weeks", "scaled_error"] == pytest.approx(
        mase(before, happened.to_numpy(), pace, 52)
    )
    single = past.scores[past.scores["scent"] != "all scents"]
    mean = single.groupby("method")["scaled_error"].mean()
    assert past.summary.set_index("method")["mase"].to_dict() == pytest.approx(mean.to_dict(), nan_ok=True)


def test_one_giant_order_and_a_silent_year_are_not_scored(world):
    demand = demand_table(world)
    giant = demand.copy()
    at = giant["scent"].eq("Scent 01") & giant["week"].eq("2023-11-27")
    giant.loc[at, "bottles"] = 5000
    past = check_on_past(giant, scents_table(world), world.calendar, SHOP, np.random.default_rng(1))
    row = past.ranges[past.ranges["scent"].eq("Scent 01") & past.ranges["origin"].eq("2023-10-02")].iloc[0]
    assert row["bottles"] < 1000
    silent = demand.assign(bottles=demand["bottles"].mask(demand["week"].between("2022-08-01", "2023-03-01"), 0))
    past = check_on_past(silent, scents_table(world), world.calendar, SHOP, np.random.default_rng(1))
    assert list(past.ranges["origin"].unique()) == [pd.Timestamp("2023-10-02")]


def test_sold_out_weeks_are_not_scored_as_misses(world):
    demand = demand_table(world)
    season = demand["week"].between("2023-10-23", "2023-12-11")
    gone = demand.copy()
    gone.loc[season, "bottles"] = 0
    gone.loc[season, "shelf_days"] = 0.0
    past = check_on_past(gone, scents_table(world), world.calendar, SHOP, np.random.default_rng(1))
    assert list(past.ranges["origin"].unique()) == [pd.Timestamp("2022-10-03")]


def test_too_little_history_gives_empty_tables_and_the_reason(world):
    demand = demand_table(world, weeks=30)
    past = check_on_past(demand, scents_table(world), world.calendar, SHOP, np.random.default_rng(1))
    assert past.scores.empty
    assert past.ranges.empty
    assert past.summary.empty
    assert past.sentence.startswith("The forecast cannot be checked on the past yet: it takes 40 weeks")
    nothing = check_on_past(demand.iloc[:0], scents_table(world), world.calendar, SHOP, np.random.default_rng(1))
    assert "there are no weeks" in nothing.sentence


def test_the_same_seed_gives_the_same_check(past, world):
    again = check_on_past(demand_table(world), scents_table(world), world.calendar, SHOP, np.random.default_rng(1))
    pd.testing.assert_frame_equal(past.scores, again.scores)
    pd.testing.assert_frame_equal(past.summary, again.summary)


def test_a_handful_of_bottles_is_neither_high_nor_low_in_percent(world):
    demand = demand_table(world)
    few = demand.assign(bottles=demand["bottles"].where(demand["week"] < "2022-08-01", 0))
    seldom = few["week"].isin(few["week"].unique()[::4]) & few["scent"].eq("Scent 01")  # so that there is no silence
    few.loc[seldom & (few["week"] >= "2022-08-01"), "bottles"] = 1
    past = check_on_past(few, scents_table(world), world.calendar, SHOP, np.random.default_rng(1))
    assert past.summary["bias_pct"].isna().all()
    assert past.sentence.endswith(
        "fewer than 10 bottles were sold, too few to say whether the forecast was high or low."
    )
