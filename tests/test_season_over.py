"""Scents that have not been on the shelf for long, as far as is known: they may be over."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from planner.season import draw_paths, fit_season
from planner.season.assuming import assumptions
from planner.settings import Season, Settings

WEEKS = pd.date_range("2024-09-30", "2026-09-21", freq="7D", unit="us")
TODAY, LAST = pd.Timestamp("2026-09-28"), pd.Timestamp("2026-12-17")
SHOP = Settings("Invented", "EUR", country="DE", season=Season(date(2026, 10, 19), LAST.date()))
COLUMNS = {"channel": "all", "hidden": 0.0}


def gone(weeks, known="inferred", earlier=0):
    """Return demand of four scents, of which D is not on the shelf in the last weeks, and once for some before."""
    rng = np.random.default_rng(1)
    parts = [
        pd.DataFrame({"week": WEEKS, "scent": name, "bottles": rng.poisson(pace, len(WEEKS)).astype(float)})
        for name, pace in {"A": 8, "B": 4, "C": 6, "D": 15}.items()
    ]
    table = pd.concat(parts, ignore_index=True).assign(shelf_days=7.0, exposure=1.0, known="assumed", **COLUMNS)
    off = table["week"].isin(WEEKS[len(WEEKS) - weeks :]) | table["week"].isin(WEEKS[20 : 20 + earlier])
    table.loc[off & table["scent"].eq("D"), ["bottles", "shelf_days", "exposure", "known"]] = [np.nan, 0.0, 0.0, known]
    return table


def learned(demand, **dates):
    scents = pd.DataFrame({"scent": list("ABCD")})
    empty = pd.Series(pd.NaT, index=scents.index, dtype="datetime64[us]")
    scents = scents.assign(first_sold=empty, last_sold=empty, like="", guess_low=np.nan, guess_high=np.nan)
    for name, day in dates.items():
        scents.loc[3, name] = pd.Timestamp(day)
    calendar = pd.DataFrame({name: pd.Series(dtype="str") for name in ("what", "kind", "channel")})
    calendar = calendar.assign(**{name: pd.Series(dtype="datetime64[us]") for name in ("first_day", "last_day")})
    return fit_season(demand, scents, calendar, SHOP, TODAY)


def drawn(model, count=2000):
    return draw_paths(model, TODAY, LAST, count, np.random.default_rng(1))


def test_a_scent_away_for_thirty_weeks_is_over_in_a_third_of_the_paths():
    model = learned(gone(30))
    assert model.history.over.tolist() == [0, 0, 0, pytest.approx(1 - 0.5 ** (30 / 52))]
    bottles = drawn(model).bottles.sum(axis=2)
    none = (bottles[:, 3] == 0).mean()
    assert none == pytest.approx(0.33, abs=0.03)  # 1 - 2 ** (-30 / 52) = 0.330
    assert np.quantile(bottles[:, 3], 0.1) == 0
    assert np.median(bottles[bottles[:, 3] > 0, 3]) > 100  # and where it is back, as it was: 15 a week
    assert (bottles[:, :3] > 0).all()


def test_the_other_scents_are_drawn_as_if_nothing_were_over():
    model = learned(gone(30))
    with_it = drawn(model, 100).bottles
    model.history.over[:] = 0
    assert (drawn(model, 100).bottles[:, :3] == with_it[:, :3]).all()


@pytest.mark.parametrize(
    ("demand", "dates"),
    [
        (gone(12), {}),  # a pause between batches
        (gone(30, "rolled forward"), {}),  # counted: known to be sold out
        (gone(30), {"last_sold": "2026-12-31"}),
        (gone(30), {"first_sold": "2026-10-05"}),  # it is said to come
        (gone(30, earlier=30), {}),  # it was away for as long before, and came back
    ],
)
def test_what_is_known_of_a_scent_that_is_away_is_not_doubted(demand, dates):
    model = learned(demand, **dates)
    assert not model.history.over.any()
    assert (drawn(model, 200).of("D").sum(axis=1) > 0).all()


def test_that_a_scent_may_be_over_stands_among_what_is_assumed():
    said = assumptions(learned(gone(30)), SHOP, TODAY, LAST, pd.DatetimeIndex([])).set_index("what")
    row = said.loc["D, not on the shelf since the week of 23 Feb 2026"]
    assert row["assumed"].startswith("sold out, and over in 33 of 100 ways it may go; write last_sold")
    assert "may go" not in " ".join(said.drop(row.name)["assumed"])
