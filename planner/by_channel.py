"""The forecast by channel, for the maker who asks for it in shop.toml; glue between the steps, as in flow."""

import numpy as np
import pandas as pd

from planner.files import Folder
from planner.season import summarise
from planner.season.apart import learn_split, orders_ahead, split_channels
from planner.shelf.openings import channel_openings, open_days
from planner.tables import STEPS, Paths, empty

SPLIT = 2  # which stream of chance splits the paths: not the one that drew them, nor that of flow.WIDENED


def foresee_channels(shop: Folder, sales: pd.DataFrame, paths: Paths, seed: int = 1) -> pd.DataFrame:
    """Return the forecast by channel (table forecast), empty unless channels_apart is set in shop.toml.

    Channels for shoppers share the paths out: added up they are the forecast of all. What is sold to order comes on
    top, drawn from past orders.
    """
    settings, rng = shop.settings, np.random.default_rng([seed, SPLIT])
    known = sales[sales["kind"] == "sale"]
    names = [channel.name for channel in settings.channels if channel.open != "to order"]
    if not settings.channels_apart or known.empty or not len(paths.weeks) or not names:
        return empty(STEPS["forecast"])
    days = pd.date_range(known["day"].min(), min(known["day"].max(), shop.today), name="day")
    past = channel_openings(days, names, known, shop["calendar"], settings).opened
    coming = pd.date_range(max(paths.weeks[0], shop.today), paths.weeks[-1] + pd.Timedelta(days=6), name="day")
    ahead = open_days(coming, names, shop["calendar"], settings)
    parts = split_channels(paths, learn_split(known[known["channel"].isin(names)], past), ahead, rng)
    for channel in settings.channels:
        if channel.open == "to order":
            orders = known[known["channel"] == channel.name]
            parts.append(orders_ahead(orders, paths, channel.name, days[0], rng))
    return pd.concat([summarise(part) for part in parts], ignore_index=True)


def channel_totals(forecast: pd.DataFrame) -> pd.DataFrame:
    """Return the season of each channel, all scents together, from a forecast by channel."""
    totals = forecast[forecast["week"].isna() & (forecast["scent"] == "all scents")]
    return totals.drop(columns=["week", "scent"]).reset_index(drop=True)
