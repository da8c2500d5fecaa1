"""What each scent earns by what it takes up: a bottle, an hour at the bench, a gram of fragrance oil."""

import pandas as pd

COLUMNS = ["contribution_per_bottle", "contribution_per_hour", "contribution_per_fragrance_g"]


def earnings(
    costs: pd.DataFrame, scents: pd.DataFrame | None = None, minutes: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Return the contribution of each scent per bottle, per bench hour and per gram of fragrance oil. [money]

    One row a scent of `costs` (see formula.bottle_costs). What is not known is missing.
    """
    table = costs.set_index("scent")
    contribution = table["contribution_per_bottle"].astype("float64")
    hours = bench_minutes(scents, minutes).reindex(table.index) / 60
    grams = table["fragrance_g"] if "fragrance_g" in table else pd.Series(float("nan"), index=table.index)
    values = [contribution, contribution / hours.where(hours > 0), contribution / grams.where(grams > 0)]
    return pd.DataFrame(dict(zip(COLUMNS, values, strict=True)))


def bench_minutes(scents: pd.DataFrame | None, minutes: pd.DataFrame | None) -> pd.Series:
    """Return bench time of one bottle for sale: its own and its part of the batch's, retained ones borne. [minutes]

    A batch takes setup_minutes and minutes_per_bottle for every bottle filled (`minutes`, one row).
    """
    if scents is None or minutes is None or minutes.empty:
        return pd.Series(dtype="float64")
    filled = scents.set_index("scent")["batch_bottles"].astype("float64")
    for_sale = filled - scents.set_index("scent")["retained"].astype("float64").fillna(0)
    batch = minutes["setup_minutes"].iloc[0] + minutes["minutes_per_bottle"].iloc[0] * filled
    return batch / for_sale.where(for_sale > 0)
