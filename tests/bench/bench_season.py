"""Judge the season forecast on simulated shops: python tests/bench/bench_season.py [worlds] [case ...]

For each case: newsvendor profit of whole-batch decisions in percent of an oracle that knows all but the future; as much
for "last year times growth"; CRPS against the oracle's; how often ranges held; bias of the mean; time of fit and draws.
"""

import resource
import sys
import time
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[1]))

from simulated_shops import demand_table, judge, oracle, scents_table, simulate, window_totals

from planner.season import draw_paths, fit_season
from planner.season.priors import GUESS_HOLDS
from planner.settings import Season, Settings

CHRISTMAS = (1, 12)  # first and last week of the window, counted from the end of the history
AUTUMN, EASTER, MIDSUMMER = "2024-09-23", "2024-03-25", "2024-06-24"  # Mondays after the history
SHOP = Settings("Simulated", "EUR", season=Season(date(2024, 9, 30), date(2024, 12, 18)))


@dataclass(frozen=True)
class Case:
    """What is simulated and what the model is told of it."""

    weeks: int = 156
    end: str = AUTUMN
    window: tuple[int, int] = CHRISTMAS
    shop: dict = field(default_factory=dict)
    records: str = "kept"  # of stock: kept, none (sold-out days are inferred), ignored (every empty week is a zero)
    totals: str = ""  # "week": sales known by week only
    new: int | None = None  # judge six scents launched so many weeks ago instead of those that are settled
    guess_sd: float | None = None  # the maker guesses new scents with this error [log]


CASES = {
    "3 years": Case(),
    "2 years": Case(104),
    "18 months": Case(78),
    "1 year": Case(52),
    "no Christmas": Case(38),
    "12 weeks": Case(12),
    "spring": Case(end=EASTER, window=(0, 7)),
    "summer": Case(end=MIDSUMMER, window=(0, 7)),
    "no stock-outs": Case(shop={"supply": False}),
    "no records": Case(records="none"),
    "ignored": Case(records="ignored"),
    "week totals": Case(totals="week"),
    "restless": Case(shop={"restless": 2.0}),
    "few bottles": Case(shop={"level": 0.8}),
    "1 scent": Case(shop={"scents": 1}),
    "6 scents": Case(shop={"scents": 6}),
    "60 scents": Case(shop={"scents": 60}),
    "new, 0 weeks": Case(new=0),
    "new, guess .5": Case(new=0, guess_sd=0.5),
    "new, 2 weeks": Case(new=2),
    "new, 2 w, guess": Case(new=2, guess_sd=0.5),
    "new, 8 weeks": Case(new=8),
}


def one(seed, case):
    """One world: a row a scent that is judged."""
    case = CASES[case]
    first, last = case.window
    rng = np.random.default_rng([77, seed])
    world = simulate(rng, weeks=case.weeks, end=case.end, horizon=last + 2, new=case.new, **case.shop)
    truth = oracle(world, np.random.default_rng([78, seed]), case.weeks + first, case.weeks + last, 500)
    draws, spent = forecast(world, case, truth, np.random.default_rng(seed))
    actual = window_totals(world, case.weeks + first, case.weeks + last)
    score = judge(draws, truth, actual)
    score["naive"] = judge(np.tile(last_year(world, case.weeks, first, last), (2, 1)), truth, actual)["profit"]
    score = score.assign(seed=seed, seconds=spent, **family(draws.sum(axis=1), truth.sum(axis=1)), **unsold(world))
    age = case.weeks - world.launched / 7
    return score[age == case.new if case.new is not None else age >= min(26, case.weeks)]


def family(draws, truth):
    """How often the ranges of all scents together hold, over the oracle's draws: one Christmas alone says little."""
    low, ten, ninety, high = np.quantile(draws, [0.05, 0.1, 0.9, 0.95])
    return {"fam80": ((truth >= ten) & (truth <= ninety)).mean(), "fam90": ((truth >= low) & (truth <= high)).mean()}


def forecast(world, case, truth, rng):
    """Draws of the window totals, (path, scent), and the seconds that fit and draws took."""
    demand = demand_table(world, records=case.records, totals=case.totals)
    scents = scents_table(world)
    if case.guess_sd is not None:
        guess = np.log(truth.mean(axis=0)) + rng.normal(0, case.guess_sd, truth.shape[1])
        new = world.launched == 7 * (case.weeks - case.new)
        half = GUESS_HOLDS * case.guess_sd
        scents["guess_low"], scents["guess_high"] = np.where(new, np.exp(np.add.outer([-half, half], guess)), np.nan)
    begin = time.perf_counter()
    model = fit_season(demand, scents, world.calendar, SHOP, world.today)
    first, last = (7 * (case.weeks + week) for week in (case.window[0], case.window[1] + 1))
    paths = draw_paths(model, pd.Timestamp(world.days[first]), pd.Timestamp(world.days[last - 1]), 1000, rng)
    return paths.bottles.sum(axis=2), time.perf_counter() - begin


