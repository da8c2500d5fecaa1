"""The measures against published forecasts: beer, souvenirs, and values worked by hand."""

import numpy as np
import pytest

from planner.season.scores import crps, interval_score, mase, pinball, seasonal_naive, smape

# Quarterly beer production of Australia, 1992 Q1 to 2007 Q4, and the next ten quarters (aus_production, open dataset;
# Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 3rd ed., section 5.8)
BEER = [
    *(443, 410, 420, 532, 433, 421, 410, 512, 449, 381, 423, 531, 426, 408, 416, 520, 409, 398, 398, 507, 432, 398),
    *(406, 526, 428, 397, 403, 517, 435, 383, 424, 521, 421, 402, 414, 500, 451, 380, 416, 492, 428, 408, 406, 506),
    *(435, 380, 421, 490, 435, 390, 412, 454, 416, 403, 408, 482, 438, 386, 405, 491, 427, 383, 394, 473),
]
BEER_NEXT = [420, 390, 410, 488, 415, 398, 419, 488, 414, 374]

# Souvenir shop at a beach resort, monthly (open dataset souvenirs; Makridakis, Wheelwright & Hyndman 1998)
SOUVENIRS_1992 = [
    *(7615.03, 9849.69, 14558.40, 11587.33, 9332.56, 13082.09),
    *(16732.78, 19888.61, 23933.38, 25391.35, 36024.80, 80721.71),
]
SOUVENIRS_1993 = [
    *(10243.24, 11266.88, 21826.84, 17357.33, 15997.79, 18601.53),
    *(26155.15, 28586.52, 30505.41, 30821.33, 46634.38, 104660.67),
]


def test_seasonal_naive_of_the_beer():
    forecast = seasonal_naive(BEER, 4, 10)
    error = np.subtract(BEER_NEXT, forecast)
    assert len(BEER) == 64
    assert np.sqrt((error**2).mean()) == pytest.approx(14.31, abs=0.005)  # section 5.8 (from memory, recomputed)
    assert np.abs(error).mean() == pytest.approx(13.40, abs=0.005)
    assert 100 * np.abs(error / BEER_NEXT).mean() == pytest.approx(3.17, abs=0.005)
    assert mase(BEER, BEER_NEXT, forecast, 4) == pytest.approx(0.94, abs=0.005)
    residuals = np.subtract(BEER[4:], BEER[:-4])
    assert len(residuals) == 60
    assert np.sqrt((residuals**2).mean()) == pytest.approx(16.7819, abs=5e-5)


def test_mean_of_the_beer():
    assert mase(BEER, BEER_NEXT, np.full(10, np.mean(BEER)), 4) == pytest.approx(2.44, abs=0.005)


def test_seasonal_naive_of_the_souvenirs():
    forecast = seasonal_naive(SOUVENIRS_1992, 12, 12)
    error = np.subtract(SOUVENIRS_1993, forecast)
    # computed from the open data, no published value
    assert np.sqrt((error**2).mean()) == pytest.approx(9542.35, abs=0.005)
    assert error.mean() == np.abs(error).mean() == pytest.approx(7828.28, abs=0.005)
    assert 100 * np.abs(error / SOUVENIRS_1993).mean() == pytest.approx(27.279, abs=5e-4)
    assert smape(SOUVENIRS_1993, forecast) == pytest.approx(32.078, abs=5e-4)
    assert np.abs(error).mean() / 3744.8005 == pytest.approx(2.0904, abs=5e-5)  # scale of all months to December 1992


def test_pinball_and_interval_score_worked_by_hand():
    assert pinball(100, 90, 0.9) == pytest.approx(9)  # 10 short, times 0.9
    assert pinball(80, 90, 0.9) == pytest.approx(1)  # 10 over, times 0.1
    assert interval_score(115, 90, 110, 0.2) == pytest.approx(70)  # 20 wide, 5 outside, times 10


def test_crps_of_a_normal_at_its_middle():
    # (sqrt 2 - 1) / sqrt pi for N(0, 1) at 0: Gneiting & Raftery, JASA 2007 (from memory, recomputed)
    from scipy.special import ndtri

    draws = ndtri((np.arange(20000) + 0.5) / 20000)
    assert crps(draws, 0.0) == pytest.approx(0.233695, abs=1e-4)


def test_crps_equals_the_plain_double_loop():
    draws, actual = np.array([3.0, 8.0, 1.0, 5.0]), 4.0
    apart = np.mean([abs(a - b) for a in draws for b in draws])
    assert crps(draws, actual) == pytest.approx(np.abs(draws - actual).mean() - apart / 2)
