"""Scents that are sold in some channels only."""

import numpy as np
import pandas as pd
import pytest

from planner.pace import keep_to_outlets
from planner.settings import Channel, Settings

SHOP = Settings(
    "T", "EUR", channels=(Channel("web"), Channel("market", open="market days"), Channel("trade", open="to order"))
)
DAYS = pd.date_range("2025-09-01", periods=14)  # two weeks, a market on the first Saturday


def shelf_of(*scents):
    """Every scent on the shelf every day; a market day is worth as much as the other six of its week and the web."""
    rows = [
        (day, scent, channel, 1.0, 7.0 if channel == "market" and day == DAYS[5] else float(channel == "web"))
        for day in DAYS
        for scent in scents
        for channel in ("web", "market", "trade")
    ]
    return pd.DataFrame(rows, columns=["day", "scent", "channel", "on_shelf", "day_weight"])


def sales_of(**bottles):
    rows = [(scent, channel, n) for scent, sold in bottles.items() for channel, n in sold.items()]
    return pd.DataFrame(rows, columns=["scent", "channel", "bottles"]).assign(kind="sale")


def demand_of(*scents):
    weeks = [(week, scent, "all", 1.0) for week in DAYS[::7] for scent in scents]
    return pd.DataFrame(weeks, columns=["week", "scent", "channel", "exposure"])


def kept(sales):
    names = sorted(sales["scent"].unique())
    found = keep_to_outlets(demand_of(*names), sales, shelf_of(*names), SHOP)
    return found.pivot(index="week", columns="scent", values="exposure")


def test_a_scent_sold_at_markets_only_is_on_the_shelf_on_market_days_only():
    # half of what the first week is worth is its market, nothing of the second; 30 were to be expected on the web
    exposure = kept(sales_of(Fig={"web": 60, "market": 60}, Stall={"market": 60, "trade": 40}))
    assert exposure["Stall"].tolist() == pytest.approx([0.5, 0.0])
    assert exposure["Fig"].tolist() == [1.0, 1.0]


def test_few_sales_or_one_bottle_in_a_channel_change_nothing():
    few = kept(sales_of(Fig={"web": 60, "market": 60}, Stall={"market": 9}))
    assert few["Stall"].tolist() == [1.0, 1.0]
    one = kept(sales_of(Fig={"web": 60, "market": 60}, Stall={"market": 60, "web": 1}))
    assert one["Stall"].tolist() == [1.0, 1.0]


def test_a_shop_with_one_channel_is_left_as_it_is():
    demand, sales = demand_of("Fig"), sales_of(Fig={"web": 500})
    pd.testing.assert_frame_equal(keep_to_outlets(demand, sales, shelf_of("Fig"), SHOP), demand)
    nothing = sales.iloc[:0]
    pd.testing.assert_frame_equal(keep_to_outlets(demand, nothing, shelf_of("Fig"), SHOP), demand)


def test_what_sells_to_order_keeps_its_rows():
    sales = sales_of(Fig={"web": 60, "market": 60}, Stall={"market": 60})
    demand = pd.concat([demand_of("Fig", "Stall"), demand_of("Stall").assign(channel="trade", exposure=np.nan)])
    found = keep_to_outlets(demand, sales, shelf_of("Fig", "Stall"), SHOP)
    assert found.loc[found["channel"] == "trade", "exposure"].isna().all()
