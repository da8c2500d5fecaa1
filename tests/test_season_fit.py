"""The mode against a plain slow reference, and against an established library where the model is a plain GLM."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize
from scipy.special import gammaln
from scipy.stats import nbinom
from simulated_shops import demand_table, scents_table, simulate

from planner.season.calendar import FEATURES
from planner.season.design import columns, drift_steps, log_season, past_weeks, shape_matrix
from planner.season.fit import fit, make_beliefs
from planner.season.history import read_history
from planner.season.mode import Beliefs, find_mode
from planner.season.priors import BLOCK_WEEKS, SINCE_MIDDLE, WALK
from planner.settings import Settings


@pytest.fixture(scope="module")
def tiny():
    world = simulate(np.random.default_rng(3), scents=3, weeks=40, end="2024-02-05")
    return read_history(demand_table(world), scents_table(world), world.calendar, Settings("x", "EUR"), world.today)


def plain_objective(history, weeks, beliefs, start):
    """Minus the log posterior with the shapes taken at `start`, week by week and scent by scent, as it is written."""
    q, (n, p) = len(beliefs.shared_mean), beliefs.scent_mean.shape
    effects_at = weeks.day_effects
    peak_at_start = columns(weeks, start[effects_at]).means @ shape_matrix(weeks.features.shape[-1])

    def value(x):
        shared, scent = x[:q], x[q:].reshape(n, p)
        off = shared - beliefs.shared_mean
        total = -0.5 * off @ beliefs.shared_precision @ off
        total -= 0.5 * (beliefs.scent_precision * (scent - beliefs.scent_mean) ** 2).sum()
        for t in range(len(history.weeks)):
            day = [weeks.opened[t, d] * np.exp(weeks.features[t, d] @ shared[effects_at]) for d in range(7)]
            frame = [*weeks.slow[t], *(weeks.in_year[t] * peak_at_start[t, 0])]
            common = np.log(sum(day) / 7) + shared[: len(frame)] @ frame
            for i in range(n):
                e, y, k = history.on_shelf[i, t], history.bottles[i, t], beliefs.size[i]
                if e > 0:
                    own = scent[i] @ [*frame, *peak_at_start[t]] + shared[-1] * weeks.launch[i, t]
                    m = e * np.exp(common + own)
                    if history.end_only[i, t]:
                        total += nbinom.logsf(y - 1, k, k / (k + m))
                        continue
                    total += y * np.log(m / (m + k)) + k * np.log(k / (m + k))
                    total += gammaln(y + k) - gammaln(k) - gammaln(y + 1)
        return -total

    return value


@pytest.mark.parametrize("sold_out", [0.0, 0.2])
def test_the_mode_is_where_a_general_optimiser_ends(tiny, sold_out):
    """Also where of a fifth of the weeks only the end is known: sold out by then."""
    ends = (np.random.default_rng(1).random(tiny.bottles.shape) < sold_out) & (tiny.on_shelf > 0)
    tiny = replace(tiny, end_only=ends)
    learned = fit(tiny)
    weeks, start = learned.weeks, learned.mode.shared
    beliefs = make_beliefs(tiny, weeks, learned.spreads, learned.sizes, start, learned.mode.scent)
    mode = find_mode(tiny, weeks, beliefs, start, learned.mode.scent, 60)
    plain = plain_objective(tiny, weeks, beliefs, start)
    ours = np.concatenate([mode.shared, mode.scent.ravel()])
    steps = 1e-4 * np.eye(len(ours))
    assert max(abs(plain(ours + step) - plain(ours - step)) / 2e-4 for step in steps) < 1e-3
    off = ours + 0.05 * np.random.default_rng(0).standard_normal(len(ours))
    found = minimize(plain, off, method="L-BFGS-B", options={"maxiter": 40, "maxfun": 20_000})
    assert plain(ours) <= found.fun
    assert plain(ours) == pytest.approx(found.fun, abs=0.05)


def glm_case(pooled, size=4.0, promotions=False):
    """Two years of three scents; every effect but level, trend and promotions held at zero by its prior."""
    world = simulate(np.random.default_rng(8), scents=3, weeks=100)
    begins = pd.DatetimeIndex(world.days[35:700:49]).as_unit("us")  # whole weeks: the mean of its days is the effect
    sale = {"first_day": begins, "last_day": begins + pd.Timedelta(days=6), "what": "sale", "kind": "promotion"}
    calendar = pd.concat([world.calendar, pd.DataFrame(sale)], ignore_index=True)
    history = read_history(demand_table(world), scents_table(world), calendar, Settings("x", "EUR"), world.today)
    weeks, _ = past_weeks(history)
    q, p = weeks.day_effects.stop + 1, weeks.slow.shape[1] + weeks.years + 5
    shared, scent = np.full(q, 1e10), np.full((3, p), 1e10)
    (shared if pooled else scent)[..., :2] = 1e-10
    at = weeks.day_effects.start + len(FEATURES) + history.trade.events.index("promotion")
    shared[at] = 1e-10 if promotions else 1e10
    beliefs = Beliefs(np.zeros(q), np.diag(shared), np.zeros((3, p)), scent, np.full(3, size))
    return history, weeks, find_mode(history, weeks, beliefs, np.zeros(q), np.zeros((3, p)), 60), at


def glm(history, weeks, scents, family=None, promotions=False):
    """Estimates and their covariance by statsmodels; negative binomial of size 4 if no other family is given."""
    import statsmodels.api as sm

    i, t = np.nonzero(history.on_shelf > 0)
    i, t = i[np.isin(i, scents)], t[np.isin(i, scents)]
    on = weeks.features[:, 0, len(FEATURES) + history.trade.events.index("promotion")]
    x = np.column_stack([weeks.slow[:, :2], on]) if promotions else weeks.slow[:, :2]
    family = family or sm.families.NegativeBinomial(alpha=1 / 4.0)
    model = sm.GLM(history.bottles[i, t], x[t], family=family, offset=np.log(history.on_shelf[i, t]))
    result = model.fit(tol=1e-12)
    return result.params, np.linalg.inv(-model.hessian(result.params, observed=True))


def test_level_and_trend_of_the_shop_are_a_negative_binomial_glm():
    history, weeks, mode, _ = glm_case(pooled=True)
    params, covariance = glm(history, weeks, range(3))
    assert mode.shared[:2] == pytest.approx(params, abs=1e-5)
    assert mode.shared_cov[:2, :2] == pytest.approx(covariance, rel=1e-3)


def test_level_and_trend_of_each_scent_are_a_negative_binomial_glm():
    history, weeks, mode, _ = glm_case(pooled=False)
    for i in range(3):
        params, covariance = glm(history, weeks, [i])
        assert mode.scent[i, :2] == pytest.approx(params, abs=1e-5)
        assert mode.scent_cov[i, :2, :2] == pytest.approx(covariance, rel=1e-3)


def test_the_effect_of_promotions_is_that_of_a_negative_binomial_glm():
    history, weeks, mode, at = glm_case(pooled=True, promotions=True)
    params, covariance = glm(history, weeks, range(3), promotions=True)
    place = [0, 1, at]
    assert mode.shared[place] == pytest.approx(params, abs=1e-5)
    assert mode.shared_cov[np.ix_(place, place)] == pytest.approx(covariance, rel=1e-3)


def test_even_weeks_are_a_poisson_glm():
    import statsmodels.api as sm

    history, weeks, mode, at = glm_case(pooled=True, size=1e9, promotions=True)
    params, covariance = glm(history, weeks, range(3), sm.families.Poisson(), promotions=True)
    place = [0, 1, at]
    assert mode.shared[place] == pytest.approx(params, abs=1e-5)
    assert mode.shared_cov[np.ix_(place, place)] == pytest.approx(covariance, rel=1e-3)


def test_scents_shrunk_by_a_prior_are_a_penalised_glm():
    """Levels of scents around the shop's with a normal prior of known spread, by a general optimiser on the GLM."""
    history, weeks, _, _ = glm_case(pooled=True)
    q, p = weeks.day_effects.stop + 1, weeks.slow.shape[1] + weeks.years + 5
    shared, scent = np.full(q, 1e10), np.full((3, p), 1e10)
    shared[0], scent[:, 0] = 1e-10, 1 / 0.3**2
    beliefs = Beliefs(np.zeros(q), np.diag(shared), np.zeros((3, p)), scent, np.full(3, 4.0))
    mode = find_mode(history, weeks, beliefs, np.zeros(q), np.zeros((3, p)), 60)
    i, t = np.nonzero(history.on_shelf > 0)
    y, e = history.bottles[i, t], history.on_shelf[i, t]

    def unlikely(x):
        mean = e * np.exp(x[0] + x[1 + i])
        return -nbinom.logpmf(y, 4, 4 / (4 + mean)).sum() + 0.5 * (x[1:] ** 2).sum() / 0.3**2

    found = minimize(unlikely, np.zeros(4), method="BFGS", options={"gtol": 1e-7}).x
    assert [mode.shared[0], *mode.scent[:, 0]] == pytest.approx(found, abs=1e-4)


