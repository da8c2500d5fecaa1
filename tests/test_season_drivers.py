"""What drove the forecast, what is assumed, what would change it, and how much wider it is made."""

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from statistics import NormalDist
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from simulated_shops import demand_table, scents_table, simulate

from planner import charts, flow, sentences
from planner.files import load_folder
from planner.season import draw_paths, fit_season, season_shape, summarise, weeks_left_out
from planner.season.assuming import assumptions
from planner.season.calendar import last_posting_day
from planner.season.drivers import as_if_on_shelf, scent_departures, shop_level, unsold_demand, yearly_growth
from planner.season.own_season import with_own_season
from planner.season.pricing import price_changes
from planner.season.silence import silent_weeks
from planner.season.what_if import what_would_change
from planner.season.widening import WIDEST, Widening, learn_widening, widen_paths
from planner.settings import Season as Window
from planner.settings import Settings
from planner.tables import FILES, Paths, empty

SHOP = Settings("Invented", "EUR", season=Window(date(2025, 10, 20), date(2025, 12, 18)))
TODAY = pd.Timestamp("2025-09-29")  # a Monday
FIRST, LAST = TODAY, pd.Timestamp("2025-12-18")
NO_DAYS = pd.DatetimeIndex([], dtype="datetime64[us]")


def weekly(levels, weeks=150, lift=None, growth=0.0, seed=1):
    """Return a demand table of Poisson sales; `lift`: how many times a usual week each scent sells before Christmas."""
    rng = np.random.default_rng(seed)
    week = pd.date_range(TODAY - pd.Timedelta(weeks=weeks), periods=weeks, freq="7D").astype("datetime64[us]")
    peak = (week.month == 12) & (week.day < 15) | (week.month == 11) & (week.day > 9)
    years = (np.arange(weeks) - weeks) / 52.18
    parts = []
    for number, (scent, level) in enumerate(levels.items()):
        rate = level * np.where(peak, 3.0 if lift is None else lift[number], 1.0) * np.exp(growth * years)
        parts.append(pd.DataFrame({"week": week, "scent": scent, "bottles": rng.poisson(rate)}))
    table = pd.concat(parts, ignore_index=True).astype({"bottles": "Int64", "scent": "str"})
    return table.assign(channel="all", shelf_days=7.0, exposure=1.0, hidden=0.0, known="counted", usual_price=18.0)


def scents_of(*names):
    blank = SimpleNamespace(scents=list(names), launched=np.zeros(len(names), int), days=np.array([TODAY]))
    return scents_table(blank)


def fitted(demand, calendar=None, settings=SHOP, scents=None):
    scents = scents_of(*demand["scent"].unique()) if scents is None else scents
    return fit_season(demand, scents, empty(FILES["calendar"]) if calendar is None else calendar, settings, TODAY)


def events(days, kind="market", length=1):
    table = pd.DataFrame({"first_day": pd.to_datetime(days)}).astype({"first_day": "datetime64[us]"})
    table["last_day"] = table["first_day"] + pd.Timedelta(days=length - 1)
    return table.assign(what=kind, kind=kind, channel="", note="")[["first_day", "what", "kind", "last_day", "channel"]]


@pytest.fixture(scope="module")
def model():
    return fitted(weekly({"Fig": 8, "Rose": 6, "Oud": 5, "Moss": 7, "Seldom": 0.2}, lift=[6, 6, 2, 2, 6], growth=0.25))


# wider ranges


def ranges_of(rng, seasons, scents, narrow=1.0, shock=0.2, own=0.3):
    """Return past ranges of a shop whose seasons differ as foreseen, but ranges are `narrow` times as wide as due."""
    wide = narrow * np.hypot(shock, own)
    parts = []
    for season in range(seasons):
        off = rng.normal(0, shock) + rng.normal(0, own, scents)
        table = pd.DataFrame({"scent": [f"S{i}" for i in range(scents)], "bottles": 100 * np.exp(off)})
        table = table.assign(p10=100 * np.exp(-1.2816 * wide), p90=100 * np.exp(1.2816 * wide))
        parts.append(table.assign(origin=pd.Timestamp(2020 + season, 10, 1)))
    return pd.concat(parts, ignore_index=True)


def test_how_much_wider_worked_by_hand():
    inside = pd.DataFrame({"scent": list("abcdef"), "bottles": [5, 5, 5, 50, 50, 50], "p10": 1.0, "p90": 10.0})
    ranges = pd.concat([inside.assign(origin=pd.Timestamp(year, 10, 1)) for year in (2023, 2024)])
    # 6 of 12 held; with ten more at 0.8 that is 14 of 22 = 0.636; a normal holds that within 0.9085 standard deviations
    found = learn_widening(ranges)
    normal = NormalDist()
    assert found == Widening(pytest.approx(normal.inv_cdf(0.9) / normal.inv_cdf((1 + 14 / 22) / 2)), 6, 12, 2)
    assert found.factor == pytest.approx(1.2816 / 0.9085, abs=1e-3)
    twelve = pd.concat([ranges, ranges.assign(scent=ranges["scent"] + "2")])
    assert learn_widening(twelve).factor == pytest.approx(found.factor)  # one season is no more than six outcomes


def test_one_season_and_all_scents_together_widen_nothing():
    row = {"bottles": [500.0], "p10": 1.0, "p90": 10.0, "origin": pd.Timestamp("2024-10-01")}
    assert learn_widening(pd.DataFrame({"scent": ["Fig"], **row})).factor == 1
    both = pd.concat([pd.DataFrame({"scent": ["all scents"], **row})] * 2)
    assert learn_widening(both) == Widening(1.0, 0, 0, 0)
    nothing = pd.DataFrame({name: pd.Series(dtype="float64") for name in ("scent", "bottles", "p10", "p90", "origin")})
    assert learn_widening(nothing).factor == 1


