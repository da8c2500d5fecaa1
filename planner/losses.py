"""Where the oil of each run went, what was lost and what it cost; and what the runs teach the next batch."""

from collections.abc import Iterable
from math import ceil
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.settings import Settings
from planner.tables import STEPS, check, listed
from planner.units import label_millilitres

FEWEST_RUNS = 8  # fewer do not tell what is lost whatever the size from what grows with it
SPILL_SPREADS = 3.5  # a run so many robust spreads above the line is a spill, which overage does not provide for
SPREAD = 1.4826  # standard deviation ÷ median distance from the median, normal theory: 1 / 0.6745
# more out than in by more than this share of what was weighed is an error of record; common practice, no source
OUT_OF_BALANCE, OUT_OF_BALANCE_UNWEIGHED = 0.01, 0.05
SURE = 3  # and by so many standard errors of the filled oil, where only some bottles were weighed


class Losses(NamedTuple):
    """Tables of the balance.

    `losses`: one row a run, as its contract says, by date and lot. `runs`: the same runs in the same order with lot,
    date, scent, formula, vessel, bottles_filled, bottles_rejected, retained, minutes, fill_g (mean net fill [g]) and
    bottles_weighed. `set_aside`: file, row, lot, reason of each line that keeps a run out.
    """

    losses: pd.DataFrame
    set_aside: pd.DataFrame
    problems: list[Problem]
    runs: pd.DataFrame


class Fault(NamedTuple):
    """One line that keeps its run out of the balance."""

    file: str
    row: int
    lot: str
    column: str
    reason: str
    todo: str


def run_losses(
    runs: pd.DataFrame,
    weighed: pd.DataFrame,
    fills: pd.DataFrame,
    scents: pd.DataFrame,
    blends: pd.DataFrame,
    costs: pd.DataFrame,
) -> Losses:
    """Balance of each run [g]: weighed in = filled + residue + unexplained.

    Filled is the mean net weight of the bottles weighed × all bottles filled; rejected and retained bottles are part of
    it. Giveaway is what the bottles fit for sale hold above the label quantity (below it: less than zero). Loss share =
    (rejected + residue + unexplained) ÷ weighed; cost is of those grams at the oil's price. A residue, reject or
    retained sample not written down counts as 0. Where no bottle of a lot was weighed the label quantity is taken, with
    a note. Of a lot filled as several scents each bottle weighed belongs to the scent with the nearest label quantity,
    and residue and minutes are added up over its lines.
    """
    net = fills.assign(net_g=fills["net_g"].where(fills["net_g"].notna(), fills["gross_g"] - fills["tare_g"]))
    faults = [*_run_faults(runs, weighed), *_weighed_faults(runs, weighed), *_fill_faults(runs, net)]
    good = runs[~runs["lot"].isin({fault.lot for fault in faults})]
    lines = _filled(good, net, scents, blends, costs)
    faults += _fill_unknown(lines)
    table = _balance(lines[~lines["lot"].isin({fault.lot for fault in faults})], weighed)
    faults += _out_of_balance(table)
    table = table[~table["lot"].isin({fault.lot for fault in faults})].sort_values(["date", "lot"], ignore_index=True)
    problems = [Problem(fault.file, fault.row, fault.column, fault.reason, fault.todo) for fault in faults]
    aside = pd.DataFrame([(f.file, f.row, f.lot, f.reason) for f in faults], columns=["file", "row", "lot", "reason"])
    aside = aside.astype({"file": "str", "row": "int64", "lot": "str", "reason": "str"})
    names = ["lot", "date", "scent", "formula", "vessel", "bottles_filled", "bottles_rejected", "retained", "minutes"]
    return Losses(
        check(table, STEPS["losses"]),
        aside.drop_duplicates(["file", "row"], ignore_index=True),
        problems + _not_weighed(table),
        table[[*names, "fill_g", "bottles_weighed"]],
    )


