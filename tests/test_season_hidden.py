"""Weeks of which only the end is known, and what demand says of the days on the shelf."""

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize_scalar
from scipy.stats import nbinom
from simulated_shops import demand_table, scents_table, simulate

from planner.season import draw_paths, fit_season
from planner.season.fit import fit
from planner.season.hidden import expected_demand, log_chance_of_more, slope_and_curve
from planner.season.history import read_history
from planner.season.mode import derivatives, log_likelihood
from planner.settings import Settings
from planner.tables import FILES, empty

SHOP = Settings("x", "EUR")
NO_CALENDAR = empty(FILES["calendar"])


def history_of(bottles, shelf_days=7.0, **columns):
    """Return the history of scents with one row of `bottles` a scent; `columns` of demand as arrays of that shape."""
    bottles = np.atleast_2d(bottles)
    n, t = bottles.shape
    weeks = pd.date_range("2024-01-01", periods=t, freq="7D").astype("datetime64[us]")
    demand = pd.DataFrame(
        {"week": np.tile(weeks, n), "scent": np.repeat([f"S{i}" for i in range(n)], t), "channel": "all"}
    )
    demand["bottles"] = pd.array(bottles.ravel(), dtype="Int64")
    demand["shelf_days"] = np.broadcast_to(shelf_days, bottles.shape).ravel()
    for name, values in columns.items():
        demand[name] = np.broadcast_to(values, bottles.shape).ravel()
    scents = pd.DataFrame(
        {"scent": [f"S{i}" for i in range(n)], "like": None, "guess_low": np.nan, "guess_high": np.nan}
    )
    scents = scents.assign(first_sold=pd.NaT, last_sold=pd.NaT)
    scents = scents.astype({"first_sold": "datetime64[us]", "last_sold": "datetime64[us]"})
    return read_history(demand, scents, NO_CALENDAR, SHOP, weeks[-1] + pd.Timedelta(days=7))


AT_LEAST, MEAN, SIZE = np.array([0.0, 1, 4, 9, 30]), np.array([3.0, 3, 3, 3, 12]), np.array([2.0, 8, 8, 0.5, 5])


def test_the_chance_of_so_many_or_more_is_that_of_the_negative_binomial_of_scipy():
    tail = nbinom.logsf(AT_LEAST - 1, SIZE, SIZE / (SIZE + MEAN))
    assert log_chance_of_more(AT_LEAST, MEAN, SIZE) == pytest.approx(tail, abs=1e-9)


def test_what_is_expected_is_the_mean_of_all_counts_from_there_on():
    for y, mean, size, found in zip(AT_LEAST, MEAN, SIZE, expected_demand(AT_LEAST, MEAN, SIZE), strict=True):
        counts = np.arange(y, 4000)
        chance = nbinom.pmf(counts, size, size / (size + mean))
        assert found == pytest.approx((counts * chance).sum() / chance.sum(), rel=1e-6)


def test_slope_and_curve_are_those_of_the_log_chance():
    slope, curve = slope_and_curve(AT_LEAST, MEAN, SIZE)
    step = 1e-4
    high, here, low = (log_chance_of_more(AT_LEAST, MEAN * np.exp(by), SIZE) for by in (step, 0, -step))
    assert slope == pytest.approx((high - low) / (2 * step), abs=1e-5)
    assert curve == pytest.approx((2 * here - high - low) / step**2, abs=1e-3)


def test_the_likeliest_rate_of_sold_out_weeks_is_found_by_a_plain_search():
    bottles = np.array([[3, 6, 2, 5, 8, 4]])
    known = np.array([["rolled forward", "end only"] * 3])
    history = history_of(bottles, known=known, exposure=1.0, hidden=np.nan)
    size = np.array([6.0])

    def unlikely(rate):
        p = 6 / (6 + np.exp(rate))
        return -nbinom.logpmf(bottles[0, ::2], 6, p).sum() - nbinom.logsf(bottles[0, 1::2] - 1, 6, p).sum()

    best = minimize_scalar(unlikely, bounds=(0, 4), method="bounded", options={"xatol": 1e-9}).x
    slope, _ = derivatives(history, np.full((1, 6), best), size)
    assert slope.sum() == pytest.approx(0, abs=1e-4)
    ours = [log_likelihood(history, np.full((1, 6), rate), size).sum() for rate in (best - 0.3, best, best + 0.4)]
    plain = [-unlikely(rate) for rate in (best - 0.3, best, best + 0.4)]
    assert np.diff(ours) == pytest.approx(np.diff(plain), abs=1e-9)
    assert np.exp(best) > bottles.mean()