def test_week_of_unlike_days_is_the_mean_of_its_days():
    # four days at e^1 and three at e^-1: mean (4 e + 3 / e) / 7, features weighted by each day's share
    features = np.array([[[1.0]] * 4 + [[-1.0]] * 3])
    season, mean = log_season(features, np.ones((1, 7)), np.array([1.0]))
    big, small = 4 * np.e, 3 / np.e
    assert season[0] == pytest.approx(np.log((big + small) / 7))
    assert mean[0, 0] == pytest.approx((big - small) / (big + small))


def test_the_average_of_features_is_the_slope_of_the_season():
    rng = np.random.default_rng(0)
    features, opened, effects = rng.normal(size=(4, 7, 5)), np.ones((4, 7)), rng.normal(size=5)
    opened[2, 3:] = 0
    mean = log_season(features, opened, effects)[1]
    for j, step in enumerate(1e-6 * np.eye(5)):
        slope = (
            log_season(features, opened, effects + step)[0] - log_season(features, opened, effects - step)[0]
        ) / 2e-6
        assert mean[:, j] == pytest.approx(slope, abs=1e-6)


def test_drift_steps_lie_between_a_week_and_now():
    weeks = np.arange("2025-01-06", "2025-06-23", 7, dtype="datetime64[D]")
    origin = weeks[-1] + np.timedelta64(7, "D")
    back = drift_steps(weeks, origin)
    assert BLOCK_WEEKS == 4
    assert back.shape == (24, 5)
    assert not back[-4:].any()
    assert (back[12:16] == [1, 1, 0, 0, 0]).all()
    assert (back[:4] == 1).all()


