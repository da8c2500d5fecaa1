"""Prices that moved and stayed, and prices in scents.csv that nobody pays."""

import pandas as pd

from planner.plausible.finding import Finding, day, some
from planner.settings import Settings
from planner.tables import listed

MOVED = 0.05  # a smaller step is rounding or a small offer [share]
STEADY = 0.02  # monthly prices this close together are one price [share]
SAME_CHANGE_DAYS = 92  # channels that follow within three months make one change
FAR_OFF = 8.0  # times the usual price or a part of it: a slip of the decimal sign is ten
FEWEST_PRICES = 5  # fewer lines do not tell what is usual
STILL_ASKED_DAYS = 365  # a price last paid longer ago says nothing about today's


def monthly_prices(sold: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return the middle price by channel, scent and month with sales: channel, scent, month, price.

    Gift sets and orders of stockists are left out: their prices are agreed or shared out.
    """
    to_order = [channel.name for channel in settings.channels if channel.open == "to order"]
    paid = sold[(sold["unit_price"] > 0) & ~sold["in_set"] & ~sold["channel"].isin(to_order)]
    month = paid["day"].to_numpy().astype("datetime64[M]").astype("datetime64[s]")
    by = paid.assign(month=month).groupby(["channel", "scent", "month"], observed=True)
    return by["unit_price"].median().rename("price").reset_index()


def far_off(sold: pd.DataFrame) -> list[Finding]:
    """Return the lines whose price is many times the usual one of their scent and channel, or a small part of it."""
    paid = sold[(sold["unit_price"] > 0) & ~sold["in_set"]]
    by = paid.groupby(["channel", "scent"], observed=True)["unit_price"]
    usual, lines = by.transform("median"), by.transform("size")
    times = paid["unit_price"] / usual
    odd = paid.assign(usual=usual, off=times.where(times > 1, 1 / times))
    odd = odd[(odd["off"] >= FAR_OFF) & (lines >= FEWEST_PRICES)].sort_values("off", ascending=False, kind="stable")
    would = "Usual prices are middle prices and stay right; the money of that line is wrong if it is a slip."
    return [
        Finding(
            "price far from usual",
            f"{line.file}, row {line.row:.0f}",
            f"On {day(line.day)} {line.scent} costs {line.unit_price:,.2f}, usually {line.usual:,.2f}.",
            would,
        )
        for line in odd.itertuples()
    ]


def price_changes(monthly: pd.DataFrame) -> list[Finding]:
    """Return the months from which usual prices were others and stayed so, latest first.

    Two months at the old price and two at the new one are needed, so a promotion of a month is no change.
    """
    price = monthly["price"]
    near = {step: monthly.groupby(["channel", "scent"], observed=True)["price"].shift(step) for step in (2, 1, -1, -2)}
    stayed = _alike(near[-1], price) & (_alike(near[-2], price) | near[-2].isna())
    moved = ((price / near[1] - 1).abs() > MOVED) & _alike(near[2], near[1]) & stayed
    changes = monthly[moved].assign(before=near[1], change=price / near[1] - 1, up=price > near[1])
    changes = changes.sort_values(["scent", "month"], kind="stable")
    of_one = changes["month"].diff() <= pd.Timedelta(days=SAME_CHANGE_DAYS)
    of_one &= (changes[["scent", "up"]] == changes[["scent", "up"]].shift()).all(axis=1)
    changes["month"] = changes.groupby((~of_one).cumsum())["month"].transform("min")
    return [_changed(lines, up) for (_, up), lines in sorted(changes.groupby(["month", "up"]), reverse=True)]


def _changed(lines: pd.DataFrame, up: bool) -> Finding:
    month = f"{lines['month'].iloc[0]:%b %Y}"
    percent = (100 * lines["change"].abs()).round()
    low, high = f"{percent.min():.0f}", f"{percent.max():.0f}"
    channels = listed(sorted(set(lines["channel"].astype("str"))))
    lines = lines.drop_duplicates("scent")
    steps = [f"{line.scent} from {line.before:,.2f} to {line.price:,.2f}" for line in lines.itertuples()]
    share = f"{high} %" if low == high else f"{low} to {high} %"
    return Finding(
        "price change",
        f"{channels}, from {month}",
        f"From about {month} the usual price is {share} {'higher' if up else 'lower'}: {some(steps)}.",
        "The forecast does not know prices: if more or fewer were bought because of it, only the sales since then say "
        "so. If the price did not change, a price column is read wrongly or the name stands for two sizes.",
    )


def other_prices(monthly: pd.DataFrame, scents: pd.DataFrame, newest: pd.Timestamp) -> list[Finding]:
    """Return one finding for the scents whose price in scents.csv is not the one lately paid in any channel."""
    before = monthly.groupby(["channel", "scent"], observed=True)["price"].shift(1)
    latest = monthly.assign(last=before).groupby(["channel", "scent"], observed=True).tail(1)
    latest = latest[_alike(latest["last"], latest["price"])]
    latest = latest[latest["month"] >= newest - pd.Timedelta(days=STILL_ASKED_DAYS)]
    stated = scents[scents["last_sold"].isna() | (scents["last_sold"] >= newest)].drop_duplicates("scent")
    both = latest.assign(scent=latest["scent"].astype("str")).merge(stated, on="scent", suffixes=("", "_stated"))
    both["off"] = (both["price"] / both["price_stated"].where(both["price_stated"] > 0) - 1).abs()
    both = both[both.groupby("scent")["off"].transform("min") > MOVED]
    both = both.sort_values(["off", "scent"], ascending=[False, True]).drop_duplicates("scent")
    if both.empty:
        return []
    steps = [f"{line.scent} {line.price_stated:,.2f}, paid {line.price:,.2f}" for line in both.itertuples()]
    return [
        Finding(
            "price in scents.csv",
            f"scents.csv, {some(list(both['scent']))}",
            f"The price in scents.csv is not the one paid in the last two months with sales: {some(steps)}.",
            "What a bottle earns, and so how many to make, is worked out with the price in scents.csv. It is right if "
            f"that is what is asked from {day(newest)} on, or if the export has prices without tax.",
        )
    ]


def _alike(one: pd.Series, other: pd.Series) -> pd.Series:
    return (one / other - 1).abs() <= STEADY
