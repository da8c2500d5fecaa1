"""New scents: the maker's guess merged with the forecast, and the scents they are like."""

import numpy as np
import pytest

from planner.season.newcomers import Hopes, level_beliefs, merge_guess

DAYS = np.arange("2025-10-27", "2025-12-19", dtype="datetime64[D]")


def hopes(guess, sd=0.5, like=()):
    guess = np.atleast_1d(np.asarray(guess, float))
    return Hopes(like or ((),) * len(guess), guess, np.full(len(guess), sd), DAYS)


def test_guess_and_forecast_are_merged_by_precision():
    # two normals, worked by hand: N(3, 0.8^2) and N(5, 0.5^2) have precisions 1.5625 and 4, together 5.5625;
    # mean (3 x 1.5625 + 5 x 4) / 5.5625 = 4.438, sd 1 / sqrt(5.5625) = 0.424
    rng = np.random.default_rng(0)
    season = np.exp(rng.normal(3, 0.8, (1, 40_000)))
    merged = np.log(season) + merge_guess(hopes(5), season, False, rng)
    assert merged.mean() == pytest.approx(4.438, abs=0.02)
    assert merged.std() == pytest.approx(0.424, abs=0.01)


def test_a_sure_forecast_is_hardly_moved_and_an_unsure_one_goes_to_the_guess():
    rng = np.random.default_rng(0)
    sure, unsure = (np.exp(rng.normal(3, sd, (1, 20_000))) for sd in (0.05, 5.0))
    assert abs(merge_guess(hopes(5), sure, False, rng).mean()) < 0.04
    assert (np.log(unsure) + merge_guess(hopes(5), unsure, False, rng)).mean() == pytest.approx(5, abs=0.05)


def test_before_any_sale_the_guess_is_all_there_is():
    rng = np.random.default_rng(0)
    season = np.exp(rng.normal(3, 0.1, (1, 20_000)))
    merged = np.log(season) + merge_guess(hopes(5), season, True, rng)
    assert merged.mean() == pytest.approx(5, abs=0.02)
    assert merged.std() == pytest.approx(0.5, abs=0.02)


def test_scents_without_a_guess_and_scents_not_sold_in_the_season_stay_as_drawn():
    rng = np.random.default_rng(0)
    season = np.exp(rng.normal(3, 0.5, (3, 50)))
    season[2] = 0
    moved = merge_guess(hopes([np.nan, 5, 5]), season, False, rng)
    assert not moved[0].any()
    assert moved[1].all()
    assert not moved[2].any()


def test_a_scent_starts_at_the_mean_of_those_it_is_like():
    mean, variance = level_beliefs(hopes([np.nan] * 3, like=((), (), (0, 1))), np.array([1.0, -0.4, 0.0]), 0.64)
    assert mean.tolist() == [0, 0, pytest.approx(0.3)]
    assert variance.tolist() == [0.64, 0.64, pytest.approx(0.36)]
