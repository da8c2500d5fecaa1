"""Judge what is taken for sold out where nobody counted: python tests/bench/bench_shelf.py [worlds] [case ...]

Simulated shops with the truth known. For each setting of sold_out_chance: share of the truly sold-out days found, and
share of the days taken for sold out that were not, over all shops, with standard errors between shops; the same for
November and December; how much too many expected sales count as on the shelf (exposure; the last line: nobody looks).
Beside it the detector to beat: two or more whole weeks without a sale whose chance at the rate of the scent's other
weeks is below one in a hundred, and the week before them.
"""

import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[1]))

from shelf_tables import file_of
from simulated_shops import simulate

from planner.settings import Channel, Settings, Shelf
from planner.shelf import shelf_days

CASES = {
    "24 scents": {},
    "6 scents": {"scents": 6},
    "few bottles": {"level": 0.8},
    "restless": {"restless": 2.0},
    "nothing sold out": {"supply": False},
    "1 year": {"weeks": 52},
    "by threes": {"at_once": 3},  # as many bottles, bought three at a time on average
}
CHANCES = (0.2, 0.3, 0.5, 0.7, 0.9)
SCENTS, STOCK, RUNS, MOVES = (file_of(name, []) for name in ("scents", "stock", "runs", "moves"))


def sales_of(world):
    """Return the sales of a simulated shop, a line a day and scent."""
    scent, day = np.nonzero(world.sold[:, : 7 * world.truth["weeks"]])
    return pd.DataFrame(
        {
            "day": pd.DatetimeIndex(world.days[day]).as_unit("us"),
            "scent": np.array(world.scents)[scent],
            "bottles": world.sold[scent, day].astype("int64"),
            "unit_price": 18.0,
            "channel": "web",
            "kind": "sale",
            "file": "web.csv",
        }
    ).sort_values("day", ignore_index=True)


def bought_together(sold, at_once, rng):
    """Return about as many bottles, with so many to a purchase on average."""
    if at_once == 1:
        return sold
    purchases = rng.binomial(sold.astype(int), 1 / at_once)
    return purchases + rng.poisson(purchases * (at_once - 1.0))


def shelves(world, sales, chance):
    """Return the share of each day on the shelf as the planner has it, (day, scent); NA where it was not for sale."""
    shop = Settings("S", "EUR", channels=(Channel("web"),), shelf=Shelf(sold_out_chance=chance))
    scents = SCENTS.reindex(range(len(world.scents))).assign(scent=world.scents)
    scents["first_sold"] = pd.Series(pd.NaT, scents.index, dtype="datetime64[us]")
    calendar = world.calendar.assign(row=0)
    shelf = shelf_days(sales, scents, STOCK, RUNS, MOVES, calendar, shop, world.today).shelf
    wide = shelf.pivot(index="day", columns="scent", values="on_shelf")
    weight = shelf.drop_duplicates("day").set_index("day")["day_weight"]
    days = pd.DatetimeIndex(world.days[: 7 * world.truth["weeks"]]).as_unit("us")
    return wide.reindex(index=days, columns=world.scents).to_numpy(), weight.reindex(days).fillna(0).to_numpy()


def whole_weeks(world, sales):
    """Return the share of each day on the shelf by the detector to beat."""
    days, n = 7 * world.truth["weeks"], len(world.scents)
    sold = world.sold[:, :days].T
    live = np.arange(days)[:, None] >= np.where(sold.any(axis=0), (sold > 0).argmax(axis=0), days)
    y, for_sale = sold.reshape(-1, 7, n).sum(axis=1), live.reshape(-1, 7, n).any(axis=1)
    selling = (y > 0) & for_sale
    family = np.where(for_sale, y, 0).sum(axis=1)
    rate = y.sum(axis=0) / np.maximum((selling * family[:, None]).sum(axis=0), 1e-9)
    empty, out = (y == 0) & for_sale, np.zeros(y.shape, bool)
    for scent in range(n):
        edge = np.diff(np.pad(empty[:, scent].astype(int), 1))
        for begin, end in zip(np.flatnonzero(edge == 1), np.flatnonzero(edge == -1), strict=True):
            if end - begin >= 2 and np.exp(-rate[scent] * family[begin:end].sum()) < 0.01:
                out[max(begin - 1, 0) : end, scent] = True
    return np.where(live, 1.0 - np.repeat(out, 7, axis=0), np.nan)


