"""Make the example folder: an invented shop whose truth is known, the same bytes each time.

    python data/make_example.py [FOLDER]

writes every file of the maker's folder into data/example (or FOLDER), and beside it `example_truth.json` and
`example_wanted.csv`: what is true in the simulated shop and no maker can know. Never edit those files by hand.

What is in it: three Christmas seasons of twelve scents, one of them launched this year (Plum Lantern), one that never
sells (Bog Myrtle Rain), two that were sold out for weeks in a season because their oil could not be had (Clove Ferry
2024, Quince Ember 2025); a gift set; two web-shop exports that overlap in August and September 2025; refunds, free
bottles, write-offs, names the till spells otherwise, things nobody knows, rows nobody can read; counts that are not
always right; thirty runs of which one was spilled and the last eight drift; an oil without its certificate.
"""

import io
import json
import sys
from pathlib import Path

import example_facts as facts
import numpy as np
import pandas as pd
from example_bench import (
    DRIFTING_RUNS,
    FIXED_G,
    MINUTES_PER_BOTTLE,
    RUNS_WRITTEN,
    SETUP_MINUTES,
    SHARE,
    Bench,
    bench_records,
    formula_parts,
)
from example_sales import NEW_SHOP_FROM, NOTHING, OLD_SHOP_UNTIL, sales_files
from example_settings import SHOP
from example_supply import Shop, run_shop
from example_wants import (
    ITEMS,
    LAST_POSTING,
    LAUNCHED,
    MOTHERS_DAY,
    TODAY,
    TRUTH,
    Wants,
    customer_demand,
    market_weekends,
)

SEED = 20260928
MISCOUNTED = 0.01  # share of the usual counts that are one bottle off
LONG_SPELL = 7  # days sold out in a row that the truth lists


def make_example(folder: Path) -> None:
    """Write the example folder and, beside it, its truth."""
    rng = np.random.default_rng(SEED)
    scents = pd.read_csv(io.StringIO(facts.SCENTS))
    wants = customer_demand(rng)
    shop = run_shop(wants, scents, rng)
    sales = sales_files(shop, dict(zip(scents["scent"], scents["price"], strict=True)), rng)
    bench = bench_records(shop.runs, scents, rng)
    tables = {
        "stock": _stock(shop, wants.days, rng),
        "moves": pd.DataFrame(shop.moves, columns=["date", "scent", "bottles", "why"]),
        "calendar": _calendar(),
        "formulas": _formulas(),
        "packing": _packing(scents),
        "feedback": _feedback(bench.runs),
        **bench._asdict(),
    }
    (folder / "sales").mkdir(parents=True, exist_ok=True)
    for name, text in {**_texts(), **{f"sales/{name}": text for name, text in sales.files.items()}}.items():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
    for name, table in tables.items():
        table.to_csv(folder / f"{name}.csv", index=False, lineterminator="\n", date_format="%Y-%m-%d")
    wanted = _wanted_by_week(wants)
    wanted.to_csv(folder.parent / "example_wanted.csv", lineterminator="\n", date_format="%Y-%m-%d")
    truth = json.dumps(_truth(wants, shop, sales.lines, bench, wanted), indent=1)
    (folder.parent / "example_truth.json").write_text(truth + "\n", encoding="utf-8", newline="\n")


def _texts() -> dict[str, str]:
    """Files that do not come from chance, by name."""
    names = (
        "scents",
        "sets",
        "materials",
        "packs",
        "constituents",
        "limits",
        "wishes",
        "orders",
        "trials",
        "overrides",
    )
    texts = {f"{name}.csv": getattr(facts, name.upper()) for name in names}
    return {"shop.toml": SHOP, "material_lots.csv": facts.LOTS, **texts}


