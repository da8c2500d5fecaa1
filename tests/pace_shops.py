"""Simulated shops for judging the ranking: what pace says beside the truth. See tests/bench/bench_pace.py."""

import numpy as np
import pandas as pd
from simulated_shops import _rate_from, season_shape, simulate

from planner.pace import scent_pace
from planner.settings import Settings

SHOP = Settings("Simulated", "EUR")
BATCH, LEAD_DAYS = 24, 14
YEAR, WINDOW = 52, 26
ENDS = {"summer": "2024-06-24", "autumn": "2024-09-23", "January": "2025-01-06"}  # Mondays after the history


def true_weeks(world):
    """Mean bottles of each scent in each week if it had been on the shelf all week, (scent, week); 0 before launch."""
    truth, days = world.truth, world.days
    weekly = truth["brand"] + truth["drift"] + truth["viral_weeks"]
    effects = truth["shapes"][None, :] + truth["own"]
    rate = _rate_from(
        truth, days, truth["markets"], season_shape(days), effects, truth["shock"], weekly, len(days) // 7
    )
    live = np.arange(len(days))[None, :] >= world.launched[:, None]
    return (np.exp(rate) / 7 * live).reshape(len(world.scents), -1, 7).sum(axis=2)


def true_paces(weeks):
    """Return the true pace over the window since launch, at the season of scents there all year."""
    year = weeks[:, -YEAR:]
    season = year[(year > 0).all(axis=1)].sum(axis=0)
    season = season / season.mean()
    live = year[:, -WINDOW:] > 0
    at_season = (live * season[-WINDOW:]).sum(axis=1)
    return np.divide(year[:, -WINDOW:].sum(axis=1), at_season, out=np.full(len(weeks), np.nan), where=at_season > 0)


def true_ratio(weeks):
    """Growth on the year before against all scents that were there in both years, NaN for others."""
    both = (weeks[:, -2 * YEAR :] > 0).all(axis=1)
    now, then = weeks[:, -YEAR:].sum(axis=1), weeks[:, -2 * YEAR : -YEAR].sum(axis=1)
    return np.where(both, now / np.maximum(then, 1e-9) / (now[both].sum() / then[both].sum()) - 1, np.nan)


def demand_of(world):
    """Return table demand with exposure: days count by what a market day and another one usually sell."""
    n, markets = len(world.scents), world.truth["markets"]
    family = world.sold.sum(axis=0)
    worth = np.where(markets, family[markets].mean(), family[~markets].mean())
    whole = worth.reshape(-1, 7).sum(axis=1)
    exposure = (world.on_shelf * worth).reshape(n, -1, 7).sum(axis=2) / whole
    days = world.on_shelf.reshape(n, -1, 7).sum(axis=2)
    sold = world.sold.reshape(n, -1, 7).sum(axis=2)
    table = pd.DataFrame(
        {
            "week": np.tile(world.days[::7].astype("datetime64[us]"), n),
            "scent": pd.Series(np.repeat(np.array(world.scents, dtype=object), len(whole)), dtype="str"),
            "channel": "all",
            "bottles": sold.ravel(),
            "shelf_days": days.ravel(),
            "exposure": exposure.ravel(),
        }
    )
    live = (np.arange(len(whole))[None, :] >= world.launched[:, None] // 7).ravel()
    table["bottles"] = table["bottles"].where((table["shelf_days"] > 0) | (table["bottles"] > 0))
    return table[live].reset_index(drop=True)


def shop_of(seed, at=""):
    """Return a simulated shop of some size and the time of year at which it is looked at.

    Every third shop has launched six scents lately; the bench keeps up with demand, or does not.
    """
    rng = np.random.default_rng([404, seed])
    at = at or list(ENDS)[seed % len(ENDS)]
    scents, level, weeks = (
        int(rng.integers(7, 41)),
        float(np.exp(rng.normal(np.log(3), 0.5))),
        int(rng.choice([60, 104, 156])),
    )
    new = int(rng.integers(3, 23)) if rng.random() < 1 / 3 else None
    world = simulate(rng, scents=scents, weeks=weeks, horizon=0, end=ENDS[at], level=level, supply=False, new=new)
    _sell_from_batches(world, rng.uniform(0.85, 1.3))
    return world, at


def _sell_from_batches(world, keeps_up):
    """Sell what is there: weekly, scents with least ahead are mixed, `keeps_up` of usual demand in batches."""
    wanted = world.wanted
    arrived, left, on = np.zeros_like(wanted), np.zeros_like(wanted), np.zeros(wanted.shape)
    sold, stock, credit = np.zeros_like(wanted), np.where(world.launched == 0, BATCH, 0), 0.0
    recent = np.maximum(wanted[:, :56].sum(axis=1) / 8, 1.0)
    usual = wanted.sum() / (wanted.shape[1] / 7) / BATCH
    for day in range(wanted.shape[1]):
        arrived[:, day] += BATCH * ((world.launched == day) & (day > 0))
        stock = stock + arrived[:, day]
        gone = np.minimum(wanted[:, day], stock)
        on[:, day] = np.where(stock > 0, np.where(wanted[:, day] >= stock, 0.5, 1.0), 0.0) * (world.launched <= day)
        stock = stock - gone
        sold[:, day], left[:, day], recent = gone, stock, 0.98 * recent + 0.14 * gone
        if day % 7 == 0 and day + LEAD_DAYS < wanted.shape[1]:
            credit = min(credit + keeps_up * usual, 3 * usual + 1)
            ahead = (stock + arrived[:, day + 1 :].sum(axis=1)) / np.maximum(recent, 0.3)
            for scent in np.argsort(ahead, kind="stable"):
                if credit >= 1 and ahead[scent] < 6 and world.launched[scent] <= day:
                    arrived[scent, day + LEAD_DAYS] += BATCH
                    credit -= 1
    world.on_shelf, world.sold = on, sold
    world.truth.update(arrived=arrived, left=left)


def judge_pace(seed):
    """Return what the ranking says of one shop beside the truth, a row a scent, and its pairs that share no place."""
    world, at = shop_of(seed)
    weeks = true_weeks(world)
    costs = pd.DataFrame({"scent": pd.Series(world.scents, dtype="str"), "contribution_per_bottle": 10.0})
    pace = scent_pace(demand_of(world), costs, SHOP, np.random.default_rng(seed)).set_index("scent")
    place = [world.scents.index(scent) for scent in pace.index]
    pace["true"], pace["true_ratio"] = true_paces(weeks)[place], true_ratio(weeks)[place]
    window = world.on_shelf[:, -7 * WINDOW :].sum(axis=1) / np.maximum((weeks[:, -WINDOW:] > 0).sum(axis=1) * 7, 1)
    rows = pace.assign(
        shop=seed,
        at=at,
        new=(world.launched > 7 * (weeks.shape[1] - WINDOW))[place],
        unseen=1 - window[place],
        held=pace["true"].between(pace["pace_low"], pace["pace_high"]),
        raw_held=pace["true"].between(pace["raw_low"], pace["raw_high"]),
        fastest=pace["true"] == pace["true"].max(),
        error=np.log(pace["pace"] / pace["true"]),
    )
    return rows.reset_index(), _pairs(pace[pace["rank"].notna()])


def _pairs(pace):
    first, last, true = (pace[name].to_numpy(dtype=float) for name in ("rank", "rank_to", "true"))
    ahead, behind = np.nonzero(last[:, None] < first[None, :])
    return pd.DataFrame({"right": true[ahead] > true[behind]})
