"""The forecast by channel: the split learned from the past, and that nothing comes or goes when paths are split."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.season.apart import MOST_ALIKE, learn_split, orders_ahead, split_channels
from planner.tables import Paths

DAYS = pd.date_range("2024-01-01", periods=7 * 104)  # from a Monday
SCENTS = ("Fig", "Oud")


def opened(days=DAYS):
    """Open the web every day and a market every second Saturday."""
    return pd.DataFrame({"web": True, "market": (np.arange(len(days)) % 14) == 5}, index=days)


def shop(rng, web=1.0, market=6.0, lean=1.0, uneven=0.0):
    """Bottles by day, scent and channel; `lean`: how much more of Oud goes at markets."""
    rows = []
    for day, is_open in opened().iterrows():
        season = np.exp(1.2 * (day.month == 12))
        luck = rng.gamma(1 / uneven, uneven) if uneven else 1.0
        for scent, more in zip(SCENTS, (1.0, lean), strict=True):
            rows.append((day, scent, "web", rng.poisson(web * season)))
            rows.append((day, scent, "market", rng.poisson(market * luck * more * season) if is_open["market"] else 0))
    sold = pd.DataFrame(rows, columns=["day", "scent", "channel", "bottles"])
    return sold[sold["bottles"] > 0]


def paths(rng, count=400, weeks=8):
    first = pd.date_range("2025-12-29", periods=weeks, freq="7D")
    return Paths(rng.poisson(12, size=(count, len(SCENTS), weeks)), SCENTS, first)


def test_rates_by_open_day_are_found_whatever_the_season_did():
    split = learn_split(shop(np.random.default_rng(1)), opened())
    assert split.rates["market"] / split.rates["web"] == pytest.approx(6.0, rel=0.08)
    assert split.rates.sum() == pytest.approx(1)
    assert split.alike > 100


def test_rates_are_those_of_a_general_optimiser():
    from scipy.optimize import minimize_scalar

    sold = shop(np.random.default_rng(2))
    week = sold["day"] - pd.to_timedelta(sold["day"].dt.day_of_week, unit="D")
    bottles = sold.pivot_table(index=week, columns="channel", values="bottles", aggfunc="sum").fillna(0)
    days = opened().groupby(DAYS - pd.to_timedelta(DAYS.day_of_week, unit="D")).sum()

    def minus_log_likelihood(log_ratio):
        weight = days.assign(market=days["market"] * np.exp(log_ratio))
        share = weight.div(weight.sum(axis=1), axis=0)
        return -(bottles[["web", "market"]] * np.log(share[["web", "market"]].clip(lower=1e-300))).to_numpy().sum()

    best = minimize_scalar(minus_log_likelihood, bounds=(-3, 5), method="bounded")
    rates = learn_split(sold, opened()).rates
    assert np.log(rates["market"] / rates["web"]) == pytest.approx(best.x, abs=0.01)


def test_a_scent_that_goes_at_markets_leans_there():
    split = learn_split(shop(np.random.default_rng(3), lean=3.0), opened())
    assert split.lean.loc["Oud", "market"] > 1.1 > 0.9 > split.lean.loc["Fig", "market"]


def test_uneven_weeks_are_seen():
    even = learn_split(shop(np.random.default_rng(4)), opened()).alike
    uneven = learn_split(shop(np.random.default_rng(4), uneven=0.5), opened()).alike
    assert uneven < even / 3


@given(st.integers(0, 10_000))
def test_channels_add_up_to_the_paths_bottle_by_bottle(seed):
    rng = np.random.default_rng(seed)
    whole = paths(rng, count=20)
    days = pd.date_range(whole.weeks[0], periods=7 * len(whole.weeks))
    split = learn_split(shop(np.random.default_rng(5)).sample(200, random_state=seed), opened())
    parts = split_channels(whole, split, opened(days), rng)
    assert [part.channel for part in parts] == ["web", "market"]
    assert (sum(part.bottles for part in parts) == whole.bottles).all()
    assert all((part.bottles >= 0).all() for part in parts)


def test_a_week_without_a_market_gives_the_market_nothing_and_one_with_it_its_share():
    rng = np.random.default_rng(6)
    whole = paths(rng)
    days = pd.date_range(whole.weeks[0], periods=7 * len(whole.weeks))
    _, market = split_channels(whole, learn_split(shop(rng), opened()), opened(days), rng)
    with_market = opened(days)["market"].to_numpy().reshape(-1, 7).any(axis=1)
    assert market.bottles[:, :, ~with_market].sum() == 0
    share = market.bottles[:, :, with_market].sum() / whole.bottles[:, :, with_market].sum()
    assert share == pytest.approx(6 / (6 + 7), abs=0.03)  # six at the market, one on each of seven days


def test_the_same_seed_gives_the_same_split():
    whole, split = paths(np.random.default_rng(7)), learn_split(shop(np.random.default_rng(7)), opened())
    days = opened(pd.date_range(whole.weeks[0], periods=56))
    one, two = (split_channels(whole, split, days, np.random.default_rng(8)) for _ in range(2))
    assert all((a.bottles == b.bottles).all() for a, b in zip(one, two, strict=True))


def test_without_any_sale_the_split_follows_the_open_days():
    nothing = shop(np.random.default_rng(9)).iloc[:0]
    split = learn_split(nothing, opened())
    assert split.alike == MOST_ALIKE
    assert split.rates["web"] > 0
    whole = paths(np.random.default_rng(9), count=5)
    parts = split_channels(whole, split, opened(pd.date_range(whole.weeks[0], periods=56)), np.random.default_rng(1))
    assert (sum(part.bottles for part in parts) == whole.bottles).all()


def test_orders_of_stockists_come_as_often_and_as_large_as_before():
    rng = np.random.default_rng(10)
    orders = pd.DataFrame(
        {
            "day": pd.date_range("2024-01-15", periods=26, freq="28D"),
            "scent": ["Fig", "Oud"] * 13,
            "bottles": 24,
            "order": [f"S{number}" for number in range(26)],
        }
    )
    like = paths(rng, count=4000)
    found = orders_ahead(orders, like, "stockists", pd.Timestamp("2024-01-01"), rng)
    assert found.channel == "stockists"
    expected = 26.5 / 104 * 8 * 24  # orders a week, weeks, bottles
    assert found.bottles.sum(axis=(1, 2)).mean() == pytest.approx(expected, rel=0.05)
    assert set(np.unique(found.bottles) % 24) == {0}
    assert orders_ahead(orders.iloc[:0], like, "stockists", DAYS[0], rng).bottles.sum() == 0
