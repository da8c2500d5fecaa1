"""The ranking in shops that never were, truth known; tests/bench/bench_pace.py does the same on a thousand of them."""

import numpy as np
import pandas as pd
import pytest
from pace_seasons import judge_season
from pace_shops import WINDOW, YEAR, judge_pace, shop_of, true_paces, true_weeks

SHOPS = 60


@pytest.fixture(scope="module")
def judged():
    parts = [judge_pace(1000 + seed) for seed in range(SHOPS)]
    return tuple(pd.concat(part, ignore_index=True) for part in zip(*parts, strict=True))


def test_the_truth_is_what_is_sold_on_average_where_no_shelf_is_empty():
    # the truth of the benchmark against many plain draws of its own process
    world, _ = shop_of(4)
    weeks = true_weeks(world)
    assert weeks.shape == (len(world.scents), world.wanted.shape[1] // 7)
    wanted = world.wanted.reshape(len(world.scents), -1, 7).sum(axis=2)
    assert wanted.sum() / weeks.sum() == pytest.approx(1.0, abs=0.03)
    assert (wanted[weeks == 0] == 0).all()
    settled = (weeks[:, -YEAR:] > 0).all(axis=1)
    season = weeks[settled, -YEAR:].sum(axis=0)
    by_hand = weeks[0, -WINDOW:].sum() / (season[-WINDOW:] / season.mean()).sum()
    assert true_paces(weeks)[0] == pytest.approx(by_hand)


def test_ranges_hold_the_true_pace_about_as_often_as_they_say(judged):
    rows, _ = judged
    assert len(rows) > 1000
    assert rows["held"].mean() == pytest.approx(0.9, abs=0.03)
    assert rows["raw_held"].mean() < 0.85  # chance alone is not enough: weeks are uneven and shelves empty
    assert rows["error"].mean() == pytest.approx(0.0, abs=0.03)


def test_chances_of_being_the_fastest_come_true_as_often_as_they_say(judged):
    rows, _ = judged
    assert rows.groupby("shop")["chance_fastest"].sum().to_numpy() == pytest.approx(1.0)
    for low, high in ((0.02, 0.3), (0.3, 0.7), (0.7, 1.0)):
        some = rows[rows["chance_fastest"].between(low, high)]
        given = some["chance_fastest"]
        error = np.sqrt((given * (1 - given)).sum()) / len(some)
        assert abs(some["fastest"].mean() - given.mean()) < 3 * error


def test_scents_that_share_no_place_stand_in_the_right_order(judged):
    _, pairs = judged
    assert len(pairs) > 1000
    assert pairs["right"].mean() > 0.95


def test_season_demand_of_sold_out_scents_is_found_with_stock_records():
    rows = pd.concat([judge_season(1000 + seed) for seed in range(16)])
    kept = rows[rows["records"] == "with stock records"]
    assert len(kept) > 50
    assert kept["sold"].sum() < 0.8 * kept["wanted"].sum()
    assert kept["estimate"].sum() / kept["expected"].sum() == pytest.approx(1.0, abs=0.06)
    assert kept["estimate"].sum() / kept["wanted"].sum() == pytest.approx(1.0, abs=0.06)
