"""What to take to a market: what market days sold before, what the season will ask for, and what is there."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.settings import Settings
from planner.tables import STEPS, Paths, check, empty

SUFFICES = (
    0.9  # of the ways demand may go; a bottle taken home again costs nothing, a customer sent away does; our choice
)
OWN_DAYS = 4  # past days of a market on one weekday from which on they count alone, not all markets; our choice
ALL_BOTTLES = 50.0  # a scent's own share counts like that of all scents once it sold so many; our choice [bottles]
DAY = pd.Timedelta(days=1)
WEEK = 7 * DAY


class _Past(NamedTuple):
    """What was sold in the weeks of past market days."""

    days: pd.DataFrame  # day, market, weekday, week
    on_days: pd.DataFrame  # day × scent: sold on the market [bottles]
    in_weeks: pd.DataFrame  # week × scent: sold everywhere but to order [bottles]


def market_packing(
    sales: pd.DataFrame,
    calendar: pd.DataFrame,
    paths: Paths,
    on_hand: pd.DataFrame,
    bench: pd.DataFrame,
    scents: pd.DataFrame,
    settings: Settings,
    today: pd.Timestamp,
) -> pd.DataFrame:
    """Return the table packing-list: for each market day in the weeks of the paths, what to take of each scent.

    What a market day takes of its week's sales is learned from past days of the same market and weekday (from four
    of them on, else of all markets on that weekday, else of all market days), scent by scent, drawn to the share of all
    scents where few were sold (beta-binomial with 50 bottles' weight). Each path's bottles of that week then go to
    the market with that share (binomial): `wanted` suffices in 9 of 10, expected_sold is the average. on_hand is what
    will be there that morning: stock, batches for sale by then, less what the paths sell on average before. take =
    wanted, no more than on_hand, whole bottles.
    """
    ahead = _market_days(calendar, today, paths.weeks[-1] + 6 * DAY if len(paths.weeks) else today - DAY)
    past = _past(sales, _market_days(calendar, sales["day"].min(), today - DAY), settings)
    if ahead.empty or past.days.empty:
        return empty(STEPS["packing-list"])
    rows = []
    stock = on_hand.drop_duplicates("scent").set_index("scent")["on_hand"].astype("float64").fillna(0)
    retained = scents.drop_duplicates("scent").set_index("scent")["retained"].astype("float64").fillna(0)
    for line in ahead.itertuples():
        share = _shares(past, str(line.market), int(line.weekday), list(paths.scents))
        there = _there(line.day, stock, bench, retained, paths, today)
        week = paths.weeks.get_indexer([line.week])[0]
        if week < 0:
            continue
        for place, scent in enumerate(paths.scents):
            bottles = paths.bottles[:, place, week]
            wanted = _suffices(bottles, share[place])
            row = {"day": line.day, "market": line.market, "scent": scent, "wanted": wanted}
            row |= {"expected_sold": float(bottles.mean() * share[place]), "on_hand": there[place]}
            rows.append(row | {"take": int(min(wanted, there[place]))})
    table = pd.DataFrame(rows, columns=["day", "market", "scent", "expected_sold", "wanted", "on_hand", "take"])
    table = table.sort_values(["day", "market", "take"], ascending=[True, True, False], kind="stable")
    return check(table, STEPS["packing-list"])


def _market_days(calendar: pd.DataFrame, first: pd.Timestamp, last: pd.Timestamp) -> pd.DataFrame:
    """Return each market day between two days: day, market, weekday, week."""
    markets = calendar[calendar["kind"] == "market"]
    rows = [
        (day, what)
        for begins, ends, what in zip(
            markets["first_day"], markets["last_day"].fillna(markets["first_day"]), markets["what"], strict=True
        )
        for day in pd.date_range(begins, ends)
        if first <= day <= last
    ]
    days = pd.DataFrame(rows, columns=["day", "market"]).astype({"day": "datetime64[us]", "market": "str"})
    days = days.drop_duplicates(ignore_index=True)
    weekday = days["day"].dt.day_of_week
    return days.assign(weekday=weekday, week=days["day"] - pd.to_timedelta(weekday, unit="D"))


def _past(sales: pd.DataFrame, days: pd.DataFrame, settings: Settings) -> _Past:
    openings = {name: settings.channel(str(name)).open for name in sales["channel"].dropna().unique()}
    sold = sales[(sales["kind"] == "sale") & (sales["channel"].map(openings) != "to order")]
    week = sold["day"] - pd.to_timedelta(sold["day"].dt.day_of_week, unit="D")
    market = sold[(sold["channel"].map(openings) == "market days") & sold["day"].isin(days["day"])]
    bottles = {"values": "bottles", "columns": "scent", "aggfunc": "sum", "fill_value": 0}
    on_days = market.pivot_table(index="day", **bottles).astype("float64")
    return _Past(
        days[days["day"].isin(on_days.index)],
        on_days,
        sold.assign(week=week).pivot_table(index="week", **bottles).astype("float64"),
    )


def _shares(past: _Past, market: str, weekday: int, scents: list[str]) -> np.ndarray:
    """Return the share of a week's bottles that such a market day takes, by scent."""
    same_day = past.days[past.days["weekday"] == weekday]
    own = same_day[same_day["market"] == market]
    days = own if len(own) >= OWN_DAYS else same_day if len(same_day) else past.days
    taken = past.on_days.loc[days["day"]].sum().reindex(scents, fill_value=0.0).to_numpy()
    of = past.in_weeks.loc[days["week"]].sum().reindex(scents, fill_value=0.0).to_numpy()
    overall = taken.sum() / of.sum() if of.sum() else 0.0
    return np.clip((taken + ALL_BOTTLES * overall) / (of + ALL_BOTTLES), 0.0, 1.0)


def _suffices(bottles: np.ndarray, share: float) -> int:
    """Return the least number that suffices in 9 of 10 ways, each bottle of a path going there with that chance."""
    from scipy.special import bdtr

    most, counts = np.unique(bottles, return_counts=True)
    numbers = np.arange(int(most[-1]) + 1)
    chance = np.where(numbers[:, None] >= most, 1.0, bdtr(numbers[:, None], np.maximum(most, 1), share))
    return int(np.argmax(chance @ counts / counts.sum() >= SUFFICES - 1e-12))


def _there(
    day: pd.Timestamp,
    stock: pd.Series,
    bench: pd.DataFrame,
    retained: pd.Series,
    paths: Paths,
    today: pd.Timestamp,
) -> np.ndarray:
    """Return the whole bottles there in the morning of that day, by scent."""
    scents = list(paths.scents)
    ready = bench[bench["ready_on"] <= day]
    made = (ready["bottles"].astype("float64") - ready["scent"].map(retained).fillna(0)).groupby(ready["scent"]).sum()
    begun = np.maximum(paths.weeks, today)
    over = np.clip((day - begun) / (paths.weeks + WEEK - begun), 0.0, 1.0)
    sold = paths.bottles.mean(axis=0) @ np.asarray(over, dtype="float64")
    there = stock.reindex(scents, fill_value=0.0).to_numpy() + made.reindex(scents, fill_value=0.0).to_numpy() - sold
    return np.floor(np.maximum(there, 0.0) + 1e-9)
