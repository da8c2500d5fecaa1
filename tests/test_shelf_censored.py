import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter
from lifelines.datasets import load_waltons
from scipy import optimize, stats

from planner.shelf.censored import (
    censored_negative_binomial,
    censored_poisson,
    expected_demand,
    normal_from_uncensored,
    product_limit,
)

# Freireich et al., Blood 21 (1963), weeks of remission of the treated arm, + censored: from memory, recomputed with an
# established library ([memory] +computed)
LEUKAEMIA = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+".split()  # noqa: SIM905
WEEKS = np.array([int(cell.rstrip("+")) for cell in LEUKAEMIA])
CENSORED = np.array([cell.endswith("+") for cell in LEUKAEMIA])


def test_the_leukaemia_example_of_the_product_limit():
    found = product_limit(WEEKS, CENSORED).set_index("value")
    published = {6: 0.8571, 7: 0.8067, 10: 0.7529, 13: 0.6902, 16: 0.6275, 22: 0.5378, 23: 0.4482}
    assert found["above"].round(4).to_dict() == published
    assert found["above"].index[found["above"] <= 0.5][0] == 23  # the median, from the same source
    assert found.loc[6, ["at_risk", "ended"]].tolist() == [21, 3]


@given(st.lists(st.tuples(st.integers(0, 30), st.booleans()), min_size=1, max_size=40))
@settings(max_examples=40, deadline=None)
def test_the_product_limit_agrees_with_two_established_libraries(rows):
    counts, cut = (np.array(column) for column in zip(*rows, strict=True))
    found = product_limit(counts, cut)
    if cut.all():
        assert found.empty
        return
    one = KaplanMeierFitter().fit(counts, ~cut).survival_function_at_times(found["value"])
    other = stats.ecdf(stats.CensoredData(uncensored=counts[~cut], right=counts[cut])).sf.evaluate(found["value"])
    assert found["above"].to_numpy() == pytest.approx(one.to_numpy(), abs=1e-12)
    assert found["above"].to_numpy() == pytest.approx(other, abs=1e-12)


def test_the_flies_of_an_established_library():
    # lifelines' own example of 163 flies: median 56 ([memory] +computed)
    flies = load_waltons()
    assert len(flies) == 163
    found = product_limit(flies["T"], flies["E"] == 0)
    assert found["value"][found["above"] <= 0.5].iloc[0] == 56


def test_the_product_limit_is_not_defined_beyond_a_censored_largest_value():
    assert product_limit([3, 5, 9], [False, False, True])["above"].iloc[-1] > 0
    assert product_limit([3, 5, 9], [False, True, False])["above"].iloc[-1] == 0


def test_the_normal_round_trip_by_nahmias():
    # N(100, 20) cut at 110: share, mean and spread of what stays below it, computed from the truncated normal
    below = stats.truncnorm(-np.inf, 0.5, loc=100, scale=20)
    assert (below.mean(), below.std()) == pytest.approx((89.816791, 13.945256), abs=1e-6)
    assert normal_from_uncensored(below.mean(), below.std(), 0.6914624612740131) == pytest.approx((100, 20), rel=1e-7)
    assert normal_from_uncensored(7.0, 2.0, 1.0) == (7.0, 2.0)
    with pytest.raises(ValueError, match="share is above 0"):
        normal_from_uncensored(7.0, 2.0, 0.0)


def test_a_censored_poisson_worked_by_hand():
    # counts 2 and "1 or more": m = likeliest of m^2 e^-m (1 - e^-m), so 2/m - 1 + e^-m / (1 - e^-m) = 0
    mean = optimize.brentq(lambda m: 2 / m - 1 + np.exp(-m) / (1 - np.exp(-m)), 0.1, 10)
    assert censored_poisson([2, 1], [False, True]).mean == pytest.approx(mean, rel=1e-9)
    assert mean == pytest.approx(2.2628, abs=1e-4)