def _stock(shop: Shop, days: pd.DatetimeIndex, rng: np.random.Generator) -> pd.DataFrame:
    """Count at the end of a day: monthly, weekly before Christmas, and a scent whose batch is not in runs.csv."""
    written = {(run.ready_on - pd.Timedelta(days=1), run.scent) for run in shop.runs[-RUNS_WRITTEN:]}
    counts = {}
    for day, shelf in zip([*days, TODAY], [*shop.shelf, shop.stock], strict=True):
        if day in (days[0], TODAY) or (day.weekday() == 0 and (day.day <= 7 or f"{day:%m%d}" > "1014")):
            for scent, bottles in shelf.items():
                if day >= pd.Timestamp(LAUNCHED.get(scent, days[0])):
                    off = rng.choice([-1, 1]) if bottles > 5 and rng.random() < MISCOUNTED else 0
                    counts[day, scent] = bottles + int(off)
    counts |= {(day, scent): bottles for day, scent, bottles in shop.shelved if (day, scent) not in written}
    rows = [(day, scent, bottles) for (day, scent), bottles in sorted(counts.items())]
    return pd.DataFrame(rows, columns=["date", "scent", "on_hand"])


def _calendar() -> pd.DataFrame:
    """Market weekends until mid December, the weeks that the shop is closed, sales in the web shop, Mother's Day."""
    markets = [day for day in market_weekends() if day[0] >= pd.Timestamp("2023-09-01")]
    rows = [
        (first, "Harbour market" if first.day <= 7 else "Castle yard market", "market", last, "market", "")
        for first, last in markets
    ]
    for year, posting in LAST_POSTING.items():
        friday = pd.Timestamp(year, 11, 1) + pd.offsets.WeekOfMonth(week=3, weekday=3) + pd.Timedelta(days=1)
        note = "15 % off in the web shop"
        rows.append((friday, "Black Friday", "promotion", friday + pd.Timedelta(days=3), "web", note))
        rows.append((pd.Timestamp(posting), "Last posting day", "holiday", None, "web", "for parcels within Ireland"))
    rows += [(pd.Timestamp(day), "Mother's Day", "holiday", None, "", "") for day in MOTHERS_DAY.values()]
    closed = [(pd.Timestamp(year, 1, 2), pd.Timestamp(year, 1, 8)) for year in MOTHERS_DAY]
    rows += [(first, "New Year break", "closed", last, "", "web shop paused") for first, last in closed]
    table = pd.DataFrame(rows, columns=["first_day", "what", "kind", "last_day", "channel", "note"])
    return table.sort_values(["first_day", "what"], kind="stable")


def _formulas() -> pd.DataFrame:
    rows = [(name, *part) for name in facts.LOADS for part in formula_parts(name).items()]
    return pd.DataFrame(rows, columns=["formula", "material", "weight_pct"])


def _packing(scents: pd.DataFrame) -> pd.DataFrame:
    """Everything that goes with a bottle but the bottle itself, and with the gift set."""
    flowers = {"Saltmarsh Rose": ("Dried rose petals", 0.15, "g", 0.2), "Larkmilk": ("Dried larkspur", 0.08, "g", 0.1)}
    rows = []
    for scent, label_ml in zip(scents["scent"], scents["label_ml"], strict=True):
        rows.append((scent, "Roller ball", 1, "pieces", 0.6 if label_ml == 10 else 0.5))
        rows += [(scent, *flowers[scent])] if scent in flowers else []
        rows += [(scent, material, 1, "pieces", None) for material in ("Cap", "Label", "Box")]
    rows.append((facts.SET, "Trio box", 1, "pieces", None))
    return pd.DataFrame(rows, columns=["what", "material", "per_bottle", "unit", "displaced_ml"])


def _feedback(runs: pd.DataFrame) -> pd.DataFrame:
    said = (
        (4, "praise", "asked for the name of the scent at the market"),
        (9, "complaint", "ball came out of the bottle in the post"),
        (17, "skin reaction", "redness at the wrist for a day; told to stop using it, lot noted"),
        (21, "praise", "third bottle this year"),
    )
    rows = [(runs["date"][n] + pd.Timedelta(days=30), runs["lot"][n], runs["scent"][n], *what) for n, *what in said]
    return pd.DataFrame(rows, columns=["date", "lot", "scent", "kind", "note"])


