"""Time 100 weigh-outs, and the balance, lesson and chart of 1,000 runs with 30 bottles weighed each. Prints seconds."""

from time import perf_counter

import numpy as np
import pandas as pd

from planner.control import individuals_limits, run_signals
from planner.files import load_folder
from planner.formula import blends, bottle_costs
from planner.losses import learn_overage, run_losses
from planner.tables import FILES, empty
from planner.weighout import weigh_out

BATCHES, RUNS, BOTTLES = 100, 1000, 30


def as_file(name, rows):
    return rows.reindex(columns=FILES[name].columns).astype(empty(FILES[name]).dtypes.to_dict())


def many_runs(scent, fill_g):
    rng = np.random.default_rng(1)
    lot = pd.Series([f"L{n:04}" for n in range(RUNS)])
    filled = rng.integers(20, 60, RUNS)
    days = pd.date_range("2020-01-01", periods=RUNS)
    runs = pd.DataFrame({"lot": lot, "date": days, "scent": scent, "bottles_filled": filled, "residue_g": 3.0})
    weighed = pd.DataFrame({"lot": lot, "material": "mix", "grams": filled * fill_g * 1.02 + 8})
    net = rng.normal(fill_g * 1.01, 0.1, RUNS * BOTTLES)
    bottle = [str(n) for n in range(BOTTLES)] * RUNS
    fills = pd.DataFrame({"lot": np.repeat(lot, BOTTLES), "bottle": bottle, "net_g": net})
    return as_file("runs", runs), as_file("weighed", weighed), as_file("fills", fills)


def main():
    shop = load_folder("")
    mix = blends(shop["formulas"], shop["materials"]).blends
    makers = [shop[name] for name in ("formulas", "packing", "packs", "materials")]
    costs = bottle_costs(shop["scents"], mix, *makers, shop.settings).costs
    scents = shop["scents"]["scent"].tolist()
    bench = pd.DataFrame({"batch": [f"B{n}" for n in range(BATCHES)], "bottles": 40, "vessel": None})
    bench["scent"] = [scents[n % len(scents)] for n in range(BATCHES)]
    overage = learn_overage(
        pd.DataFrame(columns=["filled_g", "rejected_g", "retained_g", "giveaway_g", "weighed_g"], dtype=float),
        shop.settings,
    )
    start = perf_counter()
    needs = [shop[name] for name in ("materials", "packing", "material_lots", "overrides")]
    sheet = weigh_out(bench, shop["scents"], shop["formulas"], mix, *needs, overage, shop.settings, shop.today)
    print(
        f"{BATCHES} batches: {perf_counter() - start:.2f} s ({len(sheet.batches)} made, {len(sheet.refused)} refused)"
    )
    runs, weighed, fills = many_runs(scents[0], costs["fill_g"].iloc[0])
    start = perf_counter()
    lost = run_losses(runs, weighed, fills, shop["scents"], mix, costs).losses
    learn_overage(lost, shop.settings)
    run_signals(individuals_limits(lost, "loss_share"))
    print(f"{len(lost)} runs, {len(fills)} weights: {perf_counter() - start:.2f} s")


if __name__ == "__main__":
    main()