def _faults(lines: pd.DataFrame, bad: pd.Series, file: str, column: str, reason: str, todo: str) -> list[Fault]:
    """Return one fault a line where `bad`; {lot} in the reason is the line's lot."""
    rows = lines.loc[bad.fillna(False).astype(bool)].to_dict("records")
    return [
        Fault(file, int(line.get("row", 0)), line["lot"], column, reason.format(lot=line["lot"]), todo) for line in rows
    ]


def _run_faults(runs: pd.DataFrame, weighed: pd.DataFrame) -> Iterable[Fault]:
    runs = runs.assign(formula=runs["formula"].fillna(""))
    several = runs.groupby("lot")[["date", "formula"]].transform("nunique").gt(1).any(axis=1)
    twice = runs.duplicated(["lot", "scent"]) | (several & runs.duplicated("lot"))
    out = runs[["bottles_rejected", "retained"]].fillna(0).sum(axis=1)
    number = "Give each batch its own number, keep one line for each scent."
    yield from _faults(runs, twice, "runs.csv", "lot", "lot {lot} is there twice.", number)
    none = runs["bottles_filled"].fillna(0) < 1
    yield from _faults(runs, none, "runs.csv", "bottles_filled", "lot {lot} has no bottles filled.", "Write how many.")
    more = ~none & (out > runs["bottles_filled"])
    what = "lot {lot} has more bottles rejected and retained than filled."
    yield from _faults(runs, more, "runs.csv", "bottles_rejected", what, "bottles_filled counts them all.")
    negative = runs["residue_g"] < 0
    yield from _faults(runs, negative, "runs.csv", "residue_g", "lot {lot} has a residue below 0.", "Correct it.")
    absent = ~runs["lot"].isin(weighed["lot"]) & ~runs.duplicated("lot")
    what = "nothing was weighed for lot {lot}."
    yield from _faults(runs, absent, "runs.csv", "lot", what, "Write its materials and grams in weighed.csv.")


def _weighed_faults(runs: pd.DataFrame, weighed: pd.DataFrame) -> Iterable[Fault]:
    bad = ~(weighed["grams"] > 0)
    yield from _faults(
        weighed, bad, "weighed.csv", "grams", "lot {lot} has no grams above 0.", "Write the weight in g."
    )
    yield from _strangers(runs, weighed, "weighed.csv")


def _fill_faults(runs: pd.DataFrame, fills: pd.DataFrame) -> Iterable[Fault]:
    yield from _strangers(runs, fills, "fills.csv")
    no_tare = fills["net_g"].isna() & fills["gross_g"].notna()
    what = "a bottle of lot {lot} has no tare."
    yield from _faults(fills, no_tare, "fills.csv", "tare_g", what, "Weigh the same empty parts, or write net_g.")
    none = fills["net_g"].isna() & fills["gross_g"].isna()
    yield from _faults(
        fills, none, "fills.csv", "gross_g", "a bottle of lot {lot} has no weight.", "Write gross_g and tare_g."
    )
    below = fills["net_g"] <= 0
    what = "a bottle of lot {lot} weighs no more than its tare."
    yield from _faults(fills, below, "fills.csv", "gross_g", what, "Look whether gross and tare are swapped.")


def _strangers(runs: pd.DataFrame, lines: pd.DataFrame, file: str) -> Iterable[Fault]:
    unknown = ~lines["lot"].isin(runs["lot"])
    yield from _faults(
        lines, unknown, file, "lot", "lot {lot} is not in runs.csv.", "Write the run there, or correct the lot."
    )


