"""What sold-out scents would have sold, in simulated shops, through the planner's own shelf. See bench_pace.py."""

import numpy as np
import pandas as pd
from pace_shops import YEAR, shop_of, true_weeks

from planner.pace.evidence import latest, weekly_evidence, with_season
from planner.settings import Channel, Settings
from planner.shelf import shelf_days, weekly_demand

STALL = Settings("Simulated", "EUR", channels=(Channel("web"), Channel("market", open="market days")))
WEEK = pd.Timedelta(weeks=1)


def judge_season(seed):
    """Return what was wanted in the last season before Christmas beside what the records tell, a row a scent.

    Only scents that sold 15 to 40 % less than was wanted; with records of stock (a count every four weeks and the
    batches made) and without any.
    """
    world, _ = shop_of(seed, "January")
    monday = pd.Timestamp(world.days[-1]) - pd.Timedelta(days=6)
    first, last = monday - pd.Timedelta(weeks=11), monday - pd.Timedelta(weeks=3)  # nine weeks, the last one posts
    inside = (world.days >= np.datetime64(first, "D")) & (world.days < np.datetime64(last + WEEK, "D"))
    wanted, sold = world.wanted[:, inside].sum(axis=1), world.sold[:, inside].sum(axis=1)
    names = np.array(world.scents, dtype=object)[(sold < 0.85 * wanted) & (sold > 0.6 * wanted)]
    truth = pd.DataFrame({"wanted": wanted, "sold": sold}, index=world.scents)
    truth["expected"] = true_weeks(world)[:, inside.reshape(-1, 7).all(axis=1)].sum(axis=1)
    rows = []
    for records in ("with stock records", "without any record"):
        demand = _through_the_shelf(world, records == "with stock records")
        rows.append(truth.join(_season_demand(demand, first, last)).loc[names].assign(records=records, shop=seed))
    return pd.concat(rows)


def _season_demand(demand, first, last):
    """Estimate demand of a season in two ways: over the exposure weighed by the season, and week by week."""
    history = weekly_evidence(demand)
    year = latest(history, YEAR)
    season = with_season(year.bottles, year.on_shelf).season.loc[first:last]
    bottles, there = year.bottles.loc[first:last], year.on_shelf.loc[first:last]
    seen = there.mul(season, axis=0).sum() / season.sum()
    weekly = (bottles / there.where(there > 0)).mean() * len(season)
    return pd.DataFrame({"estimate": bottles.sum() / seen.where(seen > 0), "plain": weekly})


def _through_the_shelf(world, recorded):
    """Return demand by the planner's own shelf, from daily sales and, if recorded, counts and batches."""
    sales, none = _sales(world), np.empty(0)
    scents = pd.DataFrame({"scent": pd.Series(world.scents, dtype="str"), "rest_days": 0.0, "last_sold": pd.NaT})
    launched = world.days[np.minimum(world.launched, len(world.days) - 1)].astype("datetime64[us]")
    scents["first_sold"] = pd.Series(launched)
    scents = scents.astype({"last_sold": "datetime64[us]"})
    arrived, left = world.truth["arrived"], world.truth["left"]
    who, when = np.nonzero(arrived) if recorded else (none.astype(int), none.astype(int))
    runs = pd.DataFrame({"date": world.days[when].astype("datetime64[us]"), "scent": _named(world, who)})
    runs = runs.assign(bottles_filled=arrived[who, when], bottles_rejected=0.0, retained=0.0)
    counted = np.arange(6, len(world.days), 28) if recorded else none.astype(int)
    stock = pd.DataFrame(
        {
            "date": np.repeat(world.days[counted].astype("datetime64[us]"), len(world.scents)),
            "scent": _named(world, np.tile(np.arange(len(world.scents)), len(counted))),
            "on_hand": left[:, counted].T.ravel().astype(float),
        }
    )
    moves = pd.DataFrame(
        {"date": stock["date"][:0], "scent": stock["scent"][:0], "bottles": none, "why": stock["scent"][:0]}
    )
    today = pd.Timestamp(world.days[-1].astype("datetime64[us]")) + pd.Timedelta(days=1)
    calendar = world.calendar.assign(channel=pd.Series("market", index=world.calendar.index, dtype="str"))
    files = {"scents": scents, "stock": stock, "runs": runs, "moves": moves, "calendar": calendar}
    shelf = shelf_days(sales, settings=STALL, today=today, **files).shelf
    return weekly_demand(sales, shelf, STALL)


def _sales(world):
    """One line a day, scent and channel; on market days the part that the market adds is sold there."""
    markets = world.truth["markets"]
    at_stall = np.random.default_rng(0).binomial(
        world.sold.astype(int), np.where(markets, 1 - np.exp(-world.truth["market"]), 0.0)
    )
    parts = []
    for channel, sold in (("web", world.sold - at_stall), ("market", at_stall)):
        who, when = np.nonzero(sold)
        day = pd.Series(world.days[when].astype("datetime64[us]"))
        part = pd.DataFrame({"day": day, "scent": _named(world, who), "bottles": sold[who, when].astype(int)})
        parts.append(part.assign(channel=channel, unit_price=18.0, kind="sale", order="", file="all.csv", row=1))
    return pd.concat(parts).sort_values("day", kind="stable", ignore_index=True)


def _named(world, who):
    return pd.Series(np.array(world.scents, dtype=object)[who], dtype="str")
