"""What drove the forecast, in sentences."""

import pandas as pd

from planner.sentences.wording import day, money, names, number
from planner.settings import Settings
from planner.summaries import ALL_SCENTS

YEAR = pd.Timedelta(weeks=52)
STALE = pd.Timedelta(weeks=3)  # sales that end so long before today say nothing of the time since
FEW = 10  # bottles: percents of fewer say nothing
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


def say_growth(growth: pd.DataFrame, level: pd.DataFrame, today: pd.Timestamp) -> str:
    """Say how much more was wanted at the end of the sales than a year before, season and sold-out days taken out.

    `level` (season.drivers.shop_level) tells up to when sales are known, and that there were any.
    """
    recent = level[level["week"] > today - YEAR]
    if recent["bottles"].sum() <= 0:
        return "No sale of the last year is known, so nothing is said of growth; it is taken for small."
    if growth.empty:
        return "With less than a year of history, or none known a year ago, growth is not known and taken for small."
    shop = growth.iloc[0]
    ends = f"between {_percent(shop['low'])} and {_percent(shop['high'])} in eight cases of ten"
    more = f"{100 * abs(shop['growth']):.0f} % {'more' if shop['growth'] >= 0 else 'less'} than"
    more = "about as much as" if abs(shop["growth"]) < 0.015 else more
    said = (
        f"Up to {day(_until(level, today))} a usual scent came to sell {more} a year before, with season and sold-out "
        f"days taken out ({ends})."
    )
    own = growth[growth["scent"] != ALL_SCENTS].sort_values("growth", kind="stable")
    sure = own[(own["low"] > 0) | (own["high"] < 0)]
    if sure.empty:
        return f"{said} No scent stands out from standing still."
    told = [f"{row.scent} ({_percent(row.growth)})" for row in sure.iloc[::-1].itertuples()]
    return f"{said} Standing out: {names(told)}."


def _until(level: pd.DataFrame, today: pd.Timestamp) -> pd.Timestamp:
    """Return the last day that is known, which lies before today."""
    return min(level["week"].max() + pd.Timedelta(days=6), today - pd.Timedelta(days=1))


def say_unsold(
    by_scent: pd.DataFrame, settings: Settings, by_month: bool, level: pd.DataFrame, today: pd.Timestamp
) -> str:
    """Say how many bottles were wanted in the last known year and not there, and what they would have brought."""
    if by_month:
        return "Sales by month do not tell which days a scent was sold out, so what that hid is not known."
    unsold, sold, until = by_scent["unsold"].sum(), by_scent["bottles"].sum(), _until(level, today)
    if not level["known"].any() or sold <= 0:
        return "No week is known in which a scent was for sale and sold, so what stock-outs hid is not known."
    since = today - until > STALE
    later = " Of the time since then nothing is known: nothing was for sale, or it is in no file." if since else ""
    if round(unsold) < 1:
        return (
            f"In the year up to {day(until)} nothing is known to have been sold out, so what was sold is taken for "
            f"what was wanted.{later}"
        )
    top, wanted = by_scent.iloc[0], unsold + sold
    share = f"{100 * unsold / wanted:.0f} %" if round(100 * unsold / wanted) else "less than 1 %"
    part = f" ({share} of all that was wanted)" if wanted >= FEW else ""
    said = (
        f"In the year up to {day(until)} about {number(unsold, 'bottle')} more were wanted than were there to be "
        f"bought{part}, most of all of {top['scent']} ({top['unsold']:,.0f})."
    )
    worth = by_scent["unsold_money"].sum(min_count=1)
    return (
        f"{said}{later}"
        if pd.isna(worth)
        else f"{said} At their prices that is {money(worth, settings)} of sales.{later}"
    )


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


def say_changes(changes: pd.DataFrame, by_month: bool) -> str:
    """Say what would change the season most, or that it was not tried."""
    if by_month:
        tried = (
            "Sales by month are not drawn again with one thing different: what the post, the markets or a weak "
            "Christmas would change is not known."
        )
        return tried if changes.empty else f"{tried} Of the newest scent alone: {_first_change(changes)}"
    if changes.empty:
        return "Nothing that was tried changes the season by a bottle."
    return f"What would change it most: {_first_change(changes)}"


def _first_change(changes: pd.DataFrame) -> str:
    """Return the strongest change in bottles, and its share where there is something to be a share of."""
    first = changes.iloc[0]
    amount = f"{number(abs(first['change']), 'bottle')} {'more' if first['change'] > 0 else 'fewer'}"
    share, whole = first["change_share"], first["change"] / first["change_share"] if first["change_share"] else 0.0
    part = (
        f" ({100 * abs(share):.0f} % of all)"
        if pd.notna(share) and whole >= FEW
        else "; otherwise next to nothing is foreseen"
    )
    return f"{first['what']}. That would be about {amount}{part}."
