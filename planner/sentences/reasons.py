"""What drove the forecast, in sentences."""

import pandas as pd

from planner.sentences.wording import day, money, names, number
from planner.settings import Settings
from planner.summaries import ALL_SCENTS

AS_SHOP = 1.0  # a departure stands out where its whole range lies on one side of the shop's own season


def say_departures(departures: pd.DataFrame) -> str:
    """Say which scents stand out from the shop's holidays, the furthest first."""
    sure = departures[(departures["low"] > AS_SHOP) | (departures["high"] < AS_SHOP)]
    if sure.empty:
        return "No scent stands out from the shop's holidays; each is foreseen close to what all scents do."
    far = (sure["factor"].where(sure["factor"] > 1, 1 / sure["factor"])).sort_values(ascending=False, kind="stable")
    told = [
        f"{row.scent} gets {row.factor:.1f} times the shop's lift at {row.what} "
        f"(between {row.low:.1f} and {row.high:.1f})"
        for row in sure.loc[far.index].itertuples()
    ]
    return f"Standing out: {names(told, 'other departures')}. The others cannot be told from the shop."


def say_growth(growth: pd.DataFrame) -> str:
    """Say how much more is wanted than a year ago, season and sold-out days taken out."""
    if growth.empty:
        return "With less than a year of history nothing can be said of growth; it is taken for small."
    shop = growth.iloc[0]
    ends = f"between {_percent(shop['low'])} and {_percent(shop['high'])} in eight cases of ten"
    more = f"{100 * abs(shop['growth']):.0f} % {'more' if shop['growth'] >= 0 else 'less'} than"
    more = "about as much as" if abs(shop["growth"]) < 0.015 else more
    said = f"A usual scent sells {more} a year ago, with season and sold-out days taken out ({ends})."
    own = growth[growth["scent"] != ALL_SCENTS].sort_values("growth", kind="stable")
    sure = own[(own["low"] > 0) | (own["high"] < 0)]
    if sure.empty:
        return f"{said} No scent stands out from standing still."
    told = [f"{row.scent} ({_percent(row.growth)})" for row in sure.iloc[::-1].itertuples()]
    return f"{said} Standing out: {names(told)}."


def say_unsold(by_scent: pd.DataFrame, settings: Settings, by_month: bool) -> str:
    """Say how many bottles were wanted in the last year and not there, and what they would have brought."""
    if by_month:
        return "Sales by month do not tell which days a scent was sold out, so what that hid is not known."
    unsold = by_scent["unsold"].sum()
    if round(unsold) < 1:
        return "Nothing was sold out in the last year, so nothing is hidden: what was sold is what was wanted."
    top = by_scent.iloc[0]
    wanted = unsold + by_scent["bottles"].sum()
    said = (
        f"In the last year about {number(unsold, 'bottle')} more were wanted than were there to be bought "
        f"({100 * unsold / wanted:.0f} % of all that was wanted), most of all of {top['scent']} ({top['unsold']:,.0f})."
    )
    worth = by_scent["unsold_money"].sum(min_count=1)
    return said if pd.isna(worth) else f"{said} At their prices that is {money(worth, settings)} of sales."


def say_prices(prices: pd.DataFrame, settings: Settings) -> str:
    """Say of each scent whose price moved that the forecast does not know what the price did."""
    if prices.empty:
        return "No usual price moved by more than 5 %, so no price blurs the forecast."
    first = prices.iloc[0]
    moved = (
        f"{first['before']:,.2f} before {day(first['since'])} and {first['now']:,.2f} {settings.currency} since then"
    )
    others = f", and {number(len(prices) - 1, 'other scent')} moved as well" if len(prices) > 1 else ""
    change = _percent(first["change_share"])
    return (
        f"**The forecast does not know what a price did.** {first['scent']} cost {moved} ({change}){others}. "
        "Sales at the old price count as if they had been made at the new one; if fewer were "
        "bought because of it, the sales since then show it only as a drift."
    )


def _percent(share: float) -> str:
    return f"{100 * share:+.0f}\u00a0%".replace("-", "−")


def say_changes(changes: pd.DataFrame) -> str:
    """Say what would change the season most."""
    if changes.empty:
        return "Nothing that was tried changes the season by a bottle."
    first = changes.iloc[0]
    amount = f"{number(abs(first['change']), 'bottle')} {'more' if first['change'] > 0 else 'fewer'}"
    share = f"{100 * abs(first['change_share']):.0f} % of all"
    return f"What would change it most: {first['what']}. That would be about {amount} ({share})."