def last_year(world, weeks, first, last):
    """Return the same weeks last year times growth, as sold; the last quarter's pace where there is no last year."""
    span = last - first + 1
    quarter = world.sold[:, 7 * (weeks - 13) : 7 * weeks].sum(axis=1) * span / 13
    if weeks + first < 53:
        return quarter
    then = 7 * (weeks + first - 52)
    same = world.sold[:, then : then + 7 * span].sum(axis=1)
    lately, before = (world.sold[:, 7 * max(weeks - back, 0) : 7 * (weeks - back + 26)].sum() for back in (26, 78))
    growth = np.clip(lately / max(before, 1), 0.5, 2.0) if weeks >= 78 else 1.0
    return np.where(world.launched <= then, same * growth, quarter)


def unsold(world):
    """Return the share of the peak's demand that found an empty shelf, in the history."""
    month = pd.DatetimeIndex(world.days).month
    peak = (month >= 11) & (np.arange(len(world.days)) < 7 * world.truth["weeks"])
    wanted = world.wanted[:, peak].sum()
    return {"unsold": 1 - world.sold[:, peak].sum() / wanted if wanted else np.nan}


def summary(rows):
    """One line of figures of many worlds."""
    worlds = rows.groupby("seed")
    profit = 100 * worlds["profit"].sum() / worlds["best"].sum()
    return {
        "profit": profit.mean(),
        "+-": profit.std() / np.sqrt(len(profit)),
        "worst": profit.min(),
        "naive": (100 * worlds["naive"].sum() / worlds["best"].sum()).mean(),
        "crpsx": rows["crps"].sum() / rows["known_crps"].sum(),
        "wape": 100 * rows["error"].sum() / rows["actual"].sum(),
        "o.wape": 100 * rows["known_error"].sum() / rows["actual"].sum(),
        "bias": 100 * (rows["mean"].sum() / rows["known"].sum() - 1),
        "+-b": 100 * ratio_error(worlds["mean"].sum().to_numpy(), worlds["known"].sum().to_numpy()),
        "in80": 100 * rows["in80"].mean(),
        "o.80": 100 * rows["known80"].mean(),
        "in90": 100 * rows["in90"].mean(),
        "o.90": 100 * rows["known90"].mean(),
        "<q90": 100 * rows["below90"].mean(),
        "o.<q90": 100 * rows["known_below90"].mean(),
        "fam80": 100 * worlds["fam80"].first().mean(),
        "fam90": 100 * worlds["fam90"].first().mean(),
        "unsold": 100 * worlds["unsold"].first().mean(),
        "s": worlds["seconds"].first().median(),
    }


def ratio_error(top, bottom):
    """Return the standard error of a ratio of sums over worlds, each world left out in turn; NaN for one world."""
    if len(top) < 2:
        return np.nan
    without = (top.sum() - top) / (bottom.sum() - bottom)
    return np.sqrt((len(top) - 1) * without.var())


def compare(rows, one, other):
    """Print how much more profit one case has than another in the same worlds."""
    shares = [100 * (of := rows[case].groupby("seed"))["profit"].sum() / of["best"].sum() for case in (one, other)]
    more = shares[0] - shares[1]
    print(f"{one} against {other}: {more.mean():.2f} +- {more.std() / np.sqrt(len(more)):.2f} points of profit")


def whole_weeks(world):
    """Return the demand table of a shop that is never sold out, without going through its days."""
    n, weeks = len(world.scents), world.truth["weeks"]
    columns = {
        "week": np.tile(pd.DatetimeIndex(world.days[: 7 * weeks : 7]).as_unit("us"), n),
        "scent": pd.Series(np.repeat(np.array(world.scents, dtype=object), weeks), dtype="str"),
        "channel": "all",
        "bottles": pd.array(world.sold[:, : 7 * weeks].reshape(n, -1, 7).sum(axis=2).ravel(), dtype="Int64"),
        "shelf_days": 7.0,
    }
    live = np.arange(weeks) >= world.launched[:, None] // 7
    return pd.DataFrame(columns)[live.ravel()].reset_index(drop=True)


def speed(scents, count, window):
    """Seconds of fit and draws of 156 weeks, the best of three (one for many scents)."""
    world = simulate(np.random.default_rng(1), scents=scents, supply=False)
    demand, table, calendar, today = whole_weeks(world), scents_table(world), world.calendar, world.today
    del world
    best = [np.inf, np.inf]
    for _ in range(3 if scents < 100 else 1):
        begin = time.perf_counter()
        model = fit_season(demand, table, calendar, SHOP, today)
        middle = time.perf_counter()
        draw_paths(model, *window, count, np.random.default_rng(0))
        best = np.minimum(best, [middle - begin, time.perf_counter() - middle])
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"{scents} scents x 156 weeks: fit {best[0]:.2f} s, {count} paths {best[1]:.2f} s, peak memory {peak:.2f} GB")


def main(worlds=16, names=()):
    """Print a line a case, then the times."""
    table, every = {}, {}
    for case in names or CASES:
        rows = every[case] = pd.concat([one(seed, case) for seed in range(worlds)], ignore_index=True)
        table[case] = summary(rows)
        print(pd.DataFrame(table).T.tail(1).round(2).to_string(header=len(table) == 1), flush=True)
    for case in ("no records", "ignored", "week totals"):
        if case in every and "3 years" in every:
            compare(every, "3 years", case)
    for scents, count in ((24, 2000), (1000, 1000)) if not names else ():
        speed(scents, count, (pd.Timestamp("2024-09-30"), pd.Timestamp("2024-12-22")))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 16, sys.argv[2:])