def test_healthy_shops_are_hardly_widened_and_narrow_ones_are():
    """Simulated shops: 2 to 4 seasons, scents with a common shock."""
    rng = np.random.default_rng(7)
    sizes = [(int(rng.integers(2, 5)), int(rng.integers(3, 25))) for _ in range(400)]
    healthy = np.array([learn_widening(ranges_of(rng, *size)).factor for size in sizes])
    narrow = np.array([learn_widening(ranges_of(rng, *size, narrow=0.5)).factor for size in sizes])
    assert healthy.min() == 1
    assert healthy.mean() < 1.08
    assert np.quantile(healthy, 0.9) < 1.25
    assert narrow.mean() > 1.3
    assert narrow.max() <= WIDEST
    kept = NormalDist().cdf(1.2816 * 0.5 * narrow.mean()) * 2 - 1
    assert kept > 0.6  # such ranges held 0.48; what was learned from so little goes more than a third of the way


def test_wider_paths_keep_means_and_weeks_and_hold_more():
    rng = np.random.default_rng(3)
    common = rng.normal(0, 0.2, (4000, 1, 1)) + rng.normal(0, 0.25, (4000, 2, 1))
    bottles = rng.poisson(np.array([300.0, 40.0])[None, :, None] * np.exp(common) * np.array([0.1, 0.3, 0.6]))
    paths = Paths(bottles, ("Fig", "Oud"), pd.date_range("2025-12-01", periods=3, freq="7D"))
    wide = widen_paths(paths, 1.5, np.random.default_rng(1))
    assert wide.bottles.dtype == bottles.dtype
    np.testing.assert_allclose(wide.bottles.mean(axis=0), bottles.mean(axis=0), rtol=0.03)
    for scent in ("Fig", "Oud"):
        before, after = (np.log(table.of(scent).sum(axis=1) + 0.5) for table in (paths, wide))
        assert after.std() / before.std() == pytest.approx(1.5, rel=0.05)
    family = [np.log(table.bottles.sum(axis=(1, 2))).std() for table in (paths, wide)]
    assert family[1] / family[0] == pytest.approx(1.5, rel=0.1)
    assert (widen_paths(paths, 1.5, np.random.default_rng(1)).bottles == wide.bottles).all()
    assert widen_paths(paths, 1.0, np.random.default_rng(1)) is paths


@given(st.lists(st.lists(st.integers(0, 400), min_size=2, max_size=2), min_size=2, max_size=30), st.floats(1.0, WIDEST))
def test_wider_paths_are_whole_bottles_and_nothing_stays_nothing(bottles, factor):
    table = np.array(bottles)[:, None, :]
    paths = Paths(table, ("Fig",), pd.date_range("2025-12-01", periods=2, freq="7D"))
    wide = widen_paths(paths, factor, np.random.default_rng(0)).bottles
    assert (wide >= 0).all()
    assert (wide[table.sum(axis=2) == 0] == 0).all()
    assert wide.sum() == pytest.approx(table.sum(), abs=2 * len(table) + 1)  # a week is rounded by less than a bottle


def test_the_plan_sees_the_wider_ranges(monkeypatch):
    shop = load_folder()
    past = flow.read_past(shop)
    plain = flow.foresee(shop, past)
    monkeypatch.setattr(flow, "learn_widening", lambda _: Widening(1.6, 9, 22, 2))
    wide = flow.foresee(shop, past)
    totals = [ahead.forecast[ahead.forecast["week"].isna()].set_index("scent") for ahead in (plain, wide)]
    np.testing.assert_allclose(totals[1]["mean"], totals[0]["mean"], rtol=0.02, atol=0.2)
    known = totals[0]["p50"] > 20
    spread = [np.log(table["p90"] / table["p10"])[known] for table in totals]
    assert (spread[1] / spread[0]).between(1.4, 1.8).all()
    assert "drawn 1.60 times as wide" in sentences.say_check(wide.check, wide.widening)


# drivers


def test_departures_put_in_come_out(model):
    found = scent_departures(model).set_index(["scent", "what"])
    christmas = found.xs("Christmas", level="what")["factor"]
    # two scents rise sixfold, two twofold: three times as far over the peak, more at its height, and shrunk a little
    ratio = christmas[["Fig", "Rose"]].mean() / christmas[["Oud", "Moss"]].mean()
    assert 2.0 < ratio < 4.5
    assert found.loc[("Fig", "Christmas"), "low"] > 1
    assert found.loc[("Oud", "Christmas"), "high"] < 1
    assert abs(np.log(christmas["Seldom"])) < 0.6 * np.log(christmas["Fig"])  # few sales prove little
    others = found.drop("Christmas", level="what")
    assert (others["low"] < 1).all()
    assert (others["high"] > 1).all()