def test_what_demand_added_for_hidden_bottles_is_taken_out_of_exposure_again():
    # demand says: 6 sold and 2 more wanted in a week wholly on the shelf, so exposure 6 / 8
    known, hidden = np.array([["rolled forward", "end only", "assumed"]]), np.array([[np.nan, 2.0, np.nan]])
    history = history_of([[5, 6, 4]], known=known, hidden=hidden, exposure=np.array([[1.0, 0.75, 0.4]]))
    assert history.on_shelf[0].tolist() == pytest.approx([1, 1, 0.4])
    assert history.end_only[0].tolist() == [False, True, False]


def test_exposure_is_taken_before_days():
    history = history_of([[5, 5, 5]], 3.5, exposure=np.array([[0.2, 0.0, np.nan]]))
    assert history.on_shelf[0].tolist() == pytest.approx([0.2, 0.0, 0.5])
    assert history_of([[5, 5, 5]], 3.5).on_shelf[0].tolist() == pytest.approx([0.5, 0.5, 0.5])


def test_weeks_sold_out_by_their_end_say_that_more_was_wanted():
    bottles = np.tile([6, 5, 7, 6], (1, 20))
    ends = np.where(np.arange(80) % 2, "end only", "rolled forward")[None, :]
    counted, hidden = (fit(history_of(bottles, exposure=1.0, hidden=np.nan, known=of)) for of in ("assumed", ends))
    assert hidden.mode.shared[0] + hidden.mode.scent[0, 0] > counted.mode.shared[0] + counted.mode.scent[0, 0] + 0.05


def test_inferred_days_win_back_most_of_what_ignoring_them_costs():
    means = {"ignored": [], "none": [], "kept": []}
    for seed in range(4):
        world = simulate(np.random.default_rng([31, seed]), scents=10)
        first, last = world.today + pd.Timedelta(weeks=1), world.today + pd.Timedelta(weeks=13, days=-1)
        for records, mean in means.items():
            demand = demand_table(world, records=records)
            model = fit_season(demand, scents_table(world), world.calendar, SHOP, world.today)
            mean.append(draw_paths(model, first, last, 200, np.random.default_rng(0)).bottles.sum(axis=(1, 2)).mean())
    ignored, none, kept = (np.sum(mean) for mean in means.values())
    assert ignored + 0.4 * (kept - ignored) < none < 1.05 * kept


def test_the_sale_that_a_scent_is_known_by_says_nothing_of_its_pace():
    # true pace 2 a week; records begin with each scent's first sale, as for a scent without a stated first day
    rng = np.random.default_rng(4)
    sold = rng.poisson(2 / 7, (400, 28))
    sold = sold[sold.any(axis=1)]
    since = np.arange(28) >= (sold > 0).argmax(axis=1)[:, None]
    bottles, days = (daily.reshape(len(sold), 4, 7).sum(axis=2) for daily in (sold, since))
    history = history_of(bottles, days.astype(float))
    assert bottles.sum() / (days.sum() / 7) > 2.2
    # the day of the first sale counts whole, so a little is left to one side
    assert history.bottles.sum() / history.on_shelf.sum() == pytest.approx(2, rel=0.06)


def test_where_stock_was_counted_every_sale_counts():
    half = np.array([[0.5, 1, 1]])
    for known, first in (("rolled forward", 5), ("assumed", 4), ("inferred", 4)):
        assert history_of([[5, 5, 5]], exposure=half, known=known, hidden=np.nan).bottles[0].tolist() == [first, 5, 5]


def test_where_the_first_day_is_stated_every_sale_counts():
    scents = pd.DataFrame({"scent": ["S0", "S1"], "like": None, "guess_low": np.nan, "guess_high": np.nan})
    scents["first_sold"] = pd.to_datetime(["2024-01-01", None]).astype("datetime64[us]")
    scents["last_sold"] = pd.Series([pd.NaT] * 2, dtype="datetime64[us]")
    demand = pd.DataFrame({"week": pd.to_datetime(["2024-01-01", "2024-01-08"] * 2).astype("datetime64[us]")})
    demand["scent"], demand["channel"] = ["S0", "S0", "S1", "S1"], "all"
    demand["bottles"], demand["shelf_days"] = pd.array([3, 4, 2, 5], dtype="Int64"), [3.0, 7, 3, 7]
    history = read_history(demand, scents, NO_CALENDAR, SHOP, pd.Timestamp("2024-01-15"))
    assert history.bottles.tolist() == [[3, 4], [1, 5]]
