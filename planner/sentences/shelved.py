"""What was on the shelf and how that is known, in sentences."""

import pandas as pd

from planner.sentences.wording import names, number
from planner.settings import Settings
from planner.wanted import INFERRED, doubtful_weeks, sold_out_weeks


def say_hidden(demand: pd.DataFrame, settings: Settings, differences: pd.DataFrame) -> str:
    """Say which scents were sold out for whole weeks: by counts, doubted by a later count, and inferred.

    `differences` are those of counts with stock rolled forward to them (see planner.shelf).
    """
    crowd = demand[demand["channel"] == "all"]
    weeks = crowd[sold_out_weeks(crowd)]
    guessed, doubtful = weeks["known"] == INFERRED, doubtful_weeks(weeks, differences)
    groups = {
        "Sold out for whole weeks, by counts, batches and sales": ~guessed & ~doubtful,
        "Perhaps sold out for whole weeks, but the next count found more than there should be, so a batch or return is "
        "not written down": doubtful,
        "Probably sold out for whole weeks, inferred from days without a sale": guessed & ~doubtful,
    }
    said = [f"{what}: {_weeks(weeks[part])}." for what, part in groups.items() if part.any()]
    said = said or ["No scent was sold out for a whole week."]
    some = crowd[(crowd["known"] == INFERRED) & (crowd["shelf_days"] < crowd["open_days"])]
    if (~doubtful_weeks(some, differences)).any():
        said.append(
            "Uncounted days without a sale are taken for sold out where the chance of that is at least "
            f"{settings.shelf.sold_out_chance:.0%} (`sold_out_chance` in shop.toml under `[shelf]`; `infer = false` "
            "there switches it off)."
        )
    if len(weeks):
        said.append("What was wanted in weeks sold out is unknown, and is not taken for nothing.")
    return " ".join(said)


def _weeks(weeks: pd.DataFrame) -> str:
    """Names of scents with how many weeks each, most first."""
    worst = weeks.groupby("scent").size().sort_values(ascending=False, kind="stable")
    return names([f"{scent} ({number(count, 'week')})" for scent, count in worst.items()])


def say_counts(differences: pd.DataFrame) -> str:
    """Say how far stock counts were off what was rolled forward to them."""
    if differences.empty:
        return "No scent was counted twice, so nothing tells whether sales, batches and counts agree."
    off = differences["difference"]
    agreed, short, over = (off == 0).sum(), off[off < 0].abs().sum(), off[off > 0].sum()
    some = "Each" if agreed == len(off) else f"{agreed:,}" if agreed else "None"
    compared = f"{some} of {len(off):,} counts" if len(off) > 1 else "The only count to compare"
    agrees = "agreed" if agreed or len(off) > 1 else "did not agree"
    said = f"{compared} {agrees} with stock rolled forward from the count before"
    parts = {
        "missing (breakages, testers, sales not written down)": short,
        "too many (batches or returns not written down)": over,
    }
    found = [
        f"{number(some, 'bottle')} {'was' if round(some) == 1 else 'were'} {what}"
        for what, some in parts.items()
        if some
    ]
    if not found:
        return f"{said}."
    return f"{said}; in {'the others' if agreed else 'these'} {' and '.join(found)}. Each starts again from its count."
