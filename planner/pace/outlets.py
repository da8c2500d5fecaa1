"""Scents that are sold in some channels only, such as at markets: on the shelf only there."""

import numpy as np
import pandas as pd

from planner.settings import Settings

# A channel in which so many bottles of a scent were to be expected, by how all scents sell there, and none was sold,
# does not have it: with uneven weeks the chance of that is below one in a hundred; judgement.
FEWEST_EXPECTED = 20.0


def keep_to_outlets(demand: pd.DataFrame, sales: pd.DataFrame, shelf: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return table demand with the exposure of a scent taken from the channels that have it.

    A scent sold at markets only is on the shelf on market days only, and then set against what all scents sell in
    those weeks. The parts of a week are the day weights in table `shelf`. Other scents stay as they are.
    """
    absent = _absent(sales, settings)
    mine = shelf[shelf["scent"].isin(absent.index[absent.any(axis=1)]) & shelf["channel"].isin(absent.columns)]
    if mine.empty:
        return demand
    week = mine["day"] - pd.to_timedelta(mine["day"].dt.day_of_week, unit="D")
    there = mine["on_shelf"] * mine["day_weight"]
    pairs = absent.stack().reindex(pd.MultiIndex.from_frame(mine[["scent", "channel"]])).to_numpy(dtype=bool)
    key = [week.rename("week"), mine["scent"]]
    part = there.where(~pairs, 0.0).groupby(key).sum() / there.groupby(key).sum().replace(0.0, np.nan)
    rows = pd.MultiIndex.from_frame(demand[["week", "scent"]])
    kept = np.where(demand["channel"] == "all", part.reindex(rows).fillna(1.0).to_numpy(), 1.0)
    return demand.assign(exposure=demand["exposure"].astype("float64") * kept)


def _absent(sales: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Mark the channels (across) that do not have a scent (down); what sells to order is no shelf."""
    crowd = sales[
        (sales["kind"] == "sale") & (sales["channel"].map(lambda name: settings.channel(name).open) != "to order")
    ]
    sold = crowd.groupby(["scent", "channel"])["bottles"].sum().unstack(fill_value=0).astype("float64")
    usual = sold.sum() / max(sold.to_numpy().sum(), 1.0)
    rest = sold.sum(axis=1).to_numpy()[:, None] * (usual / (1 - usual).clip(lower=1e-9)).to_numpy()[None, :]
    return (sold == 0) & (rest >= FEWEST_EXPECTED)