def test_ranges_of_departures_and_growth_are_those_of_the_draws(model):
    """A slow reference: the unknowns drawn as draws.py draws them, many times."""
    mode, rng, count = model.fit.mode, np.random.default_rng(5), 40_000
    column = model.fit.weeks.slow.shape[1] + model.fit.weeks.years  # the peak
    root = np.linalg.cholesky(mode.shared_cov)
    off = rng.standard_normal((count, len(mode.shared))) @ root.T
    own = np.linalg.cholesky(mode.scent_cov[0])
    fig = mode.scent[0] - off @ mode.follow[0].T + rng.standard_normal((count, len(own))) @ own.T
    low, high = np.quantile(np.exp(fig[:, column]), [0.1, 0.9])
    said = scent_departures(model).iloc[0]
    assert said["scent"] == "Fig"
    assert [said["low"], said["high"]] == pytest.approx([low, high], rel=0.02)
    back = np.flatnonzero((model.history.origin - model.history.weeks) >= np.timedelta64(364, "D"))[-1]
    step = np.eye(model.fit.weeks.slow.shape[1])[0] - model.fit.weeks.slow[back]
    grown = (mode.shared + off)[:, : len(step)] @ step
    both = np.expm1(grown + fig[:, : len(step)] @ step)
    table = yearly_growth(model).set_index("scent")
    assert table.loc["Fig", ["low", "high"]].tolist() == pytest.approx(np.quantile(both, [0.1, 0.9]), abs=0.02)
    family = np.quantile(np.expm1(grown), [0.1, 0.9])
    assert table.loc["all scents", ["low", "high"]].tolist() == pytest.approx(family, abs=0.02)


def test_growth_put_in_comes_out(model):
    level, growth = shop_level(model), yearly_growth(model).set_index("scent")
    assert growth.index[0] == "all scents"
    assert growth.loc["all scents", "low"] < np.expm1(0.25) < growth.loc["all scents", "high"]
    assert level["factor"].iloc[-1] == pytest.approx(1, abs=0.02)
    assert level["factor"].iloc[-53] == pytest.approx(np.exp(-0.25), rel=0.15)
    assert (level["low"] <= level["factor"]).all()
    assert (level["factor"] <= level["high"]).all()


def test_less_than_a_year_says_nothing_of_growth():
    young = fitted(weekly({"Fig": 8}, weeks=40))
    assert yearly_growth(young).empty
    assert "less than a year" in sentences.say_growth(yearly_growth(young), shop_level(young), TODAY)


def test_the_shape_of_the_year_may_start_today(model):
    shape = season_shape(model, pd.Timestamp("2025-11-05"))
    assert shape["week"].iloc[0] == pd.Timestamp("2025-11-03")
    usual = season_shape(model).set_index("week")["factor"]
    both = usual.index.intersection(shape["week"])
    ratio = shape.set_index("week")["factor"][both] / usual[both]
    assert ratio.max() == pytest.approx(ratio.min())  # the same year, cut elsewhere


# what stock-outs hid


def test_half_a_week_off_the_shelf_hides_half_a_week():
    demand = weekly({"Fig": 20, "Rose": 20}, lift=[1, 1])
    at = demand["scent"].eq("Fig") & demand["week"].eq(TODAY - pd.Timedelta(weeks=30))
    demand.loc[at, ["bottles", "shelf_days", "exposure"]] = [10, 3.5, 0.5]
    found = unsold_demand(fitted(demand), demand)
    hit = found[found["unsold"] > 0]
    assert hit["scent"].tolist() == ["Fig"]
    assert hit["unsold"].iloc[0] == pytest.approx(10, rel=0.15)
    gone = demand.copy()
    gone.loc[at, ["bottles", "shelf_days", "exposure"]] = [pd.NA, 0.0, 0.0]  # as demand writes a week sold out
    found = unsold_demand(fitted(gone), gone)
    assert found["unsold"].sum() == pytest.approx(20, rel=0.15)
    assert len(found) == len(demand)


def test_what_was_unsold_in_simulated_shops_is_found():
    """Batches that run out in the peak. Measured over ten worlds: 0.96 of what was truly missed, give or take 0.14."""
    shares = []
    for seed in (700, 703, 705, 706):
        world = simulate(np.random.default_rng(seed), scents=12, weeks=120)
        demand = demand_table(world)
        model = fit_season(demand, scents_table(world), world.calendar, SHOP, world.today)
        truth = (world.wanted - world.sold)[:, : 7 * 120].sum()
        shares.append(unsold_demand(model, demand)["unsold"].sum() / truth)
    assert 0.8 < np.mean(shares) < 1.2


def test_what_was_unsold_in_the_example_is_what_its_simulation_knows():
    truth = json.loads((Path(__file__).parent.parent / "data" / "example_truth.json").read_text(encoding="utf-8"))
    shop = load_folder()
    past = flow.read_past(shop)
    unsold = flow.explain_season(shop, past, flow.foresee(shop, past, 50)).unsold
    for scent, year in (("Clove Ferry", 2024), ("Quince Ember", 2025)):
        season = past.books.sales[past.books.sales["day"].between(f"{year}-10-19", f"{year}-12-17")]
        shelf = season[season["kind"].isin(["sale", "refund"]) & season["channel"].ne("wholesale")]
        missed = truth["wanted_in_season"][str(year)][scent] - shelf.loc[shelf["scent"] == scent, "bottles"].sum()
        ours = unsold[unsold["scent"].eq(scent) & unsold["week"].between(f"{year}-10-14", f"{year}-12-17")][
            "unsold"
        ].sum()
        assert missed > 40
        assert ours == pytest.approx(missed, rel=0.3)
    other = unsold[~unsold["scent"].isin(["Clove Ferry", "Quince Ember"]) & (unsold["week"] > "2024-10-01")]
    assert other["unsold"].sum() < 15  # nothing else was sold out, but for a few days of a launch


def test_before_its_launch_a_scent_was_not_sold_out():
    demand = weekly({"Fig": 20, "Rose": 20})
    first = demand["week"].min()
    demand.loc[demand["week"].eq(first), ["shelf_days", "exposure"]] = [1.0, 1 / 7]
    assert unsold_demand(fitted(demand), demand)["unsold"].sum() == 0
    whole = as_if_on_shelf(demand)
    assert (whole.loc[whole["week"].eq(first), "exposure"] == 1 / 7).all()
    assert (whole.loc[whole["week"].gt(first), "exposure"] == 1).all()
    assert list(whole.columns) == list(demand.columns)