def _filled(
    runs: pd.DataFrame, fills: pd.DataFrame, scents: pd.DataFrame, blends: pd.DataFrame, costs: pd.DataFrame
) -> pd.DataFrame:
    """Add to each line of a run what its bottles hold: label_g, fill_g (mean), its standard error, the oil's price."""
    scent = scents.set_index("scent")
    lines = runs.assign(formula=runs["formula"].fillna(runs["scent"].map(scent["formula"])).astype("str"))
    density = lines["formula"].map(blends.set_index("formula")["density_g_per_ml"]).astype(float)
    label = label_millilitres(scent["label_ml"], scent["label_fl_oz"])
    lines["label_g"] = lines["scent"].map(label).astype(float) * density
    lines["price"] = lines["scent"].map(costs.set_index("scent")["oil_cost_per_g"]).astype(float)
    pairs = (
        fills[["lot", "net_g"]].reset_index(names="bottle").merge(lines[["lot", "label_g"]].drop_duplicates(), on="lot")
    )
    pairs["off"] = (pairs["net_g"] - pairs["label_g"]).abs()
    nearest = pairs.sort_values(["bottle", "off"], kind="stable").drop_duplicates("bottle")
    found = nearest.groupby(["lot", "label_g"], dropna=False)["net_g"].agg(["mean", "var", "count"]).reset_index()
    lines = lines.merge(found, on=["lot", "label_g"], how="left")
    lines["fill_g"] = lines["mean"].fillna(lines["label_g"])
    lines["bottles_weighed"] = lines["count"].fillna(0).astype("Int64")
    bottles = lines["bottles_filled"].astype(float)
    unseen = (1 - lines["count"] / bottles).clip(lower=0)  # nothing is unsure where every bottle was weighed
    lines["variance"] = (bottles**2 * lines["var"] / lines["count"] * unseen).fillna(0.0)
    return lines


def _fill_unknown(lines: pd.DataFrame) -> list[Fault]:
    what = "what the bottles of lot {lot} hold is not known: none was weighed, and it has no label quantity or density."
    return _faults(lines, lines["fill_g"].isna(), "runs.csv", "scent", what, "Weigh bottles, or complete scents.csv.")


def _balance(lines: pd.DataFrame, weighed: pd.DataFrame) -> pd.DataFrame:
    """Return one row a lot: where its oil went [g]."""
    count = lines[["bottles_filled", "bottles_rejected", "retained"]].astype(float).fillna(0.0)
    rejected, retained = count["bottles_rejected"], count["retained"]
    lines = lines.assign(
        filled_g=count["bottles_filled"] * lines["fill_g"],
        rejected_g=rejected * lines["fill_g"],
        retained_g=retained * lines["fill_g"],
        giveaway_g=(count["bottles_filled"] - rejected - retained) * (lines["fill_g"] - lines["label_g"]),
        residue_g=lines["residue_g"].fillna(0.0),
        bottles_rejected=rejected.astype("Int64"),
        retained=retained.astype("Int64"),
    )
    lots = lines.groupby("lot", sort=False)
    sums = ["filled_g", "rejected_g", "retained_g", "residue_g", "variance"]
    sums += ["bottles_filled", "bottles_rejected", "retained", "bottles_weighed"]
    table = lots[["date", "formula", "vessel", "price"]].first()
    table = table.join(lots[sums].sum()).join(lots[["giveaway_g", "minutes"]].sum(min_count=1))
    table["scent"] = lots["scent"].agg("; ".join)
    table["row"] = lots["row"].first() if "row" in lines else 0
    table["weighed_g"] = weighed.groupby("lot")["grams"].sum().reindex(table.index)
    table["fill_g"] = table["filled_g"] / table["bottles_filled"].astype(float)
    table["unexplained_g"] = table["weighed_g"] - table["filled_g"] - table["residue_g"]
    lost = table["rejected_g"] + table["residue_g"] + table["unexplained_g"]
    table["loss_share"] = lost / table["weighed_g"]
    table["cost"] = lost * table["price"]
    return table.reset_index()


def _out_of_balance(table: pd.DataFrame) -> list[Fault]:
    share = np.where(table["bottles_weighed"] > 0, OUT_OF_BALANCE, OUT_OF_BALANCE_UNWEIGHED)
    over = -table["unexplained_g"] > share * table["weighed_g"] + SURE * np.sqrt(table["variance"])
    what = "more oil came out of lot {lot} than was weighed in, by more than weighing can be off."
    return _faults(table, over, "runs.csv", "lot", what, "Look at its lines in weighed.csv and fills.csv.")


