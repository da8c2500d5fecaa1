"""What was on the shelf and how that is known, in sentences."""

import pandas as pd

from planner.sentences.wording import names, number
from planner.settings import Settings
from planner.wanted import INFERRED, sold_out_weeks


def say_hidden(demand: pd.DataFrame, settings: Settings) -> str:
    """Say which scents were sold out for whole weeks, what is counted and what inferred apart, and how to switch it."""
    crowd = demand[demand["channel"] == "all"]
    weeks, inferred = crowd[sold_out_weeks(crowd)], crowd["known"] == INFERRED
    sure, guessed = (_weeks(weeks[part]) for part in (~inferred[weeks.index], inferred[weeks.index]))
    said = []
    if sure:
        said.append(f"Sold out for whole weeks, by counts, batches and sales: {sure}.")
    if guessed:
        said.append(f"Probably sold out for whole weeks, inferred from days without a sale: {guessed}.")
    if not said:
        said.append("No scent was sold out for a whole week.")
    if (inferred & (crowd["shelf_days"] < crowd["open_days"])).any():
        said.append(
            f"Uncounted days without a sale are taken for sold out where the chance of that is at least "
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
    said = f"Of {number(len(off), 'count')} {agreed:,} agreed with stock rolled forward from the count before"
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
    return f"{said}; in the others {' and '.join(found)}. Each starts again from its count."
