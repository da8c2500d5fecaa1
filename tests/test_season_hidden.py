"""Weeks that were sold out without anybody writing it down."""

import numpy as np
import pandas as pd
import pytest
from simulated_shops import demand_table, scents_table, simulate

from planner.season import draw_paths, fit_season
from planner.season.fit import fit
from planner.season.hidden import hide_sold_out, stock_unknown
from planner.season.history import read_history
from planner.settings import Settings

SHOP = Settings("x", "EUR")


def history_of(bottles, shelf_days=7.0):
    bottles = np.atleast_2d(bottles)
    n, t = bottles.shape
    weeks = pd.date_range("2024-01-01", periods=t, freq="7D").astype("datetime64[us]")
    demand = pd.DataFrame(
        {"week": np.tile(weeks, n), "scent": np.repeat([f"S{i}" for i in range(n)], t), "channel": "all"}
    )
    demand["bottles"] = pd.array(bottles.ravel(), dtype="Int64")
    demand["shelf_days"] = np.broadcast_to(shelf_days, bottles.shape).ravel()
    scents = pd.DataFrame(
        {"scent": [f"S{i}" for i in range(n)], "like": None, "guess_low": np.nan, "guess_high": np.nan}
    )
    scents = scents.assign(first_sold=pd.NaT, last_sold=pd.NaT)
    scents = scents.astype({"first_sold": "datetime64[us]", "last_sold": "datetime64[us]"})
    calendar = pd.DataFrame(columns=["first_day", "what", "last_day", "kind", "channel", "note"])
    calendar = calendar.astype({"first_day": "datetime64[us]", "last_day": "datetime64[us]"})
    return read_history(demand, scents, calendar, SHOP, weeks[-1] + pd.Timedelta(days=7))


def test_a_run_of_empty_weeks_is_sold_out_where_its_chance_is_below_one_percent():
    # at 4 bottles a week and size 8 an empty week has the chance (8 / 12)^8 = 0.039; two have 0.0015, below 0.01
    history = history_of([[4, 5, 0, 3, 4, 2, 0, 0, 5, 4]])
    found = hide_sold_out(history, np.full((1, 10), np.log(4.0)), np.array([8.0])).on_shelf[0]
    assert (8 / 12) ** 16 < 0.01 < (8 / 12) ** 8
    assert found[[6, 7]].tolist() == [0, 0]
    assert found[2] == 1  # one alone is believed
    assert found[5] == pytest.approx(2 / 4)  # ran out: 2 bottles take half a week at 4 a week
    assert (found[[0, 1, 3, 4, 8, 9]] == 1).all()


def test_the_week_it_ran_out_counts_whole_where_it_sold_more_than_expected():
    history = history_of([[4, 9, 0, 0, 4]])
    found = hide_sold_out(history, np.full((1, 5), np.log(4.0)), np.array([8.0])).on_shelf[0]
    assert found.tolist() == [1, 1, 0, 0, 1]


def test_a_slow_scent_may_have_many_empty_weeks():
    history = history_of([[1, 0, 0, 0, 0, 1, 0, 0, 1, 0]])
    assert (hide_sold_out(history, np.full((1, 10), np.log(0.3)), np.array([8.0])).on_shelf == 1).all()


def test_stock_is_unknown_only_where_every_week_counts_whole():
    assert stock_unknown(history_of([[4, 5, 0, 0, 4]]))
    assert stock_unknown(history_of([[4, 5, 0, 0, 4]], [[3.0, 7, 7, 7, 7]]))  # launched in the middle of a week
    assert not stock_unknown(history_of([[4, 5, 0, 0, 4]], [[7.0, 3.5, 0, 0, 7]]))
    assert not stock_unknown(history_of([[4, 5, 0, 0, 4], [1, 1, 1, 1, 1]], [[7.0] * 5, [7, 7, 2, 7, 7]]))


def test_empty_weeks_that_were_on_the_shelf_stay_zeros_where_stock_is_known():
    bottles = [[6, 5, 7, 6] * 10 + [0] * 10 + [6, 5, 7, 6] * 5, [3, 4] * 35]
    known = np.full((2, 70), 7.0)
    known[1, 30] = 3.0
    for shelf_days, hidden in ((7.0, 10), (known, 0)):
        history = history_of(bottles, shelf_days)
        assert (fit(history).on_shelf[0] == 0).sum() == hidden


def test_looking_for_sold_out_weeks_wins_back_part_of_what_ignoring_them_costs():
    low, found, true = [], [], []
    for seed in range(5):
        world = simulate(np.random.default_rng([31, seed]), scents=10)
        first, last = world.today + pd.Timedelta(weeks=1), world.today + pd.Timedelta(weeks=13, days=-1)

        def mean(demand, world=world, first=first, last=last):
            model = fit_season(demand, scents_table(world), world.calendar, SHOP, world.today)
            return draw_paths(model, first, last, 200, np.random.default_rng(0)).bottles.sum(axis=(1, 2)).mean()

        blind = demand_table(world, known=False)
        told = blind.copy()
        told.loc[0, "shelf_days"] = 6.9
        told.loc[1, "shelf_days"] = 6.9  # as if records were kept: every empty week is a true zero
        low.append(mean(told))
        found.append(mean(blind))
        true.append(mean(demand_table(world)))
    assert np.sum(low) < np.sum(found) < 1.05 * np.sum(true)
