"""Shops that never were, with the truth known: a process unlike the model's, for judging forecasts.

Tastes drift by AR(1), each Christmas has its own strength, some weeks go viral, scents are launched, markets are held
on two weekends a month, and supply comes in batches that a small bench cannot make fast enough in the peak.
"""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from planner.season.calendar import DAY, black_friday, mothers_day
from planner.season.history import WEEK
from planner.season.scores import crps
from planner.settings import Channel, Export, Settings, Shelf
from planner.shelf import shelf_days, weekly_demand
from planner.tables import FILES, empty

BATCH = 24
NEW = 6  # scents launched together where new scents are simulated
LEAD_WEEKS = 2  # from deciding on a batch to the shelf
POSTING = (12, 18)


@dataclass
class World:
    """One simulated shop: true daily demand up to the end, what was sold, and how to go on from a day."""

    scents: list[str]
    days: np.ndarray
    wanted: np.ndarray  # (scent, day)
    sold: np.ndarray
    on_shelf: np.ndarray  # share of the day
    launched: np.ndarray  # day index, 0: at the start
    calendar: pd.DataFrame
    truth: dict = field(default_factory=dict)

    @property
    def today(self):
        """The Monday after the history."""
        return pd.Timestamp(self.days[7 * self.truth["weeks"]].astype("datetime64[us]"))


def season_shape(days):
    """Shapes of the year by day: peak, dead days, Black Friday, Valentine, Mother's Day, summer."""
    when = pd.DatetimeIndex(days)
    peak, dead, friday, valentine, mother = np.zeros((5, len(days)))
    for year in range(when[0].year, when[-1].year + 2):
        post = np.datetime64(f"{year}-{POSTING[0]:02}-{POSTING[1]:02}")
        left = (post - days) / DAY
        inside = (left >= 0) & (left < 90)
        peak += np.where(inside, 1 / (1 + np.exp((left - 24) / 7.5)), 0.0)
        dead += (left < 0) & (left >= -8)
        friday += np.isin(days, np.datetime64(black_friday(year)) + np.arange(4) * DAY)
        to_valentine = (np.datetime64(f"{year}-02-14") - days) / DAY
        valentine += np.where((to_valentine >= 1) & (to_valentine < 16), np.exp(-((to_valentine - 5) ** 2) / 30), 0.0)
        to_mother = (np.datetime64(mothers_day(year)) - days) / DAY
        mother += np.where((to_mother >= 1) & (to_mother < 18), np.exp(-((to_mother - 6) ** 2) / 40), 0.0)
    summer = np.cos(2 * np.pi * (when.day_of_year.to_numpy() - 200) / 365.25)
    return np.stack([peak, dead, friday, valentine, mother, summer])


def peak_year(days):
    return (days.astype("datetime64[M]").astype(int) - 6) // 12