# prices


def priced(prices, channel="all"):
    week = pd.date_range("2025-01-06", periods=len(prices), freq="7D", unit="us")
    table = pd.DataFrame({"week": week, "scent": "Fig", "channel": channel, "usual_price": prices})
    return table.assign(bottles=pd.array([2] * len(prices), dtype="Int64"))


def test_a_price_that_moved_worked_by_hand():
    found = price_changes(priced([16.0] * 10 + [18.0] * 12))
    assert found.to_dict("records") == [
        {
            "scent": "Fig",
            "before": 16.0,
            "now": 18.0,
            "change_share": 0.125,
            "since": pd.Timestamp("2025-01-06") + pd.Timedelta(weeks=10),
            "bottles": 20,
        }
    ]
    said = sentences.say_prices(found, SHOP)
    assert "does not know what a price did" in said
    assert "Fig cost 16.00 before Mon 17 Mar 2025 and 18.00 EUR since then (+12" in said


@pytest.mark.parametrize(
    "table",
    [
        priced([18.0] * 22),
        priced([17.3] * 10 + [18.0] * 12),  # 4 %
        priced([18.0] * 10 + [12.0] * 2 + [18.0] * 10),  # two weeks of a promotion
        priced([16.0] * 10 + [18.0] * 12, channel="wholesale"),
        priced([np.nan] * 10),
        priced([]),
    ],
)
def test_no_price_moved(table):
    assert price_changes(table).empty
    assert sentences.say_prices(price_changes(table), SHOP).startswith("No usual price moved")


# what would change it


@pytest.fixture(scope="module")
def fairs():
    """Return a shop that sells three times as much in weeks with a fair, and has two fairs ahead."""
    days = pd.date_range("2023-01-07", "2025-09-20", freq="28D")
    demand = weekly({"Fig": 8, "Rose": 4})
    week = demand["week"].isin(days - pd.to_timedelta(days.day_of_week, unit="D"))
    demand.loc[week, "bottles"] = demand.loc[week, "bottles"] * 3
    ahead = ["2025-10-18", "2025-11-15"]
    return demand, events([*days, *ahead])


def test_without_the_planned_markets_it_is_the_forecast_without_them(fairs):
    demand, calendar = fairs
    model = fitted(demand, calendar)
    paths = draw_paths(model, FIRST, LAST, 400, np.random.default_rng(1))
    found = what_would_change(model, paths, FIRST, LAST, 1).set_index("what")
    none = found.loc["without the 2 markets in the calendar"]
    bare = fitted(demand, calendar[calendar["first_day"] < FIRST])
    other = draw_paths(bare, FIRST, LAST, 400, np.random.default_rng(1))
    change = other.bottles.sum() / 400 - paths.bottles.sum() / 400
    assert none["change"] == pytest.approx(change, abs=0.01)
    assert none["change"] < -20  # two weeks at three times of 12 bottles
    assert none["change_share"] == pytest.approx(change / (paths.bottles.sum() / 400))
    assert none["most_affected"].startswith("Fig −")


def test_weaker_is_less_and_an_earlier_post_too(model):
    paths = draw_paths(model, FIRST, LAST, 300, np.random.default_rng(1))
    found = what_would_change(model, paths, FIRST, LAST, 1)
    change = found.set_index("what")["change"]
    assert change["a weak Christmas, as in one year of six"] < 0 < change["a strong Christmas, as in one year of six"]
    assert change["posting ends 7 days earlier, on 11 Dec, and nobody buys sooner for it"] < 0
    assert change["the whole shop loses pace, as in one season of six"] < 0
    assert found["change"].abs().is_monotonic_decreasing
    pd.testing.assert_frame_equal(found, what_would_change(model, paths, FIRST, LAST, 1))
    assert sentences.say_changes(found, by_month=False).startswith(
        f"What would change it most: {found['what'].iloc[0]}. That would be"
    )
    nothing = sentences.say_changes(found.iloc[:0], by_month=False)
    assert nothing == "Nothing that was tried changes the season by a bottle."
    assert "not drawn again" in sentences.say_changes(found.iloc[:0], by_month=True)


def test_a_closed_window_has_no_shares(model):
    shut = events([FIRST], "closed", (LAST - FIRST).days + 1)
    closed = fitted(weekly({"Fig": 8, "Rose": 6}), shut)
    paths = draw_paths(closed, FIRST, LAST, 50, np.random.default_rng(1))
    found = what_would_change(closed, paths, FIRST, LAST, 1)
    assert found["what"].iloc[0] == "open when the calendar says closed"
    assert found["change"].iloc[0] > 100
    assert found["change_share"].isna().all()


def test_a_share_of_next_to_nothing_is_not_a_percentage():
    changes = pd.DataFrame({"what": ["open"], "change": [676.0], "change_share": [676.0 / 1e-9]})
    said = sentences.say_changes(changes, by_month=False)
    assert said.endswith("open. That would be about 676 bottles more; otherwise next to nothing is foreseen.")
    assert "%" not in sentences.say_changes(changes.assign(change_share=np.nan), by_month=False)
    half = sentences.say_changes(changes.assign(change_share=0.5), by_month=False)
    assert half.endswith("about 676 bottles more (50 % of all).")
    alone = sentences.say_changes(changes.assign(change_share=-0.5, change=-676.0), by_month=True)
    assert alone.endswith("Of the newest scent alone: open. That would be about 676 bottles fewer (50 % of all).")


def test_a_summer_window_knows_neither_christmas_nor_the_post(model):
    first, last = pd.Timestamp("2026-05-25"), pd.Timestamp("2026-07-26")
    paths = draw_paths(model, first, last, 100, np.random.default_rng(1))
    found = what_would_change(model, paths, first, last, 1)
    assert not found["what"].str.contains("Christmas|posting").any()


