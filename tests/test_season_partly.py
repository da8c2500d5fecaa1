"""Weeks partly on the shelf: which days those were."""

from dataclasses import replace

import numpy as np
import pytest
from test_season_hidden import history_of

from planner.season.partly import weigh_days

# Saturday and Sunday sell three times a weekday: 5 + 6 = 11 parts
WORTH = np.tile([1.0, 1, 1, 1, 1, 3, 3], (4, 1))
OPEN = np.ones((4, 7))


def weighed(days, opened=OPEN):
    history = history_of([[4, 4, 4, 4]], [[7.0, 7, 7, 7]])
    history = replace(history, on_shelf=np.atleast_2d(days) / 7)
    return weigh_days(history, opened, opened * WORTH).on_shelf[0]


def test_a_scent_that_is_out_the_week_after_had_the_first_days():
    # Monday to Thursday are 4 of 11 parts; a day and a half more is Friday and half of Saturday: 4 + 1 + 1.5
    assert weighed([7, 4, 0, 7])[1] == pytest.approx(4 / 11)
    assert weighed([7, 5.5, 0, 7])[1] == pytest.approx(6.5 / 11)


def test_a_scent_that_was_out_the_whole_week_before_had_the_last_days():
    assert weighed([7, 0, 2, 7])[2] == pytest.approx(6 / 11)
    assert weighed([7, 0, 4, 7])[2] == pytest.approx(8 / 11)


def test_where_the_weeks_around_tell_nothing_the_share_of_days_stays():
    assert weighed([7, 4, 7, 7])[1] == pytest.approx(4 / 7)  # out and back inside the week
    assert weighed([7, 0, 4, 3])[2] == pytest.approx(4 / 7)  # back and out again


def test_whole_and_empty_weeks_stay():
    assert weighed([7, 4, 0, 7])[[0, 2, 3]].tolist() == [1, 0, 1]


def test_closed_days_do_not_count():
    opened = OPEN.copy()
    opened[:, :3] = 0  # open from Thursday on: 1 + 1 + 3 + 3 parts; half of the four open days are 2 of 8
    assert weighed([7, 3.5, 0, 7], opened)[1] == pytest.approx(2 / 8)


def test_even_weeks_are_left_as_they_are():
    history = replace(history_of([[4, 4, 4, 4]]), on_shelf=np.array([[1.0, 0.4, 0.0, 0.6]]))
    assert weigh_days(history, OPEN, OPEN).on_shelf == pytest.approx(history.on_shelf)


def test_exposure_that_weighs_markets_already_is_left_as_it_is():
    history = replace(history_of([[4, 4, 4, 4]]), on_shelf=np.array([[1.0, 4 / 11, 0.0, 6 / 11]]))
    assert weigh_days(history, WORTH, WORTH).on_shelf == pytest.approx(history.on_shelf)


def test_only_the_season_inside_the_week_is_added_to_exposure_that_weighs_markets():
    # out from Thursday on: 3 of 11 parts by market; then posting ended on Wednesday and nothing was wanted any more
    history = replace(history_of([[4, 4, 4, 4]]), on_shelf=np.array([[1.0, 3 / 11, 0.0, 1.0]]))
    posted = WORTH * [1, 1, 1, 0, 0, 0, 0]
    assert weigh_days(history, WORTH, posted).on_shelf[0, 1] == pytest.approx(1.0)
