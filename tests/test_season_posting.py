"""The last posting day: what it ends, and what goes on without the post."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from planner.season import draw_paths, fit_season
from planner.season.calendar import FEATURES
from planner.season.history import Trade
from planner.season.what_if import what_would_change
from planner.settings import Season, Settings

AFTER = FEATURES.index("after the last posting day")
CHRISTMAS = slice(4, 9)
TODAY, LAST = pd.Timestamp("2026-09-28"), pd.Timestamp("2026-12-17")
SHOP = Settings("Invented", "EUR", country="DE", season=Season(date(2026, 10, 19), LAST.date()))


def markets(*days):
    table = pd.DataFrame({"first_day": pd.to_datetime(list(days)).astype("datetime64[us]")})
    return table.assign(last_day=table["first_day"], what="Fair", kind="market", channel="", note="")


def test_a_market_after_the_last_posting_day_is_no_dead_day():
    days = np.arange("2026-12-17", "2026-12-28", dtype="datetime64[D]")
    trade = Trade((12, 17), "DE", markets("2026-12-19", "2026-12-27"), ("market", "promotion"))
    found = trade.features(days)
    market = days == np.datetime64("2026-12-19")
    assert found[0, CHRISTMAS].tolist() == [1, 0, 0, 0, 0]
    assert found[market, AFTER] == 0
    others = ~market & (days > days[0])
    assert not found[others, CHRISTMAS].any()
    assert found[others & (days <= np.datetime64("2026-12-26")), AFTER].all()


def test_posts_that_end_sooner_take_the_days_between_and_no_market():
    days = np.arange("2026-12-01", "2026-12-25", dtype="datetime64[D]").reshape(2, 12)
    trade = Trade((12, 17), "DE", markets("2026-12-12"), ("market", "promotion"))
    usual, cut = trade.features(days), Trade(*list(vars(trade).values())[:-1], cut=(12, 10)).features(days)
    lost = (days > np.datetime64("2026-12-10")) & (days <= np.datetime64("2026-12-17"))
    lost &= days != np.datetime64("2026-12-12")
    assert not cut[lost][:, CHRISTMAS].any()
    assert cut[lost][:, AFTER].all()
    assert (cut[~lost] == usual[~lost]).all()


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("fair", [False, True])
def test_an_earlier_last_posting_day_never_brings_more(seed, fair):
    rng = np.random.default_rng(seed)
    weeks = pd.date_range("2024-09-02", "2026-09-21", freq="7D", unit="us")
    to_go = (pd.Series(pd.to_datetime(weeks.year.astype(str) + "-12-17")) - pd.Series(weeks)).dt.days.to_numpy()
    rise = np.where((to_go >= 0) & (to_go <= 42), np.exp(1.3 * (42 - to_go) / 42), 1.0)
    parts = [
        pd.DataFrame({"week": weeks, "scent": name, "bottles": rng.poisson(7 * pace * rise)})
        for name, pace in {"A": 1.2, "B": 0.5, "C": 0.8, "D": 2.5, "E": 0.3}.items()
    ]
    demand = pd.concat(parts, ignore_index=True).assign(channel="all", shelf_days=7.0, exposure=1.0, known="counted")
    scents = pd.DataFrame({"scent": list("ABCDE")})
    empty = pd.Series(pd.NaT, index=scents.index, dtype="datetime64[us]")
    scents = scents.assign(first_sold=empty, last_sold=empty, like="", guess_low=np.nan, guess_high=np.nan)
    calendar = markets(*(["2024-12-14", "2025-12-13", "2026-12-12"] if fair else []))
    model = fit_season(demand, scents, calendar, SHOP, TODAY)
    paths = draw_paths(model, TODAY, LAST, 300, np.random.default_rng(1))
    change = what_would_change(model, paths, TODAY, LAST, 1).set_index("what")["change"]
    posting = change[change.index.str.startswith("posting ends 7 days earlier, on 10 Dec")]
    last_week = paths.bottles[:, :, -2:].sum(axis=(1, 2)).mean()
    assert -last_week < posting.item() < -0.1 * last_week