def test_sold_out_days_taken_for_days_without_demand_pull_it_down():
    demand = weekly({"Fig": 10, "Rose": 10}, lift=[3, 3])
    out = demand["scent"].eq("Fig") & (demand["week"].dt.month == 11)
    demand.loc[out, ["bottles", "shelf_days", "exposure"]] = [0, 0.0, 0.0]
    model, unaware = fitted(demand), fitted(as_if_on_shelf(demand))
    paths = draw_paths(model, FIRST, LAST, 100, np.random.default_rng(1))
    found = what_would_change(model, paths, FIRST, LAST, 1, {"unaware": unaware}).set_index("what")
    assert found.loc["unaware", "change"] < -10
    assert found.loc["unaware", "most_affected"].startswith("Fig −")


def test_the_newest_scent_at_the_ends_of_its_own_range():
    demand = weekly({"Fig": 8, "Rose": 6})
    young = weekly({"Oud": 5}, weeks=6)
    scents = scents_of("Fig", "Rose", "Oud")
    model = fitted(pd.concat([demand, young], ignore_index=True), scents=scents)
    paths = draw_paths(model, FIRST, LAST, 800, np.random.default_rng(1))
    change = what_would_change(model, paths, FIRST, LAST, 1).set_index("what")["change"]
    oud = paths.of("Oud").sum(axis=1)
    low, high = (f"Oud, the newest, at the {end} end of its range" for end in ("low", "high"))
    assert change[low] == pytest.approx(np.quantile(oud, 0.1) - oud.mean())
    assert change[high] == pytest.approx(np.quantile(oud, 0.9) - oud.mean())


# what is assumed


def test_assumptions_name_the_post_the_markets_and_what_is_not_learned(fairs):
    demand, calendar = fairs
    said = assumptions(fitted(demand, calendar), SHOP, FIRST, LAST, NO_DAYS).set_index("what")
    assert said.loc["last posting day before Christmas", "assumed"] == "18 Dec in every year, next on Thu 18 Dec 2025"
    assert "shop.toml" in said.loc["last posting day before Christmas", "known_from"]
    market = said.loc["market days", "assumed"]
    assert market.startswith("2 ahead, 3 in the same weeks a year before; such a day sells ")
    assert market.endswith("times as much (learned)")
    assert "not learned" in said.loc["prices", "assumed"]
    assert said.loc["strength of Christmas", "known_from"] == "from 3 Christmases and a rule of thumb"
    bare = assumptions(fitted(demand), Settings("Invented", "EUR"), FIRST, LAST, NO_DAYS).set_index("what")
    assert bare.loc["market days", "known_from"] == "no line of this kind in calendar.csv"
    assert "nobody said" in bare.loc["last posting day before Christmas", "known_from"]


def test_the_dates_of_days_that_move_are_named(fairs):
    demand, calendar = fairs
    said = assumptions(fitted(demand, calendar), SHOP, FIRST, LAST, NO_DAYS).set_index("what")
    # published: Thanksgiving 2025 is 27 November; Easter 2026 is 5 April (rules of season.calendar, tested there)
    assert said.loc["next Black Friday", "assumed"] == "Fri 28 Nov 2025"
    assert said.loc["next Easter", "assumed"] == "Sun 5 Apr 2026, after the days foreseen"
    british = replace(SHOP, country="GB")
    mother = assumptions(fitted(demand, settings=british), british, FIRST, LAST, NO_DAYS).set_index("what")
    assert mother.loc["next Mother's Day", "assumed"] == "Sun 15 Mar 2026, after the days foreseen"  # Easter less 21
    assert mother.loc["next Mother's Day", "known_from"].startswith("three weeks before Easter (the rule of GB")


def test_by_month_only_what_months_assume_is_named(fairs):
    demand, calendar = fairs
    calendar = pd.concat([calendar, events(["2025-11-03"], "closed", 5)], ignore_index=True)
    model = fitted(demand, calendar)
    said = assumptions(model, SHOP, FIRST, LAST, NO_DAYS, by_month=True).set_index("what")
    assert not said.index.str.contains("drift|strength").any()
    assert not said["assumed"].str.contains("times as much").any()
    assert said.loc["market days", "assumed"] == "2 ahead; what one brings cannot be learned from months"
    assert said.loc["days the shop is closed", "assumed"] == "5 ahead; nothing is foreseen on a closed day"
    assert "as they were sold" in said.loc["months with sold-out days", "assumed"]
    assert '"to order" (like wholesale) is not in it' in said.loc["channels", "assumed"]
    apart = assumptions(model, replace(SHOP, channels_apart=True), FIRST, LAST, NO_DAYS).set_index("what")
    assert "shared out as the channels sold" in apart.loc["channels", "assumed"]
    assert apart.loc["channels", "known_from"] == "channels_apart in shop.toml"


def test_by_month_a_guess_counts_only_until_something_sold():
    scents = scents_of("Fig", "Rose")
    scents[["guess_low", "guess_high"]] = [20.0, 60.0]
    scents.loc[0, "first_sold"] = pd.Timestamp("2025-06-02")
    model = fitted(weekly({"Fig": 8}, weeks=20), scents=scents)
    both, months = (set(assumptions(model, SHOP, FIRST, LAST, NO_DAYS, by)["what"]) for by in (False, True))
    assert "guesses for Fig and Rose" in both
    assert "guesses for Rose" in months


