"""The bench of the invented shop: what was weighed, filled and left in the jug for each of the runs written down."""

import io
from typing import NamedTuple

import numpy as np
import pandas as pd
from example_facts import CARRIER, LOADS, LOTS, MATERIALS, VITAMIN, VITAMIN_PCT
from example_supply import Run

RUNS_WRITTEN = 30
FIXED_G, SHARE = 6.0, 0.012  # oil lost in every batch whatever its size [g], and of every gram weighed
LOSS_SD_G = 0.8
RESIDUE_PART = 0.75  # of that loss, found on the wall of the jug and weighed; the rest is unexplained
GIVEAWAY = 0.008  # filled above the label quantity
FILL_SD_G = 0.045
SETUP_MINUTES, MINUTES_PER_BOTTLE, MINUTES_SD = 28.0, 2.9, 6.0
DRIFTING_RUNS = 8  # the dispenser wears: the last runs leave more behind and fill a little higher each time
DRIFT_RESIDUE_G, DRIFT_GIVEAWAY = 1.1, 0.0035  # more with every run
FULLY_WEIGHED = (0, 11, 22)  # runs of which every bottle was weighed; of the others, 8 to 12
TARE_G = {10: 27.6, 5: 18.9}  # bottle, ball and cap by label quantity [ml]
VESSELS = (("small beaker", 320), ("jug", 480), ("big jug", 800))  # and what they take in [ml]


class Bench(NamedTuple):
    """The maker's tables runs, weighed and fills."""

    runs: pd.DataFrame
    weighed: pd.DataFrame
    fills: pd.DataFrame


def bench_records(runs: list[Run], scents: pd.DataFrame, rng: np.random.Generator) -> Bench:
    """Write down the last runs, gram by gram."""
    written = runs[-RUNS_WRITTEN:]
    lots = lot_numbers(written)
    book, weighed, fills = [], [], []
    for number, (lot, run) in enumerate(zip(lots, written, strict=True)):
        scent = scents.set_index("scent").loc[run.scent]
        worn = max(0, number - (RUNS_WRITTEN - DRIFTING_RUNS) + 1)
        nets = _bottles(run, scent, worn, rng)
        grams, residue = _weigh_in(run, scent, nets, worn, rng)
        weighed += [(lot, material, _material_lot(material, run.day), amount) for material, amount in grams.items()]
        volume = sum(grams.values()) / blend_density(str(scent["formula"]))
        vessel = next(name for name, takes in VESSELS if volume <= takes)
        minutes = round(SETUP_MINUTES + MINUTES_PER_BOTTLE * run.filled + rng.normal(0, MINUTES_SD))
        note = "jug knocked over while filling" if run.spilled else ""
        entry = (lot, run.day, run.scent, run.filled, scent["formula"], vessel, run.rejected, run.retained)
        book.append((*entry, residue, minutes, note))
        fills += _weighed_bottles(lot, nets, number in FULLY_WEIGHED, TARE_G[int(scent["label_ml"])], rng)
    columns = "lot date scent bottles_filled formula vessel bottles_rejected retained residue_g minutes note"
    return Bench(
        pd.DataFrame(book, columns=columns.split()).assign(ready_on=""),  # all were for sale after their usual rest
        pd.DataFrame(weighed, columns=["lot", "material", "material_lot", "grams"]),
        pd.DataFrame(fills, columns=["lot", "bottle", "gross_g", "tare_g", "net_g"]),
    )


def lot_numbers(runs: list[Run]) -> list[str]:
    """Return the day as a number and a letter for each batch of that day."""
    days = pd.Series([f"{run.day:%y%m%d}" for run in runs])
    return (days + days.groupby(days).cumcount().map(lambda n: "ABCD"[n])).tolist()


def formula_parts(formula: str) -> dict[str, float]:
    """Materials of a formula and their percent by weight, which add to 100."""
    oils = LOADS[formula]
    return {CARRIER: round(100 - VITAMIN_PCT - sum(oils.values()), 2), **oils, VITAMIN: VITAMIN_PCT}


def blend_density(formula: str) -> float:
    """Density of the finished oil when volumes add up on mixing. [g/ml]"""
    density = pd.read_csv(io.StringIO(MATERIALS)).set_index("material")["density_g_per_ml"]
    return 100 / sum(pct / density[material] for material, pct in formula_parts(formula).items())


def _bottles(run: Run, scent: pd.Series, worn: int, rng: np.random.Generator) -> np.ndarray:
    """Oil in each bottle filled. [g]"""
    target = scent["label_ml"] * blend_density(str(scent["formula"])) * (1 + GIVEAWAY + DRIFT_GIVEAWAY * worn)
    return rng.normal(target, FILL_SD_G, size=run.filled).round(2)


def _weigh_in(
    run: Run, scent: pd.Series, nets: np.ndarray, worn: int, rng: np.random.Generator
) -> tuple[dict[str, float], float]:
    """Grams weighed of each material, and what was left in the jug. [g]"""
    filled = nets.sum()
    spilt = run.spilled * (scent["batch_bottles"] - run.filled) * nets.mean()
    noise = rng.normal(0, LOSS_SD_G)
    weighed = (filled + spilt + FIXED_G + noise + DRIFT_RESIDUE_G * worn) / (1 - SHARE)
    usual = FIXED_G + SHARE * weighed + noise
    unexplained = usual * (1 - RESIDUE_PART) + spilt
    parts = formula_parts(str(scent["formula"]))
    grams = {
        name: round(weighed * pct / 100 + rng.normal(0, 0.01), 2) for name, pct in parts.items() if name != CARRIER
    }
    grams = {CARRIER: round(weighed - sum(grams.values()), 1), **grams}
    return grams, round(sum(grams.values()) - filled - unexplained, 1)


def _material_lot(material: str, day: pd.Timestamp) -> str:
    """Return the oldest delivery at hand and not past its use-by day; of the carrier the newest canister is open."""
    lots = pd.read_csv(io.StringIO(LOTS), parse_dates=["received", "use_by"])
    lots = lots[(lots["material"] == material) & (lots["received"] <= day) & (lots["use_by"] >= day)]
    return str(lots["material_lot"].iloc[-1 if material == CARRIER else 0])


def _weighed_bottles(lot: str, nets: np.ndarray, every: bool, tare: float, rng: np.random.Generator) -> list[tuple]:
    sample = len(nets) if every else int(rng.integers(8, 13))
    tares = rng.normal(tare, 0.15, size=sample).round(2)
    pairs = zip(nets[:sample].tolist(), tares.tolist(), strict=True)
    return [(lot, n, round(empty + net, 2), empty, None) for n, (net, empty) in enumerate(pairs, 1)]