def simulate(
    rng,
    scents=24,
    weeks=156,
    horizon=17,
    end="2024-09-23",
    level=3.0,
    supply=True,
    new=None,
    restless=1.0,
    capacity=1.6,
):
    """Return a world of `weeks` of history before the Monday `end`, and `horizon` weeks after it.

    `capacity` is what the bench can make at most, against what is wanted in an average week.
    """
    start = np.datetime64(end) - weeks * WEEK
    days = np.arange(start, np.datetime64(end) + horizon * WEEK)
    truth = {**_draw_truth(rng, scents, weeks, level, restless, new), "capacity": capacity}
    markets = _markets(days)
    log_rate = _log_rates(rng, truth, days, markets, truth, 0)
    gamma = rng.gamma(truth["size"][:, None], 1 / truth["size"][:, None], (scents, len(days) // 7))
    wanted = rng.poisson(np.exp(log_rate) / 7 * np.repeat(gamma, 7, axis=1))
    launched = truth["launch"] * 7
    wanted[np.arange(len(days))[None, :] < launched[:, None]] = 0
    sold, on_shelf, made = (
        _supply(wanted, weeks, launched, truth)
        if supply
        else (wanted, (np.arange(len(days))[None, :] >= launched[:, None]) * 1.0, _plenty(wanted))
    )
    truth.update(made=made, rate=np.exp(log_rate) / 7)
    calendar = _calendar(days, markets)
    names = [f"Scent {i:02}" for i in range(scents)]
    return World(names, days, wanted, sold, on_shelf, launched, calendar, {**truth, "weeks": weeks, "markets": markets})


def _draw_truth(rng, n, weeks, level, restless, new):
    launch = (
        np.where(rng.random(n) < 1 / 3, rng.integers(0, max(weeks - 26, 1), n), 0) if weeks > 30 else np.zeros(n, int)
    )
    launch[:1] = 0
    if new is not None:
        launch[-NEW:] = weeks - new  # so many weeks ago
    size = rng.lognormal(np.log(10), 0.4, n)
    return {
        "level": np.log(level) + rng.normal(0, 0.75, n),
        "growth": rng.normal(0.1, 0.2) + rng.normal(0, 0.2, n),
        "size": size,
        "shapes": np.array([1.5, -1.0, 0.45, 0.55, 0.5, -0.2]) + rng.normal(0, [0.2, 0.3, 0.15, 0.15, 0.15, 0.1]),
        "own": rng.normal(0, [0.42, 0.1, 0.15, 0.35, 0.35, 0.15], (n, 6)),
        "shock_sd": tuple(rng.uniform(0.1, 0.28, 2) * restless),
        "brand_ar": (0.97, rng.uniform(0.08, 0.2)),
        "scent_ar": (rng.uniform(0.94, 0.985), rng.uniform(0.15, 0.4)),
        "viral": (rng.uniform(0.002, 0.01), 0.6, 1.4),
        "market": np.log(2.2) + rng.normal(0, 0.2),
        "cover": 7.0,
        "launch": launch,
        "launch_boost": rng.normal(0.5, 0.4, n) * (launch > 0),
    }


def _markets(days):
    when = pd.DatetimeIndex(days)
    nth = (when.day - 1) // 7
    return np.isin(when.day_of_week, [5, 6]) & np.isin(nth, [0, 2])


def _calendar(days, markets):
    first = [
        day for day, on, before in zip(days, markets, np.r_[False, markets[:-1]], strict=True) if on and not before
    ]
    rows = pd.DataFrame({"first_day": np.array(first, "datetime64[us]"), "what": "market"})
    rows["last_day"] = rows["first_day"] + pd.Timedelta(days=1)
    return rows.assign(kind="market", channel="", note="")[["first_day", "what", "last_day", "kind", "channel", "note"]]


def _log_rates(rng, truth, days, markets, state, start_week):
    """Log weekly rate by day; fills `state` with the hidden states by week (drift, viral, shocks)."""
    n, weeks = len(truth["level"]), len(days) // 7
    shapes = season_shape(days)
    effects = truth["shapes"][None, :] + truth["own"]
    years = peak_year(days)
    distinct = np.unique(years)
    shock = {y: rng.normal(0, truth["shock_sd"][0]) + rng.normal(0, truth["shock_sd"][1], n) for y in distinct}
    brand = _ar(rng, *truth["brand_ar"], 1, weeks)
    own = _ar(rng, *truth["scent_ar"], n, weeks)
    viral = _viral(rng, truth["viral"], n, weeks)
    truth.update(shock=shock, brand=brand, drift=own, viral_weeks=viral)
    return _rate_from(truth, days, markets, shapes, effects, shock, brand + own + viral, weeks)


def _rate_from(truth, days, markets, shapes, effects, shock, weekly, origin_weeks, first_week=0):
    years = peak_year(days)
    week = first_week + np.arange(len(days)) // 7
    rate = truth["level"][:, None] + truth["growth"][:, None] * (week - 156) / 52.18 + effects @ shapes
    rate = rate + np.stack([shock[y] for y in years], axis=1) * shapes[0]
    age = week[None, :] - truth["launch"][:, None]
    rate = rate + truth["launch_boost"][:, None] * np.exp(-np.maximum(age, 0) / 5)
    return rate + np.repeat(weekly, 7, axis=1) + truth["market"] * markets


def _ar(rng, phi, sd, n, weeks, start=None):
    out = np.empty((n, weeks))
    now = rng.normal(0, sd, n) if start is None else start
    for t in range(weeks):
        if t or start is not None:
            now = phi * now + rng.normal(0, sd * np.sqrt(1 - phi**2), n)
        out[:, t] = now
    return out


def _viral(rng, viral, n, weeks):
    chance, low, high = viral
    hit = (rng.random((n, weeks)) < chance) * rng.uniform(low, high, (n, weeks))
    out = hit.copy()
    out[:, 1:] += 0.6 * hit[:, :-1]
    out[:, 2:] += 0.3 * hit[:, :-2]
    return out


def _supply(wanted, weeks, launched, truth):
    """Sell from batches: each Monday the scents with least ahead are mixed, as many as the bench makes in a week.

    Return bottles sold, share of the day on the shelf and bottles that came, by scent and day.
    """
    n, days = wanted.shape
    shelf = np.where(launched == 0, BATCH, 0.0)
    sold, on, came = np.zeros((n, days)), np.zeros((n, days)), np.zeros((n, days))
    came[:, 0] = shelf
    coming = np.zeros((n, days // 7 + LEAD_WEEKS + 1))
    recent = np.maximum(np.exp(truth["level"]), 0.5)
    capacity = max(truth["capacity"] * wanted[:, : weeks * 7].sum() / (weeks * BATCH), 0.5)
    made = 0.0
    for d in range(days):
        if d % 7 == 0:
            week = d // 7
            came[:, d] += coming[:, week] + BATCH * (launched == d) * (d > 0)
            shelf += coming[:, week] + BATCH * (launched == d) * (d > 0)
            made = min(made + capacity, 2 * capacity)
            cover = (shelf + coming[:, week + 1 :].sum(axis=1)) / np.maximum(recent, 0.2)
            for i in np.argsort(cover):
                while made >= 1 and launched[i] <= d and cover[i] < truth["cover"]:
                    coming[i, week + LEAD_WEEKS] += BATCH
                    cover[i] += BATCH / max(recent[i], 0.2)
                    made -= 1
            recent = 0.8 * recent + 0.2 * np.maximum(sold[:, max(d - 7, 0) : d].sum(axis=1), 0.5)
        out = wanted[:, d] >= shelf
        on[:, d] = np.where((launched <= d) & (shelf > 0), np.where(out, 0.5, 1.0), 0.0)
        sold[:, d] = np.minimum(wanted[:, d], shelf)
        shelf = shelf - sold[:, d]
    return sold, on, came


def _plenty(wanted):
    """Bottles that came where there were always more than enough."""
    made = np.zeros(wanted.shape)
    made[:, 0] = wanted.sum(axis=1) + BATCH
    return made


WEB = (Channel("web"),)
HEADINGS = {"day": "Day", "item": "Item", "bottles": "Bottles"}
RECORDS = {"kept": Shelf(), "none": Shelf(), "ignored": Shelf(infer=False)}


def demand_table(world, weeks=None, known=True, first=0, records=None, totals=""):
    """Return the demand of weeks `first` to `weeks` as the planner works it out from daily sales and stock.

    `records` of stock are kept (each batch and one count), none (sold-out days are inferred from the sales) or ignored
    (every day counts as on the shelf); `known` False is short for none. `totals` "week": sales known by week only.
    """
    weeks = world.truth["weeks"] if weeks is None else weeks
    records = records or ("kept" if known else "none")
    exports = (Export("web.csv", "shop", "web", HEADINGS, totals=totals),) if totals else ()
    shop = Settings("Simulated", "EUR", shelf=RECORDS[records], channels=WEB, exports=exports)
    sales = sales_of(world, first, weeks, totals)
    stock, runs = stock_records(world, first, weeks) if records == "kept" else (_file("stock"), _file("runs"))
    scents = _file("scents", scents_table(world))
    today = pd.Timestamp(world.days[7 * weeks - 1]).as_unit("us") + pd.Timedelta(days=1)
    book = shelf_days(sales, scents, stock, runs, _file("moves"), world.calendar, shop, today)
    return weekly_demand(sales, book.shelf, shop)


def sales_of(world, first=0, weeks=None, totals=""):
    """Return the sales of some weeks, a line a day and scent; `totals` "week": a line a week, on its last day."""
    weeks = world.truth["weeks"] if weeks is None else weeks
    sold, days = world.sold[:, 7 * first : 7 * weeks], world.days[7 * first : 7 * weeks]
    if totals:
        sold, days = sold.reshape(len(sold), -1, 7).sum(axis=2), days[6::7]
    scent, day = np.nonzero(sold)
    lines = {
        "day": pd.DatetimeIndex(days[day]).as_unit("us"),
        "scent": pd.Series(np.array(world.scents)[scent], dtype="str"),
        "bottles": sold[scent, day].astype("int64"),
        "unit_price": 18.0,
        "channel": "web",
        "kind": "sale",
        "file": "web.csv",
    }
    return pd.DataFrame(lines).sort_values("day", kind="stable", ignore_index=True)


def stock_records(world, first=0, weeks=None):
    """Return stock.csv and runs.csv: what was there on the evening before the first day, and each batch that came."""
    weeks = world.truth["weeks"] if weeks is None else weeks
    begin, end = 7 * first, 7 * weeks
    there = (world.truth["made"] - world.sold)[:, :begin].sum(axis=1).astype("int64")
    eve = pd.DatetimeIndex([world.days[begin] - DAY]).as_unit("us")[0]
    stock = {"date": eve, "scent": world.scents, "on_hand": there}
    scent, day = np.nonzero(world.truth["made"][:, begin:end])
    came = pd.DatetimeIndex(world.days[begin:end][day]).as_unit("us")
    runs = {
        "date": came,
        "ready_on": came,
        "scent": np.array(world.scents)[scent],
        "bottles_filled": world.truth["made"][:, begin:end][scent, day].astype("int64"),
    }
    runs["lot"] = [f"L{number}" for number in range(len(scent))]
    return _file("stock", stock), _file("runs", runs)


def _file(name, columns=None):
    """Return a table of the maker's folder with these columns, the others empty."""
    table = empty(FILES[name])
    given = table if columns is None else pd.DataFrame(columns)
    full = given.reindex(columns=table.columns).astype(dict(table.dtypes))
    return full.assign(row=range(2, len(full) + 2))


def scents_table(world, **columns):
    table = pd.DataFrame({"scent": pd.Series(world.scents, dtype="str")})
    first = np.where(
        world.launched > 0, world.days[np.minimum(world.launched, len(world.days) - 1)], np.datetime64("NaT", "D")
    )
    table["first_sold"] = first.astype("datetime64[us]")
    table["last_sold"] = pd.Series(pd.NaT, index=table.index, dtype="datetime64[us]")
    table["like"] = pd.Series([None] * len(table), dtype="str")
    table["guess_low"], table["guess_high"] = np.nan, np.nan
    return table.assign(**columns)


def oracle(world, rng, first_week, last_week, count=1000):
    """Draw the demand of weeks first..last (indices), knowing all but the future; (count, scent)."""
    truth, weeks = world.truth, world.truth["weeks"]
    n = len(world.scents)
    days = world.days[weeks * 7 : (last_week + 1) * 7]
    shapes, effects = season_shape(days), truth["shapes"][None, :] + truth["own"]
    horizon = len(days) // 7
    seen = set(np.unique(peak_year(world.days[: weeks * 7]))) if weeks else set()
    started = season_shape(world.days[: weeks * 7])[0][-1] > 0.02
    markets = world.truth["markets"][weeks * 7 : (last_week + 1) * 7]
    out = np.empty((count, n, last_week - first_week + 1))
    base = _rate_from(
        truth,
        days,
        markets,
        shapes,
        effects,
        {y: np.zeros(n) for y in np.unique(peak_year(days))},
        np.zeros((n, horizon)),
        0,
        weeks,
    )
    brand_now, own_now = truth["brand"][:, weeks - 1], truth["drift"][:, weeks - 1]
    years = peak_year(days)
    for c in range(count):
        rate = base.copy()
        for y in np.unique(years):
            known = y in seen and started and y == peak_year(world.days[weeks * 7 - 1 : weeks * 7])[0]
            shock = (
                truth["shock"][y]
                if known
                else rng.normal(0, truth["shock_sd"][0]) + rng.normal(0, truth["shock_sd"][1], n)
            )
            rate += np.where(years == y, shapes[0], 0.0) * shock[:, None]
        weekly = _ar(rng, *truth["brand_ar"], 1, horizon, brand_now) + _ar(rng, *truth["scent_ar"], n, horizon, own_now)
        weekly = weekly + _viral(rng, truth["viral"], n, horizon)
        mean = (np.exp(rate + np.repeat(weekly, 7, axis=1)) / 7).reshape(n, horizon, 7).sum(axis=2)
        gamma = rng.gamma(truth["size"][:, None], 1 / truth["size"][:, None], (n, horizon))
        out[c] = rng.poisson(mean * gamma)[:, first_week - weeks :]
    return out.sum(axis=2)


PRICE, COST, KEEPS = 18.0, 5.0, 0.3  # of a bottle; a left-over bottle keeps that share of its cost


def window_totals(world, first_week, last_week):
    """Return what was really wanted in weeks first..last, by scent."""
    return world.wanted[:, first_week * 7 : (last_week + 1) * 7].sum(axis=1)


def profits(draws, batches):
    """Mean profit of each number of batches, (batches, scent)."""
    made = BATCH * batches[:, None, None]
    sold = np.minimum(draws[None], made)
    return (PRICE * sold - COST * made + KEEPS * COST * (made - sold)).mean(axis=1)


def decide(draws, most):
    """Return the number of whole batches of each scent that earn most on these draws of the window total."""
    return profits(draws, np.arange(most + 1)).argmax(axis=0)


def judge(draws, known, actual):
    """One row a scent: expected profit of the decision, the oracle's, coverage and errors. Draws are (path, scent)."""
    most = int(max(draws.max(), known.max()) / BATCH) + 2
    most = min(most, 120)
    earned = profits(known, np.arange(most + 1))
    scents = np.arange(known.shape[1])
    q = np.quantile(draws, [0.05, 0.1, 0.5, 0.9, 0.95], axis=0)
    k = np.quantile(known, [0.05, 0.1, 0.5, 0.9, 0.95], axis=0)
    return pd.DataFrame(
        {
            "profit": earned[decide(draws, most), scents],
            "best": earned.max(axis=0),
            "in80": (actual >= q[1]) & (actual <= q[3]),
            "in90": (actual >= q[0]) & (actual <= q[4]),
            "below90": actual <= q[3],
            "known80": (actual >= k[1]) & (actual <= k[3]),
            "known90": (actual >= k[0]) & (actual <= k[4]),
            "known_below90": actual <= k[3],
            "mean": draws.mean(axis=0),
            "known": known.mean(axis=0),
            "error": np.abs(actual - q[2]),
            "known_error": np.abs(actual - k[2]),
            "actual": actual,
            "crps": crps(draws, actual),
            "known_crps": crps(known, actual),
        }
    )