def test_each_gap_is_named_with_its_own_days(fairs):
    model = fitted(fairs[0])
    days = ["2024-01-01", "2024-01-08", "2024-01-15", "2025-03-03", "2025-03-10", "2025-03-17"]
    said = assumptions(model, SHOP, FIRST, LAST, pd.DatetimeIndex(days)).set_index("what")
    assert said.loc["2 gaps in the sales", "assumed"] == (
        "6 weeks without a sale of any scent, from 1 Jan 2024 to 21 Jan 2024 and from 3 Mar 2025 to 23 Mar 2025, are "
        "unknown and not zero"
    )
    one = assumptions(model, SHOP, FIRST, LAST, pd.DatetimeIndex(days[:3])).set_index("what")
    assert one.loc["a gap in the sales", "assumed"].startswith(
        "3 weeks without a sale of any scent, from 1 Jan 2024 to"
    )


def test_guesses_likes_and_ends_are_named():
    scents = scents_of("Fig", "Rose", "Oud", "Moss")
    scents.loc[1, ["guess_low", "guess_high"]] = [20.0, 60.0]
    scents.loc[2, "like"] = "Fig"
    scents.loc[0, "last_sold"] = pd.Timestamp("2025-11-01")
    model = fitted(weekly({"Fig": 8}), scents=scents)
    what = list(assumptions(model, SHOP, FIRST, LAST, NO_DAYS)["what"])
    assert what[-4:] == ["guesses for Rose", "what Oud is like", "Moss, never sold", "end of Fig"]


# a season of the shop's own, and silence


def test_a_season_of_its_own_comes_every_year_and_christmas_does_not():
    autumn = replace(SHOP, season=Window(date(2026, 4, 13), date(2026, 5, 9)))
    calendar = empty(FILES["calendar"])
    own = with_own_season(calendar, autumn)
    assert own["kind"].eq("holiday").all()
    assert {(day.month, day.day) for day in own["first_day"]} == {(4, 13)}
    assert own["first_day"].dt.year.tolist() == list(range(2014, 2030))
    assert with_own_season(calendar, SHOP) is calendar
    assert with_own_season(calendar, replace(SHOP, season=None)) is calendar
    leap = with_own_season(calendar, replace(SHOP, season=Window(date(2024, 2, 5), date(2024, 2, 29))))
    assert leap.loc[leap["first_day"].dt.year == 2023, "last_day"].tolist() == [pd.Timestamp("2023-02-28")]
    assert last_posting_day(autumn) == (12, 18)


def test_three_weeks_without_any_sale_are_silence_and_less_are_not():
    demand = weekly({"Fig": 8, "Rose": 2})
    weeks = demand["week"].drop_duplicates().to_list()
    for length, silent in ((2, 0), (3, 3), (25, 25), (26, 26)):
        gap = demand.assign(bottles=demand["bottles"].mask(demand["week"].isin(weeks[40 : 40 + length]), 0))
        assert silent_weeks(gap).tolist() == weeks[40 : 40 + silent]
    one = gap.assign(bottles=gap["bottles"].mask(gap["week"].eq(weeks[50]) & gap["scent"].eq("Rose"), 1))
    assert silent_weeks(one).empty  # one bottle: the shop was open
    seldom = demand.assign(bottles=(demand["week"].isin(weeks[::30]) & demand["scent"].eq("Fig")).astype("int64"))
    assert silent_weeks(seldom).empty  # so little is sold that half a year without a sale is luck
    assert silent_weeks(demand.iloc[:0]).empty


# sentences


def checked(origins, inside, family_inside, bias):
    """Return a check of two scents and all scents, `inside` telling whether each outcome held."""
    rows = []
    for number, origin in enumerate(origins):
        for place, scent in enumerate(("Fig", "Oud")):
            rows.append((origin, scent, 5.0 if inside[2 * number + place] else 50.0, 1.0, 10.0))
        rows.append((origin, "all scents", 5.0 if family_inside[number] else 50.0, 1.0, 10.0))
    ranges = pd.DataFrame(rows, columns=["origin", "scent", "bottles", "p10", "p90"])
    summary = pd.DataFrame({"method": ["our model"], "ratio_to_last_year": [0.7], "bias_pct": [bias]})
    return (pd.DataFrame(), ranges, summary, "In the last seasons the 80 % range held so often.")


def test_the_check_says_whether_ranges_are_wider():
    two = [pd.Timestamp("2023-10-02"), pd.Timestamp("2024-10-07")]
    check = checked(two, [True] * 4, [True, False], 3.0)
    said = sentences.say_check(check, learn_widening(check[1]))
    assert said == (
        "In the last seasons the 80 % range held so often. Scent by scent it missed by 30 % less than last year's "
        "numbers would have. All scents together lay inside their range in 1 of 2 seasons. That is about as it should "
        "be, so the ranges are left as they are."
    )
    check = checked(two, [False] * 4, [False, False], -44.0)
    said = sentences.say_check(check, learn_widening(check[1]))
    # none of 4 held; with ten more at 0.8 that is 8 of 14, within 0.792 standard deviations
    assert said.endswith(
        "Fewer held than the 3 that should, so every range on this page, and what the plan is made from, is drawn "
        "1.62 times as wide."
    )
    assert "lean to the upper end of the ranges" in said


def test_one_season_and_none_say_what_cannot_be_checked():
    check = checked([pd.Timestamp("2024-10-07")], [True, False], [False], 0.0)
    said = sentences.say_check(check, learn_widening(check[1]))
    assert "All scents together lay above their range. One season is one throw of the dice" in said
    assert "cannot be checked before a second one" in said
    nothing = (check[0], check[1].iloc[:0], check[2].iloc[:0], "It cannot be checked yet.")
    assert sentences.say_check(nothing, learn_widening(nothing[1])).endswith("nothing that was tried on your shop.")


