"""Weeks in which the whole shop sold nothing: a gap in the records, or a quiet time."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
from scipy.stats import nbinom

from planner.season import draw_paths, fit_season
from planner.season.assuming import assumptions
from planner.season.silence import CHANCE, SIZE, silent_weeks
from planner.settings import Season, Settings

WEEKS = pd.date_range("2023-09-04", "2026-09-21", freq="7D", unit="us")
SHOP = Settings("Invented", "EUR", country="IE", season=Season(date(2026, 10, 19), date(2026, 12, 17)))


def rows(pace, shelf_days=7.0, seed=1):
    """Return demand of scents that sell `pace` bottles a week, a number or one for each of WEEKS, by scent."""
    rng = np.random.default_rng(seed)
    parts = [
        pd.DataFrame({"week": WEEKS, "scent": name, "bottles": rng.poisson(np.broadcast_to(of, len(WEEKS)))})
        for name, of in pace.items()
    ]
    table = pd.concat(parts, ignore_index=True).assign(channel="all", shelf_days=shelf_days)
    return table.assign(exposure=table["shelf_days"] / 7, hidden=0.0, known="counted")


def without(table, first, last):
    """Return the demand without a sale from one day to another."""
    return table.assign(bottles=table["bottles"].mask(table["week"].between(first, last), 0))


def test_a_month_without_a_sale_in_a_shop_of_ten_a_week_is_unknown():
    table = without(rows({"Fig": 6, "Rose": 4}), "2025-03-03", "2025-03-24")
    assert silent_weeks(table).strftime("%m-%d").tolist() == ["03-03", "03-10", "03-17", "03-24"]


@pytest.mark.parametrize(("pace", "weeks"), [(2, 3), (2, 8), (5, 3), (6, 3), (12, 3), (12, 2)])
def test_a_run_is_a_silence_where_the_chance_of_none_is_tiny(pace, weeks):
    # the chance of no sale in all weeks, each a negative binomial of the mean around it, by scipy
    table = rows({"Fig": 0}).assign(bottles=pace)
    table = without(table, "2025-03-03", pd.Timestamp("2025-03-03") + pd.Timedelta(weeks=weeks - 1))
    chance = nbinom.pmf(0, SIZE, SIZE / (SIZE + pace)) ** weeks
    assert len(silent_weeks(table)) == (weeks if chance < CHANCE and weeks >= 3 else 0)


def test_quiet_weeks_of_a_slow_shop_are_zeros():
    table = without(rows({"Fig": 0.6, "Rose": 0.4}), "2025-03-03", "2025-03-24")
    assert not len(silent_weeks(table))


def test_a_shop_that_sells_nothing_every_january_keeps_its_zeros():
    january = np.where(WEEKS.month == 1, 0.0, 1.0)
    assert not len(silent_weeks(rows({"Fig": 8 * january, "Rose": 6 * january})))
    once = np.where((WEEKS.month == 1) & (WEEKS.year == 2025), 0.0, 1.0)
    assert len(silent_weeks(rows({"Fig": 8 * once, "Rose": 6 * once}))) == 4


def test_weeks_in_which_all_was_sold_out_are_no_silence():
    table = without(rows({"Fig": 8, "Rose": 6}), "2025-03-03", "2025-03-24")
    gone = table["week"].between("2025-03-03", "2025-03-24")
    assert not len(silent_weeks(table.assign(shelf_days=table["shelf_days"].mask(gone, 0.0))))
    assert len(silent_weeks(table.assign(shelf_days=table["shelf_days"].mask(gone, 6.0)))) == 4


@pytest.mark.parametrize(("first", "last"), [("2025-10-13", "2026-02-23"), ("2025-11-03", "2026-02-09")])
def test_a_pause_through_christmas_is_no_christmas_without_sales(first, last):
    lift = np.where((WEEKS.month * 100 + WEEKS.day >= 1106) & (WEEKS.month * 100 + WEEKS.day <= 1217), 2.5, 1.0)
    whole = rows({"Fig": 8 * lift, "Rose": 4 * lift, "Oud": 15 * lift})
    found = [middle(table) for table in (whole, without(whole, first, last))]
    assert found[1][1] == pytest.approx(found[0][1], rel=0.15)
    assert found[1][2] / found[1][0] < 2.5


def test_each_gap_is_named_by_its_days():
    table = without(rows({"Fig": 8, "Rose": 6}), "2025-03-03", "2025-03-24")
    table = without(table, "2026-04-06", "2026-04-20")
    days = pd.Timestamp("2026-09-28"), pd.Timestamp("2026-12-17")
    said = assumptions(fitted(table), SHOP, *days, silent_weeks(table)).set_index("what").loc["2 gaps in the sales"]
    assert said["assumed"] == (
        "7 weeks without a sale of any scent, from 3 Mar 2025 to 30 Mar 2025 and from 6 Apr 2026 to 26 Apr 2026, are "
        "unknown and not zero"
    )


def middle(demand):
    """Return the 10, 50 and 90 % levels of the season's bottles."""
    model = fitted(demand)
    days = pd.Timestamp("2026-09-28"), pd.Timestamp("2026-12-17")
    paths = draw_paths(model, *days, 500, np.random.default_rng(1))
    return np.quantile(paths.bottles.sum(axis=(1, 2)), [0.1, 0.5, 0.9])


def fitted(demand):
    scents = pd.DataFrame({"scent": ["Fig", "Rose", "Oud"]})
    empty = pd.Series(pd.NaT, index=scents.index, dtype="datetime64[us]")
    scents = scents.assign(first_sold=empty, last_sold=empty, like="", guess_low=np.nan, guess_high=np.nan)
    calendar = pd.DataFrame({name: pd.Series(dtype="str") for name in ("what", "kind", "channel")})
    calendar = calendar.assign(**{name: pd.Series(dtype="datetime64[us]") for name in ("first_day", "last_day")})
    return fit_season(demand, scents, calendar, SHOP, pd.Timestamp("2026-09-28"))
