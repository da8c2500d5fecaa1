"""Rates, places and classes against tables, other libraries and slow plain ways."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2, nbinom
from statsmodels.stats.rates import confint_poisson

from planner.pace import exact_interval
from planner.pace.places import abc_classes, places
from planner.pace.rates import SHAPE_SD, SHAPES, USUAL_SHAPE, Rates, chance_faster, draw_rates, posterior


# Garwood (1936), Biometrika 28, 437-442, 95 % limits of a Poisson mean; [memory], computed again from chi-square below
@pytest.mark.parametrize(
    ("bottles", "low", "high"), [(0, 0.0, 3.689), (1, 0.0253, 5.572), (5, 1.623, 11.668), (10, 4.795, 18.390)]
)
def test_exact_limits_are_those_of_the_published_table(bottles, low, high):
    ends = exact_interval(np.array([bottles]), np.array([1.0]), level=0.95)
    assert (ends[0][0], ends[1][0]) == (pytest.approx(low, abs=5e-4), pytest.approx(high, abs=5e-4))
    again = chi2.ppf(0.025, 2 * bottles) / 2 if bottles else 0.0, chi2.ppf(0.975, 2 * bottles + 2) / 2
    assert (ends[0][0], ends[1][0]) == (pytest.approx(again[0]), pytest.approx(again[1]))


def test_the_exact_interval_of_a_rate_is_that_of_a_documented_example():
    # documentation of R's poisson.test, example poisson.test(137, 24.19893): low end of the 95 % interval 4.753125
    # [memory]; the high end [computed] with statsmodels
    low, high = exact_interval(np.array([137]), np.array([24.19893]), level=0.95)
    assert low[0] == pytest.approx(4.753125, abs=2e-6)
    assert high[0] == pytest.approx(6.692709, abs=2e-6)


@given(st.integers(0, 3000), st.floats(0.5, 200), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_exact_intervals_agree_with_statsmodels(bottles, weeks, level):
    low, high = exact_interval(np.array([bottles]), np.array([weeks]), level)
    if bottles:  # with none sold statsmodels gives no low end
        assert low[0] == pytest.approx(confint_poisson(bottles, weeks, method="exact-c", alpha=1 - level)[0], rel=1e-7)
    assert high[0] == pytest.approx(confint_poisson(bottles, weeks, method="exact-c", alpha=1 - level)[1], rel=1e-7)


def test_the_spread_of_scents_is_the_likeliest_by_a_slow_search_over_shape_and_average():
    rng = np.random.default_rng(8)
    weeks = pd.Series(rng.uniform(4, 26, 12))
    sold = pd.Series(rng.poisson(rng.gamma(2.0, 2.5, 12) * weeks).astype(float))
    rates = posterior(sold, weeks, pd.Series(0.0, index=sold.index))
    shape = float((rates.shape - sold).iloc[0])
    best = (-np.inf, 0.0, 0.0)
    for a in SHAPES:  # gamma-Poisson counts are negative binomial
        for m in np.geomspace(3, 8, 100):
            chance = nbinom.logpmf(sold, a, a / (a + m * weeks)).sum() - (np.log(a / USUAL_SHAPE) / SHAPE_SD) ** 2 / 2
            best = max(best, (chance, a, m))
    assert shape == pytest.approx(best[1])
    assert rates.average == pytest.approx(best[2], rel=0.02)


def test_with_many_scents_the_spread_is_found_and_ranges_hold():
    rng = np.random.default_rng(5)
    true = rng.gamma(3.0, 2.0, 600)
    sold = pd.Series(rng.poisson(true * 3.0).astype(float))
    rates = posterior(sold, pd.Series(3.0, index=sold.index), pd.Series(0.0, index=sold.index))
    assert float((rates.shape - sold).iloc[0]) == pytest.approx(3.0, rel=0.2)
    assert rates.average == pytest.approx(6.0, rel=0.05)
    low, high = rates.interval()
    assert np.mean((low <= true) & (true <= high)) == pytest.approx(0.9, abs=0.03)


def test_uneven_weeks_widen_a_range_and_draw_it_in_and_unseen_ones_only_widen_it():
    sold, weeks, none = pd.Series([40.0, 400.0]), pd.Series([20.0, 20.0]), pd.Series([0.0, 0.0])
    plain, uneven, unseen = (
        posterior(sold, weeks, uneven, unseen)
        for uneven, unseen in ((none, none), (none + 0.05, none), (none, none + 0.05))
    )
    mean = plain.shape / plain.rate
    assert (uneven.shape < plain.shape).all()
    assert (unseen.shape < plain.shape).all()
    assert (unseen.shape / unseen.rate).to_numpy() == pytest.approx(mean.to_numpy())
    # relative variance of a gamma is one over its shape, and 0.05 comes on top
    assert (1 / unseen.shape).to_numpy() == pytest.approx((1 / plain.shape + 0.05).to_numpy())


def test_the_chance_to_be_faster_is_that_of_exponentials_by_hand_and_of_draws():
    one = Rates(pd.Series([1.0, 1.0]), pd.Series([1.0, 3.0]), 1.0)
    assert chance_faster(one)[0, 1] == pytest.approx(3 / 4)  # of two exponentials: rate of the other over both
    rates = Rates(pd.Series([9.0, 30.0, 4.0]), pd.Series([2.0, 6.0, 1.5]), 1.0)
    draws = draw_rates(rates, 200_000, np.random.default_rng(1))
    chance = chance_faster(rates)
    for i in range(3):
        for j in range(3):
            if i != j:
                assert chance[i, j] == pytest.approx(np.mean(draws[:, i] > draws[:, j]), abs=0.005)
    assert chance + chance.T == pytest.approx(np.ones((3, 3)), abs=1e-9)


def test_places_worked_by_hand():
    # A beats C but not B, B does not beat C, all beat D
    faster = np.array([[0.5, 0.6, 0.9, 1.0], [0.4, 0.5, 0.7, 1.0], [0.1, 0.3, 0.5, 0.95], [0.0, 0.0, 0.05, 0.5]])
    first, last = places(faster, 0.8)
    assert first.tolist() == [1, 1, 2, 4]
    assert last.tolist() == [2, 3, 3, 4]
    assert places(faster, 0.99)[1].tolist() == [3, 3, 4, 4]
    assert [part.tolist() for part in places(np.empty((0, 0)), 0.8)] == [[], []]


@given(st.lists(st.tuples(st.floats(0.5, 200), st.floats(1, 40)), min_size=1, max_size=12), st.floats(0.55, 0.99))
@settings(max_examples=200)
def test_scents_that_are_not_told_apart_always_share_a_place(scents, level):
    table = pd.DataFrame(scents, columns=["shape", "rate"])
    table = table.loc[(table["shape"] / table["rate"]).sort_values(ascending=False).index].reset_index(drop=True)
    chance = chance_faster(Rates(table["shape"], table["rate"], 1.0))
    first, last = places(chance, level)
    number = np.arange(1, len(table) + 1)
    assert (first <= number).all()
    assert (number <= last).all()
    for i in range(len(table)):
        for j in range(i):
            if max(chance[i, j], chance[j, i]) < level:
                assert last[j] >= first[i]


def test_classes_and_shares_by_hand():
    # 100 in all; before each: 0, 50, 80, 90, 96 %: the one that crosses 80 % is still A, the one that crosses 95 % B
    amounts = pd.Series({"e": 4.0, "a": 50.0, "c": 10.0, "b": 30.0, "d": 6.0, "x": np.nan})
    classes = abc_classes(amounts)
    assert classes[["a", "b", "c", "d", "e"]].tolist() == ["A", "A", "B", "B", "C"]
    assert classes.isna()["x"]
    assert abc_classes(pd.Series([90.0, 10.0])).tolist() == ["A", "B"]
    assert abc_classes(pd.Series([5.0, -2.0])).tolist() == ["A", "C"]