def _not_weighed(table: pd.DataFrame) -> list[Problem]:
    lots = table.loc[table["bottles_weighed"] == 0, "lot"].tolist()
    if not lots:
        return []
    what = f"no bottle of lot {listed(lots)} was weighed, so the label quantity is taken as filled."
    return [Problem("fills.csv", 0, "lot", what, "Weigh a few bottles of each batch.", stops=False)]


def learn_overage(losses: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Oil to weigh on top, from past runs: one row with fixed_g, share, runs, known, usual_fixed_g.

    What a batch needs is the label quantity × all its bottles ÷ (1 − share) + fixed_g. Lost here is all else that was
    weighed: residue, unexplained, and giveaway (which goes into bottles and has to be there); bottles rejected or
    retained are counted as bottles. The share is the Theil-Sen slope (median of the slopes between all pairs of runs)
    of lost against label grams, which a few spills do not bend. `usual_fixed_g` leaves every second batch short;
    `fixed_g` at most filling.short_pct of the batches, spills apart. Fewer than FEWEST_RUNS runs: the settings.
    """
    filling = settings.filling
    default = filling.overage_pct / 100
    sellable = losses["filled_g"] - losses["rejected_g"] - losses["retained_g"]
    label_g = losses["filled_g"] * (1 - (losses["giveaway_g"] / sellable.where(sellable > 0)).fillna(0.0))
    lost = losses["weighed_g"] - label_g
    if len(losses) < FEWEST_RUNS:
        known = f"setting, until there are {FEWEST_RUNS} runs"
        return _one_row(
            fixed_g=filling.overage_g, share=default, runs=len(losses), known=known, usual_fixed_g=filling.overage_g
        )
    slope = max(_slope(label_g, lost, default / (1 - default)), 0.0)
    rest = np.sort((lost - slope * label_g).to_numpy(float))
    middle = float(np.median(rest))
    usual = rest[rest <= middle + SPILL_SPREADS * SPREAD * np.median(np.abs(rest - middle)) + 1e-9]
    place = min(ceil((len(usual) + 1) * (1 - filling.short_pct / 100)), len(usual))
    return _one_row(
        fixed_g=max(float(usual[place - 1]), 0.0),
        share=slope / (1 + slope),
        runs=len(losses),
        known=f"learned from {len(losses)} runs",
        usual_fixed_g=max(middle, 0.0),
    )


def learn_minutes(runs: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Bench time from past runs: one row with setup_minutes, minutes_per_bottle, runs, known.

    The same fit, of minutes against bottles filled, over the lots of runs.csv that have both.
    """
    bench = settings.bench
    lots = runs.groupby("lot").agg(minutes=("minutes", "sum"), bottles=("bottles_filled", "sum")).astype(float)
    lots = lots[(lots["minutes"] > 0) & (lots["bottles"] > 0)]
    setup, each, known = bench.setup_minutes, bench.minutes_per_bottle, f"setting, until there are {FEWEST_RUNS} runs"
    if len(lots) >= FEWEST_RUNS:
        each = max(_slope(lots["bottles"], lots["minutes"], each), 0.0)
        setup = float((lots["minutes"] - each * lots["bottles"]).median())
        known = f"learned from {len(lots)} runs"
        if setup < 0:
            setup, each = 0.0, float((lots["minutes"] / lots["bottles"]).median())
    return _one_row(setup_minutes=setup, minutes_per_bottle=each, runs=len(lots), known=known)


def _one_row(**values: float | str) -> pd.DataFrame:
    return pd.DataFrame([values]).astype({"known": "str"})


def _slope(x: pd.Series, y: pd.Series, otherwise: float) -> float:
    """Return the median slope between all pairs of points (Theil 1950, Sen 1968); `otherwise` when all x are one."""
    first, second = np.triu_indices(len(x), 1)
    across = x.to_numpy(float)[second] - x.to_numpy(float)[first]
    up = y.to_numpy(float)[second] - y.to_numpy(float)[first]
    apart = np.abs(across) > 1e-9 * np.abs(x.to_numpy(float)).max()
    return float(np.median(up[apart] / across[apart])) if apart.any() else otherwise