def known_weeks(weeks, known=1):
    """Return the level of a shop that sold a bottle in each known week, the last of them before TODAY."""
    week = pd.date_range(TODAY - pd.Timedelta(weeks=weeks), periods=weeks, freq="7D").astype("datetime64[us]")
    table = pd.DataFrame({"week": week, "factor": 1.0, "low": 1.0, "high": 1.0, "known": known})
    return table.assign(bottles=table["known"].clip(upper=1).astype("float64"))


def test_old_and_absent_sales_are_said():
    level = shop_level(fitted(weekly({"Fig": 8}, weeks=30)))
    assert sentences.say_history(level, TODAY, False) == "It rests on 30 weeks of sales up to Sun 28 Sep 2025."
    later = sentences.say_history(level, TODAY + pd.Timedelta(weeks=20), False)
    assert later.endswith("That is 20 weeks ago; what happened since is unknown, so the ranges are wider.")
    months = sentences.say_history(known_weeks(105), TODAY, by_month=True)  # 24 months hold 105 weeks or parts of them
    assert months == "It rests on about 24 months of sales up to Sun 28 Sep 2025."
    assert sentences.say_history(level.iloc[:0], TODAY, False).startswith("There is no whole week of sales to learn")
    assert sentences.say_history(known_weeks(3, 0), TODAY, False).startswith("There is no whole week of sales to learn")


def test_weeks_that_are_not_known_are_not_counted_and_no_day_to_come_is_named():
    demand = weekly({"Fig": 8, "Rose": 2}, weeks=160)
    silent = demand["week"].between("2023-10-01", "2024-09-23")  # 52 Mondays
    level = shop_level(fitted(demand.assign(bottles=demand["bottles"].mask(silent, 0))))
    assert sentences.say_history(level, TODAY, False) == (
        "It rests on 108 weeks of sales up to Sun 28 Sep 2025. Of 52 weeks more between them nothing is known: sold "
        "out, closed, or missing from the files."
    )
    begun = known_weeks(30).assign(week=lambda table: table["week"] + pd.Timedelta(weeks=1))
    assert "up to Sun 28 Sep 2025" in sentences.say_history(begun, TODAY, False)
    assert "up to Wed 1 Oct 2025" in sentences.say_history(begun, TODAY + pd.Timedelta(days=3), False)


def test_growth_is_said_up_to_the_last_sale_and_only_of_a_year_with_sales(model):
    level, growth = shop_level(model), yearly_growth(model)
    said = sentences.say_growth(growth, level, TODAY)
    assert said.startswith("Up to Sun 28 Sep 2025 a usual scent came to sell ")
    assert "than a year before" in said
    old = sentences.say_growth(growth, level, TODAY + pd.Timedelta(weeks=110))
    assert old == "No sale of the last year is known, so nothing is said of growth; it is taken for small."
    assert sentences.say_growth(growth, level.assign(bottles=0.0), TODAY) == old


def test_growth_needs_known_weeks_a_year_ago():
    demand = weekly({"Fig": 8, "Rose": 5}, weeks=150)
    assert not yearly_growth(fitted(demand)).empty
    gap = demand["week"].between(TODAY - pd.Timedelta(weeks=70), TODAY - pd.Timedelta(weeks=30))
    assert yearly_growth(fitted(demand[~gap])).empty


def asleep(demand, since, **change):
    late = demand["scent"].eq("Dew") & (demand["week"] > pd.Timestamp(since))
    for name, value in change.items():
        demand = demand.assign(**{name: demand[name].mask(late, value)})
    return demand


def test_a_scent_that_stopped_selling_is_named_with_what_to_write():
    demand, scents = weekly({"Fig": 8, "Dew": 6}), scents_of("Fig", "Dew")
    none = weeks_left_out(fitted(demand))
    assert sentences.say_asleep(demand, none, scents, TODAY, False).startswith("No scent has stopped selling")
    quiet = asleep(demand, "2025-03-03", bottles=0)
    said = sentences.say_asleep(quiet, none, scents, TODAY, False)
    assert said.startswith("**Dew has not sold since the week of Mon 3 Mar 2025**: taken for there and not wanted.")
    assert "write `last_sold` into scents.csv" in said
    doubted = pd.DataFrame({"scent": "Dew", "week": demand["week"].unique()})
    gone = asleep(demand, "2025-03-03", bottles=pd.NA, shelf_days=0.0)
    back, perhaps = "taken for sold out, as counted, and foreseen as if it were back.", "sold out, and perhaps over."
    for table, left_out, taken in (
        (gone, none, back),
        (gone.assign(known="inferred"), none, perhaps),
        (quiet.assign(known=""), doubted, perhaps),
    ):
        assert taken in sentences.say_asleep(table, left_out, scents, TODAY, False)
    over = scents.assign(last_sold=pd.to_datetime([None, "2025-03-09"]).astype("datetime64[us]"))
    for case in (
        (quiet, over),
        (asleep(demand, "2025-07-14", bottles=0), scents),  # eleven weeks
        (asleep(weekly({"Fig": 8, "Dew": 0.2}), "2025-03-03", bottles=0), scents),  # six bottles would have sold
    ):
        assert sentences.say_asleep(case[0], none, case[1], TODAY, False).startswith("No scent has stopped")
    assert sentences.say_asleep(demand.iloc[:0], none, scents, TODAY, False).startswith("No scent has sold yet")


def drawn(*levels):
    """Return paths in one week, each scent one column of bottles by path, and their forecast."""
    bottles = np.array(levels).T[:, :, None]
    paths = Paths(bottles, tuple("ABCDEFG"[: len(levels)]), pd.DatetimeIndex([TODAY]))
    return summarise(paths), paths