def test_without_censoring_the_mean_is_the_mean():
    assert censored_poisson([2, 3, 7], [False] * 3).mean == pytest.approx(4.0)
    assert censored_poisson([2, 3, 7], [False] * 3, [1, 1, 2]).mean == pytest.approx(3.0)
    assert censored_negative_binomial([0, 3, 17], [False] * 3).mean == pytest.approx(20 / 3)


def slow_likelihood(counts, cut, exposure, mean, size):
    """Return the log likelihood, count by count."""
    total = 0.0
    for y, is_cut, x in zip(counts, cut, exposure, strict=True):
        law = stats.poisson(mean * x) if np.isinf(size) else stats.nbinom(size, size / (size + mean * x))
        total += law.logsf(y - 1) if is_cut else law.logpmf(y)
    return total


@pytest.mark.parametrize("seed", range(3))
def test_censored_estimates_are_where_a_slow_direct_likelihood_is_highest(seed):
    rng = np.random.default_rng([8, seed])
    exposure = rng.uniform(0.3, 3.0, 40)
    demand = rng.negative_binomial(2.0, 2.0 / (2.0 + 6.0 * exposure))
    stock = rng.integers(3, 15, 40)
    counts, cut = np.minimum(demand, stock), demand >= stock
    for fit, start in ((censored_poisson, [1.5]), (censored_negative_binomial, [1.5, 0.5])):
        found = fit(counts, cut, exposure)

        def unlikely(p):
            size = np.exp(p[1]) if len(p) > 1 else np.inf
            return -slow_likelihood(counts, cut, exposure, np.exp(p[0]), size)

        slow = optimize.minimize(unlikely, start, method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-9})
        assert found.mean == pytest.approx(np.exp(slow.x[0]), rel=1e-4)
        if len(start) > 1:
            assert found.size == pytest.approx(np.exp(slow.x[1]), rel=1e-3)
        here = slow_likelihood(counts, cut, exposure, found.mean, found.size)
        assert here >= -slow.fun - 1e-7


@pytest.mark.parametrize("size", [np.inf, 1.7])
@pytest.mark.parametrize(("at_least", "mean"), [(0, 3.0), (1, 3.0), (5, 3.0), (40, 3.0), (3, 0.01)])
def test_expected_demand_is_the_slow_sum_over_all_it_may_be(at_least, mean, size):
    n = np.arange(at_least, at_least + 2000)
    law = stats.poisson(mean) if np.isinf(size) else stats.nbinom(size, size / (size + mean))
    slow = (n * law.pmf(n)).sum() / law.pmf(n).sum()
    assert expected_demand(at_least, mean, size) == pytest.approx(slow, rel=1e-8)


def test_estimates_find_the_truth_again_where_raw_sales_fall_short():
    rng = np.random.default_rng(11)
    demand = rng.negative_binomial(3.0, 3.0 / (3.0 + 10.0), 6_000)
    stock = rng.integers(4, 25, 6_000)
    counts, cut = np.minimum(demand, stock), demand >= stock
    found = censored_negative_binomial(counts, cut)
    assert counts.mean() < 8.5
    assert found.mean == pytest.approx(10.0, rel=0.03)
    assert found.size == pytest.approx(3.0, rel=0.1)
    # the product limit, which assumes no shape, has the same half
    above = product_limit(counts, cut)
    law = stats.nbinom(found.size, found.size / (found.size + found.mean))
    assert above["above"].to_numpy()[:20] == pytest.approx(law.sf(above["value"].to_numpy()[:20]), abs=0.03)


def test_what_cannot_be_told_is_unknown_or_refused():
    assert np.isnan(censored_poisson([3, 4], [True, True]).mean)
    assert np.isnan(censored_negative_binomial([3, 4], [True, True]).mean)
    assert censored_negative_binomial([0, 0, 0], [False, False, True]).mean == 0
    with pytest.raises(ValueError, match="0 or more"):
        censored_poisson([-1], [False])
