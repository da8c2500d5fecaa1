"""How long the restock plan takes: 12 scents in 12 weeks with 1,000 paths, 60 scents in 10 weeks with 500.

Run it as a script. Hours bind at about half to all of what would be made without them, money at nine tenths.
"""

import time

import numpy as np
import pandas as pd

from planner.restock import plan_batches
from planner.settings import Bench, Season, Settings
from planner.tables import FILES, Paths, empty

TODAY = pd.Timestamp("2026-10-05")


def shop(scents: int, weeks: int, paths: int, hours: float, days: tuple[str, ...], seed: int) -> tuple:
    """Make the tables of a shop whose scents sell 3 to 20 bottles a week, more towards the end."""
    rng = np.random.default_rng(seed)
    pace = (
        rng.gamma(2.0, 4.0, (1, scents, 1)) * rng.lognormal(0, 0.4, (paths, scents, 1)) * np.linspace(0.6, 1.8, weeks)
    )
    names = [f"S{n}" for n in range(scents)]
    drawn = Paths(rng.poisson(pace), tuple(names), pd.date_range(TODAY, periods=weeks, freq="7D"))
    table = empty(FILES["scents"]).reindex(range(scents))
    table = table.assign(
        scent=names, batch_bottles=rng.choice([24, 36, 48], scents), rest_days=rng.choice([7, 10, 14], scents)
    )
    table = table.assign(label_ml=10.0, retained=1, row=range(2, scents + 2))
    cost = rng.uniform(1.5, 3.0, scents)
    costs = pd.DataFrame({"scent": names, "label_ml": 10.0, "price": 18.0, "material_cost": cost, "fees": 0.7})
    costs["contribution_per_bottle"] = costs["price"] - costs["fees"] - costs["material_cost"]
    stock = pd.DataFrame({"scent": names, "on_hand": rng.integers(0, 40, scents)})
    minutes = pd.DataFrame({"setup_minutes": [30.0], "minutes_per_bottle": [3.0]})
    last = (TODAY + pd.Timedelta(days=7 * weeks - 4)).date()
    money = float(scents * 8 * weeks * 2)
    settings = Settings("s", "EUR", money_available=money, season=Season(TODAY.date(), last), bench=Bench(days, hours))
    blank = (empty(FILES[name]).assign(row=0) for name in ("wishes", "orders"))
    return drawn, costs, table, stock, minutes, *blank, settings, TODAY


CASES = (
    ("12 scents, 10 weeks, 1000 paths, short of hours", (12, 10, 1000, 4.5, ("Tue", "Thu"), 1)),
    ("12 scents, 10 weeks, 1000 paths, about enough hours", (12, 10, 1000, 6.0, ("Tue", "Thu", "Sat"), 2)),
    ("12 scents, 10 weeks, 1000 paths, one day a week", (12, 10, 1000, 8.0, ("Sat",), 3)),
    ("60 scents, 10 weeks, 500 paths, short of hours", (60, 10, 500, 7.0, ("Mon", "Tue", "Wed", "Thu", "Fri"), 4)),
)


def main() -> None:
    """Print what each case takes and how good it is proven to be."""
    for name, case in CASES:
        tables = shop(*case)
        start = time.perf_counter()
        plan = plan_batches(*tables)
        took = time.perf_counter() - start
        facts = plan.facts.set_index("what")["value"]
        gap = facts.filter(like="proven gap").iloc[0]
        used, there = facts["bench hours used"], facts["bench hours available in time"]
        print(f"{name}: {took:.2f} s, gap {gap:.4f} %, {facts['batches']:.0f} batches, {used:.0f} of {there:.0f} hours")


if __name__ == "__main__":
    main()