def test_the_scent_wanted_most_is_named_where_the_draws_agree():
    sure = sentences.say_season(*_season(drawn([9] * 10, [8] * 8 + [10] * 2)))
    assert sure.endswith("A is wanted most: about 9, between 9 and 9.")  # eight of ten
    tied = sentences.say_season(*_season(drawn([9] * 10, [8] * 7 + [10] * 3, [1] * 10)))
    assert tied.endswith("Wanted most is one of these, which cannot be told apart: A about 9 and B about 8.")
    sevens = np.arange(70).reshape(7, 10) % 7 == 0  # each of seven is first in one or two draws of ten
    assert sentences.say_season(*_season(drawn(*sevens.astype(int)))).endswith("cannot be told yet.")
    same = sentences.say_season(*_season(drawn([9] * 10, [9] * 10)))
    assert same.endswith("Which scent is wanted most cannot be told yet.")
    assert sentences.say_season(*_season(drawn([9] * 10))).endswith("A is wanted most: about 9, between 9 and 9.")


def _season(both):
    return both[0], FIRST, LAST, both[1]


def test_scaled_errors_above_one_are_named_as_they_are():
    table = pd.DataFrame({"method": ["our model", "last year", "recent"], "mase": [0.73, 1.03, 1.0]})
    assert sentences.say_scaled(table).startswith("In these seasons last year missed by more than that (above one)")
    assert "every method" in sentences.say_scaled(table.assign(mase=1.2))
    assert "no method" in sentences.say_scaled(table.assign(mase=0.9))
    assert "is not known" in sentences.say_scaled(table.assign(mase=np.nan))


def test_what_was_left_out_and_missed_is_said_in_bottles_and_money():
    left_out = pd.DataFrame(
        {"scent": ["Fig"], "week": [pd.Timestamp("2025-05-05")], "bottles": [400], "why": ["one giant order"]}
    )
    assert "Nothing was learned from 1 week: Fig, 400 bottles in the week of Mon 5 May 2025 (one giant order)." in (
        sentences.say_left_out(left_out, by_month=False)
    )
    by_scent = pd.DataFrame(
        {"scent": ["Fig", "Oud"], "bottles": [60.0, 20.0], "unsold": [15.0, 5.0], "unsold_money": [270.0, np.nan]}
    )
    level = known_weeks(60)
    assert sentences.say_unsold(by_scent, SHOP, False, level, TODAY) == (
        "In the year up to Sun 28 Sep 2025 about 20 bottles more were wanted than were there to be bought (20 % of all "
        "that was wanted), most of all of Fig (15). At their prices that is 270 EUR of sales."
    )
    assert "not known" in sentences.say_unsold(by_scent, SHOP, True, level, TODAY)
    none = by_scent.assign(unsold=0.1)
    said = sentences.say_unsold(none, SHOP, False, level, TODAY)
    assert said.startswith("In the year up to Sun 28 Sep 2025 nothing is known to have been sold out")
    later = sentences.say_unsold(none, SHOP, False, level, TODAY + pd.Timedelta(weeks=52))
    assert later.endswith("Of the time since then nothing is known: nothing was for sale, or it is in no file.")
    for table, weeks in ((none.assign(bottles=0.0), level), (none.iloc[:0], level), (none, known_weeks(60, 0))):
        assert sentences.say_unsold(table, SHOP, False, weeks, TODAY).startswith("No week is known in which a scent")
    much = sentences.say_unsold(by_scent.assign(bottles=9000.0), SHOP, False, level, TODAY)
    assert "(less than 1 % of all that was wanted)" in much
    few = by_scent.assign(bottles=1.0, unsold=2.0)
    assert "%" not in sentences.say_unsold(few, SHOP, False, level, TODAY)


def test_what_stands_out_is_said_and_the_rest_is_not(model):
    said = sentences.say_departures(scent_departures(model))
    assert said.startswith("Standing out: ")
    assert "Fig gets" in said
    assert "Seldom" not in said
    alone = fitted(weekly({"Fig": 0.5}, weeks=20))
    assert sentences.say_departures(scent_departures(alone)).startswith("No scent stands out from the shop's holidays")


# the picture of the weeks


def week_chart(p50, last_year, weeks=12):
    week = pd.date_range("2026-09-28", periods=weeks, freq="7D").astype("datetime64[us]")
    table = pd.DataFrame({"week": week, **dict.fromkeys(("p10", "p25", "p75", "p90"), 100.0)})
    return charts.season_weeks_chart(table.assign(p50=p50, last_year=last_year), "said").to_dict()


def test_the_axis_names_mondays_of_the_weeks_drawn():
    for weeks, every in ((8, 1), (12, 2), (30, 3)):
        axis = week_chart(50.0, 40.0, weeks)["layer"][0]["encoding"]["x"]["axis"]
        days = pd.to_datetime(axis["values"])
        assert list(days) == list(pd.date_range("2026-09-28", periods=weeks, freq="7D")[::every])
        assert days.day_of_week.unique().tolist() == [0]


@pytest.mark.parametrize(("p50", "last_year"), [(50.0, 0.0), (0.0, 0.0), (0.0, 50.0), (50.0, 50.0), (3.0, np.nan)])
def test_names_of_lines_stand_clear_of_the_axis_and_of_each_other(p50, last_year):
    spec = week_chart(p50, last_year)
    texts = [layer for layer in spec["layer"] if layer["mark"]["type"] == "text"]
    places = [spec["datasets"][layer["data"]["name"]][0]["y"] for layer in texts]
    assert len(places) == (1 if np.isnan(last_year) else 2)
    assert min(places) >= 8  # of the 100 that the picture is high: the height of a line of letters
    assert len(places) == 1 or abs(places[0] - places[1]) >= 8
