"""What a bottle costs by scent and channel: its oil, what goes with it, fees and the maker's own time."""

import numpy as np
import pandas as pd

from planner.settings import Settings
from planner.tables import STEPS, check

YEAR = pd.Timedelta(days=365)


def bottle_account(
    costs: pd.DataFrame,
    scents: pd.DataFrame,
    sales: pd.DataFrame,
    overage: pd.DataFrame,
    minutes: pd.DataFrame,
    settings: Settings,
    today: pd.Timestamp,
) -> pd.DataFrame:
    """Return the table bottle-costs: a row for each scent and channel of the shop.

    Everything is per bottle that can be sold of a usual batch (batch_bottles less those retained): oil_cost takes in
    the oil that gets lost (overage: share and fixed_g of each batch) and that of retained bottles, packing_cost the
    bottle and packing of those, minutes the set-up. price is the middle price paid in that channel in the last year;
    for a scent not sold there, the price in scents.csv times what others are sold there at against theirs; fees are the
    channel's. time_cost = minutes at rate_per_hour. cost = all of these, earns = price less cost. What is not known is
    missing, never 0.
    """
    known = costs.merge(scents[["scent", "batch_bottles", "retained"]].drop_duplicates("scent"), on="scent")
    filled = known["batch_bottles"].astype("float64")
    for_sale = filled - known["retained"].astype("float64").fillna(0)
    for_sale = for_sale.where(for_sale > 0)
    lost, time = overage.iloc[0], minutes.iloc[0]
    oil_g = filled * known["fill_g"] / (1 - float(lost["share"])) + float(lost["fixed_g"])
    table = known[["scent"]].assign(
        listed=known["price"],
        oil_cost=oil_g * known["oil_cost_per_g"] / for_sale,
        packing_cost=(known["material_cost"] - known["fill_g"] * known["oil_cost_per_g"]) * filled / for_sale,
        minutes=(float(time["setup_minutes"]) + filled * float(time["minutes_per_bottle"])) / for_sale,
    )
    table["time_cost"] = table["minutes"] / 60 * settings.bench.rate_per_hour
    names = [channel.name for channel in settings.channels] or sorted(sales["channel"].dropna().unique())
    every = table.merge(pd.DataFrame({"channel": pd.Series(names, dtype="str")}), how="cross")
    paid = _usual_prices(sales, today).reindex(pd.MultiIndex.from_frame(every[["scent", "channel"]]))
    ratio = (pd.Series(paid.to_numpy()) / every["listed"]).groupby(every["channel"]).transform("median").fillna(1.0)
    every["price"] = np.where(paid.notna(), paid, every["listed"] * ratio)
    shares = every["channel"].map({name: settings.channel(name).fee_pct / 100 for name in names}).astype("float64")
    each = every["channel"].map({name: settings.channel(name).fee_each for name in names}).astype("float64")
    every["fees"] = every["price"] * shares + each
    every["cost"] = every[["oil_cost", "packing_cost", "fees", "time_cost"]].sum(axis=1, skipna=False)
    return check(every.assign(earns=every["price"] - every["cost"]), STEPS["bottle-costs"])


def _usual_prices(sales: pd.DataFrame, today: pd.Timestamp) -> pd.Series:
    """Return the middle price by scent and channel of the last year, each bottle counting once."""
    sold = sales[(sales["kind"] == "sale") & (sales["day"] > today - YEAR) & (sales["bottles"] > 0)]
    sold = sold[sold["unit_price"].notna()]
    each = sold.loc[sold.index.repeat(sold["bottles"].astype("int64")), ["scent", "channel", "unit_price"]]
    return each.groupby(["scent", "channel"])["unit_price"].median()