def one(seed, case):
    """Return a row a detector: days truly sold out, found, taken for it; and expected sales too many."""
    shop = dict(CASES[case])
    at_once = shop.pop("at_once", 1)
    world = simulate(np.random.default_rng([55, seed]), **shop)
    world.sold = bought_together(world.sold, at_once, np.random.default_rng([57, seed]))
    sales = sales_of(world)
    days = 7 * world.truth["weeks"]
    true = world.on_shelf[:, :days].T
    peak = pd.DatetimeIndex(world.days[:days]).month >= 11
    rows = []
    for chance in CHANCES:
        begin = time.perf_counter()
        share, weight = shelves(world, sales, chance)
        rows.append((f"chance {chance}", share, time.perf_counter() - begin))
    nobody = np.where(np.isnan(share), np.nan, 1.0)
    rows += [("whole weeks", whole_weeks(world, sales), 0.0), ("nobody looks", nobody, 0.0)]
    return pd.DataFrame([{"case": case, "seed": seed, "how": how, "s": spent, **counts(share, true, weight, peak)}
                         for how, share, spent in rows])  # fmt: skip


def counts(share, true, weight, peak):
    """Return the counts of days, in all and in the peak."""
    live = ~np.isnan(share)
    gone, taken = (true == 0) & live, (share == 0) & live
    result = {"days": live.sum()}
    for name, part in (("", slice(None)), ("peak ", peak)):
        result[name + "out"], result[name + "taken"] = gone[part].sum(), taken[part].sum()
        result[name + "found"] = (gone & taken)[part].sum()
        worth = weight[part, None] * live[part]
        result[name + "seen"] = (worth * np.nan_to_num(share[part])).sum()
        result[name + "there"] = (worth * true[part]).sum()
    return result


def summary(rows):
    """Return figures over shops in percent, and the standard error between shops (each shop left out in turn)."""
    ratios = {
        "sold out": ("out", "days"),
        "found": ("found", "out"),
        "false": ("wrong", "taken"),
        "exposure": ("over", "there"),
        "peak found": ("peak found", "peak out"),
        "peak false": ("peak wrong", "peak taken"),
        "peak exp.": ("peak over", "peak there"),
    }
    rows = rows.assign(
        wrong=rows["taken"] - rows["found"],
        over=rows["seen"] - rows["there"],
        **{"peak wrong": rows["peak taken"] - rows["peak found"], "peak over": rows["peak seen"] - rows["peak there"]},
    )
    line = {}
    for name, (top, bottom) in ratios.items():
        a, b, n = rows[top].to_numpy(float), rows[bottom].to_numpy(float), len(rows)
        if b.sum() == 0:
            line[name], line["+- " + name] = np.nan, np.nan
            continue
        without = (a.sum() - a) / np.maximum(b.sum() - b, 1)
        line[name] = 100 * a.sum() / b.sum()
        line["+- " + name] = 100 * np.sqrt((n - 1) / n * ((without - without.mean()) ** 2).sum())
    return line | {"s": rows["s"].median()}


def main(worlds=100, names=()):
    """Print a table a case."""
    for case in names or CASES:
        rows = pd.concat([one(seed, case) for seed in range(worlds)], ignore_index=True)
        table = {how: summary(part) for how, part in rows.groupby("how", sort=False)}
        print(f"\n{case}, {worlds} shops, percent")
        print(pd.DataFrame(table).T.round(2).to_string(), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100, sys.argv[2:])