def _wanted_by_week(wants: Wants) -> pd.DataFrame:
    """Bottles that customers wanted, by week and scent, sold or not, sets opened; stockists are not in it."""
    wanted = pd.DataFrame(wants.wanted.sum(axis=2), index=wants.days, columns=list(ITEMS))
    sets = wanted.pop(facts.SET)
    for scent in facts.SET_HOLDS:
        wanted[scent] += sets
    monday = wants.days - pd.to_timedelta(wants.days.day_of_week, unit="D")
    return wanted.groupby(monday.rename("week")).sum()


def _truth(wants: Wants, shop: Shop, lines: pd.DataFrame, bench: Bench, wanted: pd.DataFrame) -> dict:
    """Return what is true in this invented shop."""
    expected = dict(wants.season_2026)
    sets = expected.pop(facts.SET)
    for scent in facts.SET_HOLDS:
        expected[scent] = round(expected[scent] + sets, 1)
    pace = {
        item: dict(zip(("pace", "growth", "christmas", "valentine", "mother"), row, strict=True))
        for item, row in TRUTH.items()
    }
    overlap = lines[(lines["channel"] == "web") & lines["day"].between(NEW_SHOP_FROM, OLD_SHOP_UNTIL)]
    return {
        "note": "Invented shop. True in the simulation that made data/example; written by data/make_example.py.",
        "scents": pace,
        "launched": LAUNCHED,
        "season_2026_mean": expected,
        "wanted_in_season": {str(year): _season(wanted, year) for year in (2023, 2024, 2025)},
        "sold_out": _spells(shop, wants.days),
        "bottles": _bottles_by_kind(lines),
        "on_hand_today": shop.stock,
        "overlapping_web_lines": len(overlap),
        "spilled_lot": bench.runs.loc[bench.runs["note"] != "", "lot"].item(),
        "drift_from_lot": bench.runs["lot"].iloc[-DRIFTING_RUNS],
        "loss": {"fixed_g": FIXED_G, "share": SHARE},
        "minutes": {"setup": SETUP_MINUTES, "per_bottle": MINUTES_PER_BOTTLE},
    }


def _season(wanted: pd.DataFrame, year: int) -> dict[str, int]:
    """Bottles wanted in the nine whole weeks from the Monday after 14 October."""
    first = pd.Timestamp(year, 10, 15) + pd.offsets.Week(weekday=0)
    return {scent: int(n) for scent, n in wanted.loc[first : first + pd.Timedelta(weeks=8)].sum().items()}


def _spells(shop: Shop, days: pd.DatetimeIndex) -> list[dict]:
    """Days in a row that ended with nothing on the shelf."""
    shelf = pd.DataFrame(shop.shelf, index=days)
    spells = []
    for scent in shelf:
        empty = (shelf[scent] == 0) & (days >= pd.Timestamp(LAUNCHED.get(scent, days[0])))
        for _, spell in empty[empty].groupby((empty != empty.shift()).cumsum()[empty]):
            if len(spell) >= LONG_SPELL:
                first, last = spell.index[[0, -1]]
                spells.append({"scent": scent, "first_day": str(first.date()), "last_day": str(last.date())})
    return spells


def _bottles_by_kind(lines: pd.DataFrame) -> dict[str, dict[str, int]]:
    """Bottles of each scent by kind of line as the files hold them once, sets opened."""
    lines = lines[lines["kind"] != NOTHING]
    opened = lines[lines["item"] == facts.SET]
    parts = [lines[lines["item"] != facts.SET]] + [opened.assign(item=scent) for scent in facts.SET_HOLDS]
    table = pd.concat(parts).pivot_table(index="item", columns="kind", values="bottles", aggfunc="sum", fill_value=0)
    return {kind: {scent: int(n) for scent, n in table[kind].items() if n} for kind in table}


if __name__ == "__main__":
    make_example(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "example")
