"""Judge the season forecast on simulated shops: python tests/bench/bench_season.py [worlds] [case ...]

For each case: newsvendor profit of whole-batch decisions in percent of an oracle that knows all but the future; the same
for "last year times growth"; CRPS against the oracle's; how often ranges held; bias of the mean; time of fit and draws.
"""

import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[1]))

from simulated_shops import demand_table, judge, oracle, scents_table, simulate, window_totals

from planner.season import draw_paths, fit_season
from planner.settings import Settings

SHOP = Settings("Simulated", "EUR")
# name: (weeks of history, last Monday of it, first and last week of the window after it, how the shop is simulated)
CHRISTMAS = (1, 12)
CASES = {
    "3 years": (156, "2024-09-23", CHRISTMAS, {}),
    "2 years": (104, "2024-09-23", CHRISTMAS, {}),
    "18 months": (78, "2024-09-23", CHRISTMAS, {}),
    "1 year": (52, "2024-09-23", CHRISTMAS, {}),
    "no Christmas": (38, "2024-09-23", CHRISTMAS, {}),
    "spring": (156, "2024-03-25", (0, 7), {}),
    "summer": (156, "2024-06-24", (0, 7), {}),
    "no stock-outs": (156, "2024-09-23", CHRISTMAS, {"supply": False}),
    "restless": (156, "2024-09-23", CHRISTMAS, {"restless": 2.0}),
    "few bottles": (156, "2024-09-23", CHRISTMAS, {"level": 0.8}),
    "6 scents": (156, "2024-09-23", CHRISTMAS, {"scents": 6}),
    "60 scents": (156, "2024-09-23", CHRISTMAS, {"scents": 60}),
}


def one(seed, case, known=True):
    """One world: a row a scent that was on sale for half a year."""
    weeks, end, (first, last), said = CASES[case]
    world = simulate(np.random.default_rng([77, seed]), weeks=weeks, end=end, horizon=last + 2, **said)
    demand = demand_table(world, known=known)
    begin = time.perf_counter()
    model = fit_season(demand, scents_table(world), world.calendar, SHOP, world.today)
    days = pd.DatetimeIndex(world.days[[7 * (weeks + first), 7 * (weeks + last + 1) - 1]])
    paths = draw_paths(model, days[0], days[1], 1000, np.random.default_rng(seed))
    spent = time.perf_counter() - begin
    draws = paths.bottles.sum(axis=2)
    truth = oracle(world, np.random.default_rng([78, seed]), weeks + first, weeks + last, 500)
    actual = window_totals(world, weeks + first, weeks + last)
    score = judge(draws, truth, actual)
    naive = last_year(world, weeks, first, last)
    score["naive"] = judge(np.tile(naive, (2, 1)), truth, actual)["profit"]
    family = judge(draws.sum(axis=1, keepdims=True), truth.sum(axis=1, keepdims=True), actual.sum(keepdims=True))
    score = score.assign(seed=seed, seconds=spent, age=weeks - world.launched / 7, family80=family["in80"].iloc[0])
    return score.assign(knownfamily80=family["known80"].iloc[0], **unsold(world))


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
    """One line of figures of many worlds; scents on sale for half a year."""
    old = rows[rows["age"] >= np.minimum(26, rows["age"].max())]
    worlds = old.groupby("seed")
    profit = 100 * worlds["profit"].sum() / worlds["best"].sum()
    return {
        "profit": profit.mean(),
        "+-": profit.std() / np.sqrt(len(profit)),
        "naive": (100 * worlds["naive"].sum() / worlds["best"].sum()).mean(),
        "crpsx": old["crps"].sum() / old["known_crps"].sum(),
        "wape": 100 * old["error"].sum() / old["actual"].sum(),
        "o.wape": 100 * old["known_error"].sum() / old["actual"].sum(),
        "bias": 100 * (old["mean"].sum() / old["known"].sum() - 1),
        "bias/w": 100 * (worlds["mean"].sum() / worlds["known"].sum() - 1).mean(),
        "in80": 100 * old["in80"].mean(),
        "o.80": 100 * old["known80"].mean(),
        "in90": 100 * old["in90"].mean(),
        "o.90": 100 * old["known90"].mean(),
        "<q90": 100 * old["below90"].mean(),
        "o.<q90": 100 * old["known_below90"].mean(),
        "fam80": 100 * worlds["family80"].first().mean(),
        "o.fam80": 100 * worlds["knownfamily80"].first().mean(),
        "unsold": 100 * worlds["unsold"].first().mean(),
        "s": worlds["seconds"].first().median(),
    }


def main(worlds=16, names=()):
    """Print a line a case."""
    table = {}
    for case in names or CASES:
        rows = pd.concat([one(seed, case) for seed in range(worlds)], ignore_index=True)
        table[case] = summary(rows)
        print(pd.DataFrame(table).T.tail(1).round(2).to_string(header=len(table) == 1), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 16, sys.argv[2:])
