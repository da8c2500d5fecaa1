"""New scents: the maker's guess merged with the forecast, and the scents they are like."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from planner.season import draw_paths, fit_season, newcomers
from planner.season.newcomers import Hopes, level_beliefs, merge_guess, read_hopes
from planner.settings import Season, Settings

DAYS = np.arange("2025-10-27", "2025-12-19", dtype="datetime64[D]")


def hopes(guess, sd=0.5, like=()):
    guess = np.atleast_1d(np.asarray(guess, float))
    return Hopes(like or ((),) * len(guess), guess, np.full(len(guess), sd), DAYS)


SOLD, UNSOLD = np.array([True]), np.array([False])


@pytest.fixture
def always_good(monkeypatch):
    monkeypatch.setattr(newcomers, "GUESS_WRONG", 1e-300)


@pytest.mark.usefixtures("always_good")
def test_guess_and_level_are_merged_by_precision():
    # two normals, worked by hand: N(3, 0.8^2) and N(5, 0.5^2) have precisions 1.5625 and 4, together 5.5625;
    # mean (3 x 1.5625 + 5 x 4) / 5.5625 = 4.438, sd 1 / sqrt(5.5625) = 0.424
    rng = np.random.default_rng(0)
    season = np.exp(rng.normal(3, 0.8, (1, 40_000)))
    merged = np.log(season) + merge_guess(hopes(5), season, np.array([0.64]), SOLD, False, rng)
    assert merged.mean() == pytest.approx(4.438, abs=0.02)
    assert merged.std() == pytest.approx(0.424, abs=0.01)


@pytest.mark.usefixtures("always_good")
def test_a_guess_says_nothing_of_the_coming_christmas():
    # the level has variance 0.2^2, Christmas 0.6^2: merged with a guess of sd 0.5 the level moves by
    # 0.04 / (0.04 + 0.25) = 0.138 of the way from 3 + 0.36 / 2 (the log of the mean over Christmases) to 5; its
    # variance is 0.04 x 0.25 / 0.29 = 0.0345, and Christmas stays: sd sqrt(0.0345 + 0.36) = 0.628
    rng = np.random.default_rng(0)
    season = np.exp(3 + rng.normal(0, 0.2, (1, 40_000)) + rng.normal(0, 0.6, (1, 40_000)))
    merged = np.log(season) + merge_guess(hopes(5), season, np.array([0.04]), SOLD, False, rng)
    assert merged.mean() == pytest.approx(3 + 1.82 * 0.04 / 0.29, abs=0.02)
    assert merged.std() == pytest.approx(0.628, abs=0.01)


def test_a_sure_forecast_is_hardly_moved_and_an_unsure_one_goes_to_the_guess():
    rng = np.random.default_rng(0)
    sure, unsure = (np.exp(rng.normal(3, sd, (1, 20_000))) for sd in (0.05, 5.0))
    assert abs(merge_guess(hopes(5), sure, np.array([0.0025]), SOLD, False, rng).mean()) < 0.04
    moved = merge_guess(hopes(5), unsure, np.array([30.0]), SOLD, False, rng)
    assert np.median(np.log(unsure) + moved) == pytest.approx(5, abs=0.1)


def test_sales_show_a_wrong_guess_for_what_it_is():
    # sales say 6 with sd 0.3, a guess says 3.5: by precision alone, with sd 0.5, it would be pulled to 5.34
    rng = np.random.default_rng(0)
    season = np.exp(rng.normal(6, 0.3, (1, 20_000)))
    wrong = np.log(season) + merge_guess(hopes(3.5, 0.25), season, np.array([0.09]), SOLD, False, rng)
    assert 5.8 < wrong.mean() < 6
    right = np.log(season) + merge_guess(hopes(6.2, 0.25), season, np.array([0.09]), SOLD, False, rng)
    assert right.mean() == pytest.approx(6 + 0.2 * 0.09 / (0.09 + 0.25), abs=0.02)
    assert right.std() < 0.28


def test_before_its_first_sale_nothing_speaks_against_a_guess_but_the_shops_other_scents():
    # level 6 with sd 0.8 from the other scents, 30 to 60 as eight chances in ten: middle ln(1800)/2 = 3.748, sd 0.2704;
    # from 6 to 3.748 - 0.2 ** 2 / 2 by precision 3.728 + 2.272 x 0.0731 / (0.64 + 0.0731) = 3.961, sd 0.256, and
    # the season's own 0.2 on top: 0.325
    rng = np.random.default_rng(0)
    season = np.exp(6 + rng.normal(0, 0.8, (1, 40_000)) + rng.normal(0, 0.2, (1, 40_000)))
    merged = np.log(season) + merge_guess(hopes(3.748, 0.2704), season, np.array([0.64]), UNSOLD, False, rng)
    assert merged.mean() == pytest.approx(3.961, abs=0.01)
    assert merged.std() == pytest.approx(0.325, abs=0.01)


@pytest.mark.parametrize(("low", "high", "middle", "sd"), [(30, 60, 42.43, 0.2704), (40, np.nan, 40, 0.5)])
def test_a_range_is_taken_as_given_and_one_number_as_a_rough_one(low, high, middle, sd):
    scents = pd.DataFrame({"like": [None], "guess_low": [low], "guess_high": [high]}, index=["New"])
    found = read_hopes(scents, ("New",), np.array(["2025-10-01"], dtype="datetime64[D]"), DAYS)
    assert np.exp(found.guess) == pytest.approx([middle], rel=1e-3)
    assert found.guess_sd == pytest.approx([sd], rel=1e-3)


OLD = {"Fig": 8, "Rose": 4, "Oud": 6, "Moss": 18, "Seldom": 2}


def shop_with_new(guess, weeks):
    """Settled scents of 2 to 18 bottles a week for two years, and one that sells 28 a week since so many weeks."""
    mondays = pd.date_range(end="2025-10-06", periods=104, freq="7D", unit="us")
    parts = [pd.DataFrame({"week": mondays, "scent": name, "bottles": sold}) for name, sold in OLD.items()]
    parts += [pd.DataFrame({"week": mondays[-weeks:], "scent": "New", "bottles": 28})]
    demand = pd.concat(parts, ignore_index=True).assign(channel="all", shelf_days=7.0, exposure=1.0, known="counted")
    scents = pd.DataFrame({"scent": [*OLD, "New"]})
    scents["first_sold"] = pd.to_datetime([*[None] * len(OLD), mondays[-weeks]])
    scents["last_sold"] = pd.Series(pd.NaT, index=scents.index, dtype="datetime64[us]")
    scents["like"] = pd.Series(None, index=scents.index, dtype="str")
    new = scents["scent"].eq("New")
    scents["guess_low"], scents["guess_high"] = (np.where(new, end, np.nan) for end in guess)
    calendar = pd.DataFrame({name: pd.Series(dtype="str") for name in ("what", "kind", "channel")})
    calendar[["first_day", "last_day"]] = pd.DataFrame(columns=["a", "b"], dtype="datetime64[us]")
    season = Season(date(2025, 10, 27), date(2025, 12, 18))
    today = pd.Timestamp("2025-10-13")
    model = fit_season(demand, scents, calendar, Settings("Invented", "EUR", season=season), today)
    paths = draw_paths(model, today, pd.Timestamp("2025-12-18"), 1000, np.random.default_rng(1))
    return np.median(paths.of("New").sum(axis=1))


@pytest.mark.parametrize(("weeks", "share"), [(2, 0.6), (8, 0.7)])
def test_after_two_weeks_of_a_fast_seller_sales_outweigh_a_wrong_guess(weeks, share):
    bare = shop_with_new((np.nan, np.nan), weeks)
    assert shop_with_new((30, 60), weeks) > share * bare


def test_before_any_sale_the_guess_is_all_there_is():
    rng = np.random.default_rng(0)
    season = np.exp(rng.normal(3, 0.1, (1, 20_000)))
    merged = np.log(season) + merge_guess(hopes(5), season, np.array([0.01]), UNSOLD, True, rng)
    assert merged.mean() == pytest.approx(5, abs=0.02)
    assert merged.std() == pytest.approx(0.5, abs=0.02)


def test_scents_without_a_guess_and_scents_not_sold_in_the_season_stay_as_drawn():
    rng = np.random.default_rng(0)
    season = np.exp(rng.normal(3, 0.5, (3, 50)))
    season[2] = 0
    moved = merge_guess(hopes([np.nan, 5, 5]), season, np.full(3, 0.2), np.full(3, True), False, rng)
    assert not moved[0].any()
    assert moved[1].all()
    assert not moved[2].any()


def test_a_scent_starts_at_the_mean_of_those_it_is_like():
    mean, variance = level_beliefs(hopes([np.nan] * 3, like=((), (), (0, 1))), np.array([1.0, -0.4, 0.0]), 0.64)
    assert mean.tolist() == [0, 0, pytest.approx(0.3)]
    assert variance.tolist() == [0.64, 0.64, pytest.approx(0.36)]
