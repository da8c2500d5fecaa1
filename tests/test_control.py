"""Limits against published examples, rules on short hand-typed rows, false alarms by simulation."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import settings as tries
from hypothesis import strategies as st

from planner.control import (
    D2,
    D4,
    FEWEST_POINTS,
    MR_LIMIT,
    WESTERN_ELECTRIC,
    broken_rules,
    individuals_limits,
    run_signals,
)


def points(values, **more):
    return pd.DataFrame({"loss_share": values, **more})


# --- limits -----------------------------------------------------------------------------------------------------------


def test_limits_worked_by_hand():
    # losses 4, 6, 5 %: moving ranges 2 and 1, mean 1.5; 3 ÷ 1.128 = 2.6596 of it is 3.989
    chart = individuals_limits(points([0.04, 0.06, 0.05]), "loss_share")
    assert chart["centre"].tolist() == pytest.approx([0.05] * 3)
    assert chart["upper"].iloc[0] == pytest.approx(0.05 + 0.0398936, abs=1e-7)
    assert chart["lower"].iloc[0] == pytest.approx(0.05 - 0.0398936, abs=1e-7)
    assert chart["moving_range"].tolist()[1:] == pytest.approx([0.02, 0.01])
    assert np.isnan(chart["moving_range"].iloc[0])
    assert chart["mr_upper"].iloc[0] == pytest.approx(0.015 * 3.267)
    assert chart["trial"].all()


def test_flow_rate_published():
    # NIST/SEMATECH e-Handbook 6.3.2.2 [read-2nd]: flow rate of 10 batches; no point outside, moving-range limit 6.1349
    flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
    chart = run_signals(individuals_limits(points(flow), "loss_share"))
    row = chart.iloc[0]
    assert row["centre"] == pytest.approx(50.81)
    assert chart["moving_range"].mean() == pytest.approx(1.8778, abs=5e-5)
    assert row["upper"] == pytest.approx(55.8041, abs=5e-5)
    assert row["lower"] == pytest.approx(45.8159, abs=5e-5)
    assert row["mr_upper"] == pytest.approx(6.1349, abs=5e-4)
    assert (chart["loss_share"] < chart["upper"]).all()
    assert not chart["signal"].str.contains("limit\\.").any()


def test_engine_diameters():
    # documentation of a general statistics package, engine diameters: data [read], limits with 1.128 [computed]
    diameters = [78.4, 80.1, 84.4, 79.1, 80.4, 83.5, 73.8, 83.5, 75.0, 76.8]
    diameters += [70.5, 80.3, 82.4, 79.4, 86.4, 90.5, 77.7, 82.5, 79.9, 83.2]
    chart = individuals_limits(points(diameters), "loss_share", baseline=20)
    assert chart["centre"].iloc[0] == pytest.approx(80.39)
    assert chart["moving_range"].mean() == pytest.approx(5.32632, abs=5e-6)
    assert chart["lower"].iloc[0] == pytest.approx(66.2243, abs=5e-5)
    assert chart["upper"].iloc[0] == pytest.approx(94.5557, abs=5e-5)
    assert chart["mr_upper"].iloc[0] == pytest.approx(17.4011, abs=5e-4)
    assert not run_signals(chart)["signal"].str.contains("limit\\.").any()


def test_constants_published():
    # control chart constants for n = 2 [memory, computed]: d2 1.1284, D4 3.2665; published examples use 1.128 and 3.267
    from scipy.stats import norm

    d2 = 2 / np.sqrt(np.pi)
    assert pytest.approx(d2, abs=5e-4) == D2
    assert pytest.approx(np.sqrt(2) * norm.ppf(0.75), abs=5e-4) == D4
    assert pytest.approx(1 + 3 * np.sqrt(2 - d2**2) / d2, abs=1e-3) == MR_LIMIT
    assert pytest.approx(2.66, abs=1e-3) == 3 / D2


def test_baseline_is_the_first_points():
    steady = [0.04, 0.06] * 6
    chart = individuals_limits(points([*steady, 0.5, 0.6]), "loss_share", baseline=12)
    alone = individuals_limits(points(steady), "loss_share")
    assert chart["upper"].iloc[0] == alone["upper"].iloc[0]
    assert not chart["trial"].any()
    assert individuals_limits(points(steady[: FEWEST_POINTS - 1]), "loss_share")["trial"].all()


def test_a_spill_in_the_baseline_does_not_widen_the_median():
    rng = np.random.default_rng(1)
    values = rng.normal(0.05, 0.01, 40)
    values[5] = 0.5
    mean = individuals_limits(points(values), "loss_share")
    middle = individuals_limits(points(values), "loss_share", spread="median")
    assert mean["upper"].iloc[0] > 0.2
    assert middle["upper"].iloc[0] < 0.12
    assert run_signals(middle)["signal"].iloc[5] == "6 lies above the upper limit."


def test_points_without_a_value_are_passed_over():
    chart = run_signals(individuals_limits(points([0.04, None, 0.06, 0.05]), "loss_share"))
    assert chart["upper"].iloc[0] == pytest.approx(0.05 + 0.0398936, abs=1e-7)
    assert chart["moving_range"].tolist()[2:] == pytest.approx([0.02, 0.01])
    assert chart["signal"].tolist() == [""] * 4


@pytest.mark.parametrize("values", [[], [0.05]])
def test_too_few_points_have_no_limits(values):
    chart = run_signals(individuals_limits(points(pd.Series(values, dtype=float)), "loss_share"))
    assert chart["upper"].isna().all()
    assert (chart["signal"] == "").all()
    assert len(chart) == len(values)


def test_nonsense_is_refused():
    with pytest.raises(ValueError, match="spread is 'mean' or 'median', not 'mode'"):
        individuals_limits(points([1.0, 2.0]), "loss_share", spread="mode")
    with pytest.raises(ValueError, match="2 points or more, not 1"):
        individuals_limits(points([1.0, 2.0]), "loss_share", baseline=1)


# --- rules ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("scaled", "broken"),
    [
        ([], []),
        ([3.0], [0]),
        ([3.1], [1]),
        ([-3.1], [1]),
        ([2.1, 0, 2.1], [0, 0, 2]),
        ([2.1, 2.1, 0], [0, 2, 0]),  # a point near the centre does not signal for the two before it
        ([2.1, -2.1], [0, 0]),  # not on one side
        ([2.1, 0, 0, 2.1], [0] * 4),  # not within three
        ([1.1, 1.1, 0, 1.1, 1.1], [0, 0, 0, 0, 3]),
        ([1.1, 1.1, 1.1, -1.1, -1.1], [0] * 5),
        ([0.1] * 8, [0] * 7 + [4]),
        ([-0.1] * 9, [0] * 7 + [4, 4]),
        ([0.1] * 7 + [0] + [0.1], [0] * 9),
        ([0.1] * 7 + [3.1], [0] * 7 + [1]),  # the first rule names it
    ],
)
def test_rules_on_short_rows(scaled, broken):
    assert broken_rules(np.array(scaled, float)).tolist() == broken


def plain_rules(row):
    """Do the same by a slow plain loop."""
    found = []
    for end in range(len(row)):
        number = 0
        for rule in range(len(WESTERN_ELECTRIC), 0, -1):
            k, m, s = WESTERN_ELECTRIC[rule - 1]
            last = row[max(0, end - m + 1) : end + 1]
            for side in (1, -1):
                if side * row[end] > s and sum(side * value > s for value in last) >= k:
                    number = rule
        found.append(number)
    return found


@tries(max_examples=50, deadline=None)
@given(st.lists(st.floats(-4, 4), max_size=30))
def test_rules_equal_a_plain_loop(row):
    assert broken_rules(np.array(row, float)).tolist() == plain_rules(row)


def test_sentences_say_what_and_since_when():
    steady = [-0.5, 0.5] * 6
    lots = [f"L{n}" for n in range(1, 25)]
    values = [*steady, 2.5, 0.1, 2.5, *[0.1] * 7, 9.0, -9.0]
    chart = individuals_limits(points(values, lot=lots), "loss_share").assign(centre=0.0, lower=-3.0, upper=3.0)
    said = run_signals(chart)["signal"]
    assert said.iloc[14] == "2 of 3 in a row lie above two thirds of the way to the upper limit, since L13."
    assert said.iloc[18] == "8 in a row lie above the centre, since L12."
    assert said.iloc[22] == "L23 lies above the upper limit."
    assert said.iloc[23] == "L24 lies below the lower limit."
    assert (said.iloc[:14] == "").all()


def test_no_spread_at_all():
    chart = run_signals(individuals_limits(points([0.05] * 12 + [0.06]), "loss_share"))
    assert chart["signal"].tolist() == [""] * 12 + ["13 lies above the upper limit."]


# --- false alarms -----------------------------------------------------------------------------------------------------


def first_signal(broken):
    """Points up to and including the first signal, by row; rows without one are as long as they are."""
    hit = broken > 0
    return np.where(hit.any(axis=1), hit.argmax(axis=1) + 1, broken.shape[1])


def test_false_alarms_with_limits_known():
    # in control, normal: all four Western Electric rules signal once in 91.75 points on average [read-2nd], the first
    # alone once in 370.4 [memory, computed]. 3,000 rows; standard error of the mean about 1.7 points
    scaled = np.random.default_rng(1956).normal(size=(3000, 1000))
    broken = broken_rules(scaled)
    assert first_signal(broken).mean() == pytest.approx(91.75, abs=5)
    assert 1 / (broken == 1).mean() == pytest.approx(370.4, rel=0.05)


def test_short_baselines_cry_wolf():
    # limits from 12 points: the first rule fires several times as often as with limits known. Compared with a plain
    # simulation that shares no code with the library [computed]
    rng = np.random.default_rng(12)
    rows = rng.normal(size=(400, 62))
    own = [
        (lambda c: ((c["loss_share"] > c["upper"]) | (c["loss_share"] < c["lower"])).iloc[12:].mean())(
            individuals_limits(points(row), "loss_share", baseline=12)
        )
        for row in rows
    ]
    centre = rows[:, :12].mean(axis=1, keepdims=True)
    width = 2.66 * np.abs(np.diff(rows[:, :12], axis=1)).mean(axis=1, keepdims=True)
    plain = (np.abs(rows[:, 12:] - centre) > width).mean()
    assert np.mean(own) == pytest.approx(plain, rel=0.02)
    assert 4 < np.mean(own) * 370.4 < 10