def test_what_was_put_in_comes_out():
    """Many scents, long history, no hidden states: growth and peak are found again."""
    world = simulate(np.random.default_rng(21), scents=20, weeks=156, supply=False, restless=0.0)
    history = read_history(demand_table(world), scents_table(world), world.calendar, Settings("x", "EUR"), world.today)
    learned = fit(history)
    old = world.launched == 0
    level = world.truth["level"] + world.truth["drift"][:, -9:].mean(axis=1) + world.truth["brand"][0, -9:].mean()
    found = learned.mode.shared[0] + learned.mode.scent[:, 0]
    assert np.corrcoef(found[old], level[old])[0, 1] > 0.9
    assert found[old].mean() == pytest.approx(level[old].mean(), abs=0.2)
    assert pd.Series(learned.sizes.usual).between(3, 20).all()  # drawn around 7


def test_a_steady_walk_moves_more_than_the_means_of_its_blocks_say():
    # by brute force: steps between means of eight weeks, and the way from the last mean to the end
    rng = np.random.default_rng(0)
    fine = 20  # parts of a week
    walk = rng.standard_normal((20_000, 2 * BLOCK_WEEKS * fine)).cumsum(axis=1) / np.sqrt(BLOCK_WEEKS * fine)
    first, last = np.split(walk, 2, axis=1)
    step = (last.mean(axis=1) - first.mean(axis=1)).var()
    assert WALK * step == pytest.approx(1.0, rel=0.03)
    assert WALK * step * SINCE_MIDDLE == pytest.approx((walk[:, -1] - last.mean(axis=1)).var(), rel=0.03)
