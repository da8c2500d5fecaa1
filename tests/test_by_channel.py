"""The forecast by channel through the example folder: it is asked for, it adds up, and it follows the calendar."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.by_channel import channel_totals, foresee_channels
from planner.files import load_folder
from planner.sales import read_sales
from planner.tables import Paths

EXAMPLE = Path(__file__).parent.parent / "data" / "example"


@pytest.fixture(scope="module")
def shop():
    return load_folder(str(EXAMPLE), "")


@pytest.fixture(scope="module")
def sales(shop):
    return read_sales(shop.exports, shop.settings, shop["scents"], shop["sets"], shop.today).sales


@pytest.fixture(scope="module")
def paths(shop):
    scents = tuple(shop["scents"]["scent"])
    weeks = pd.date_range("2026-09-28", periods=12, freq="7D")
    return Paths(np.random.default_rng(3).poisson(9, size=(300, len(scents), len(weeks))), scents, weeks)


def test_it_is_empty_unless_asked_for(shop, sales, paths):
    assert foresee_channels(shop, sales, paths).empty


def test_channels_for_shoppers_add_up_and_markets_sell_in_market_weeks_only(shop, sales, paths):
    asked = replace(shop, settings=replace(shop.settings, channels_apart=True))
    found = foresee_channels(asked, sales, paths)
    crowd = [channel.name for channel in shop.settings.channels if channel.open != "to order"]
    totals = channel_totals(found).set_index("channel")["mean"]
    assert totals[crowd].sum() == pytest.approx(paths.bottles.sum(axis=(1, 2)).mean())
    (market,) = [channel.name for channel in shop.settings.channels if channel.open == "market days"]
    events = shop["calendar"][(shop["calendar"]["kind"] == "market")]
    family = found[(found["channel"] == market) & (found["scent"] == "all scents") & found["week"].notna()]
    held = [
        (
            (events["first_day"] <= week + pd.Timedelta(days=6))
            & (events["last_day"].fillna(events["first_day"]) >= week)
        ).any()
        for week in family["week"]
    ]
    assert any(held)
    assert (family["mean"] > 0).tolist() == held
    assert set(totals.index) == {channel.name for channel in shop.settings.channels}
