"""What `planner check` says: what was read, what could not be, what is missing and what it would give."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from planner.files import Folder
from planner.problems import Problem
from planner.tables import FILES, listed

if TYPE_CHECKING:
    import pandas as pd

    from planner.sales import Books

PROBLEMS_SHOWN = 12  # what fits a screen; the sales page lists all
REASONS_SHOWN = 4
ABSENT_SHOWN = 5  # the rest is named in one line

# optional file: what it gives, said as the end of "With it, ..."
GIVES = {
    "stock": "days without stock are known, not guessed, and the plan knows what is on the shelf",
    "formulas": "the plan knows what oil a batch takes, and a batch can be weighed out",
    "materials": "costs, skin limits and bottle sizes are known",
    "packs": "the plan knows what things cost and what to buy by when",
    "packing": "bottles, fitments and labels are counted and bought too",
    "material_lots": "oil and bottles on hand are not bought again",
    "calendar": "markets, promotions and closed days are not taken for demand",
    "sets": "gift sets count as the scents inside them",
    "moves": "testers, breakages and stockists are not taken for sales",
    "runs": "losses, minutes and overage are learned from your own batches",
    "weighed": "the loss of each batch is known in grams",
    "fills": "it shows whether bottles are as full as their label says",
    "orders": "promised bottles are planned for",
    "wishes": "your own least and most batches are kept",
}


def formula_problems(shop: Folder) -> list[Problem]:
    """Return what is wrong with the formulas, and the scents that must not be made as they stand."""
    from planner.formula import blends
    from planner.weighout import refused_scents

    blend = blends(shop["formulas"], shop["materials"])
    names = ("scents", "formulas", "materials", "packing", "material_lots", "overrides")
    files = {name: shop[name] for name in names}
    refused = refused_scents(blends=blend.blends, settings=shop.settings, today=shop.today, **files)
    bad = [
        Problem("formulas.csv", 0, scent, "must not be made as it stands.", reason)
        for scent, reason in refused.itertuples(index=False)
        if not any(problem.column == scent for problem in blend.problems)
    ]
    return [*blend.problems, *bad]


def shelf_problems(shop: Folder, books: "Books") -> list[Problem]:
    """Return what in counts, batches, days and channels contradicts the sales."""
    from planner.by_month import read_week_totals
    from planner.shelf import shelf_days

    names = ("scents", "stock", "runs", "moves", "calendar")
    files = {name: shop[name] for name in names}
    told = read_week_totals(shop, books.sales)
    return [*told.problems, *shelf_days(told.sales, settings=told.settings, today=shop.today, **files).problems]


def check_text(shop: Folder, books: "Books", others: Sequence[Problem], odd: "pd.DataFrame") -> str:
    """Return everything `planner check` prints, a paragraph for each subject.

    `others` are the problems of other steps, `odd` is from plausible.look_over.
    """
    problems = [*shop.problems, *books.problems, *others]
    parts = [
        _heading(shop),
        _files(shop),
        _sales(shop, books),
        _odd(odd),
        _problems(problems),
        _absent(shop),
        _next(shop, problems),
    ]
    return "\n\n".join(part for part in parts if part)


def _heading(shop: Folder) -> str:
    note = f"\n{shop.settings.note}" if shop.settings.note else ""
    return f"{shop.settings.name}, as of {shop.today:%A} {shop.today.day} {shop.today:%B %Y}.{note}"


def _files(shop: Folder) -> str:
    read = [f"{name} ({len(shop[name]):,})" for name in FILES if name not in shop.absent]
    return f"Files read, with their rows: {listed(read)}."


def _sales(shop: Folder, books: "Books") -> str:
    if not shop.exports:
        return (
            "There are no sales files yet. Put an export of your shop into the folder sales, and say in shop.toml, "
            "under [[export]], which of its headings is the day, the item and the bottles."
        )
    how = books.readings[["written", "columns", "days", "numbers"]].itertuples(index=False, name=None)
    read = zip(books.accounts.to_dict("records"), how, strict=True)
    lines = [_account(account) + _reading(*reading) for account, reading in read]
    reasons = books.set_aside["reason"].value_counts()
    said = [f"  {count:,} × {reason}" for reason, count in reasons.head(REASONS_SHOWN).items()]
    left = len(reasons) - REASONS_SHOWN
    more = [f"  and {left} more {'reason' if left == 1 else 'reasons'}"] if left > 0 else []
    why = ["Lines set aside, and why:", *said, *more] if said else []
    sold, refunded = books.accounts["sold"].sum(), books.accounts["refunded"].sum()
    bottles = f"  In all {sold:,} bottles sold and {refunded:,} refunded."
    return "\n".join(["Sales:", *lines, bottles, *why])


def _account(account: dict[str, object]) -> str:
    first, last = account["first_day"], account["last_day"]
    days = f", {first:%Y-%m-%d} to {last:%Y-%m-%d}" if first == first and last == last and first is not None else ""
    return (
        f"  {account['file']}: {_lines(account['lines_read'])} read, {account['counted']:,} counted, "
        f"{account['merged']:,} already in another file, {account['set_aside']:,} set aside{days}"
    )


def _reading(written: str, columns: str, days: str, numbers: str) -> str:
    """Say how a file was read, and why so."""
    return f"\n    {written}; {columns}\n    days {days}; numbers with {numbers}" if written else ""


def _lines(count: object) -> str:
    return f"{count:,} line" if count == 1 else f"{count:,} lines"


def _odd(odd: "pd.DataFrame") -> str:
    if odd.empty:
        return ""
    said = [f"  {line.where}: {line.finding}" for line in odd.itertuples()]  # few by themselves
    return "\n".join(["Odd in the sales, and for you to judge:", *said])


def _problems(problems: Sequence[Problem]) -> str:
    if not problems:
        return "Nothing is wrong with what is there."
    ordered = [problem for problem in problems if problem.stops] + [
        problem for problem in problems if not problem.stops
    ]
    shown = [f"  {problem}" for problem in ordered[:PROBLEMS_SHOWN]]
    left = len(problems) - len(shown)
    more = [f"  and {left} more; the page 1-sales-check lists them all"] if left else []
    count = "One thing" if len(problems) == 1 else f"{len(problems)} things"
    return "\n".join([f"{count} to look at:", *shown, *more])


def _absent(shop: Folder) -> str:
    absent = [name for name in GIVES if name in shop.absent]
    if not absent:
        return ""
    lines = [f"  {name}.csv: {GIVES[name]}" for name in absent[:ABSENT_SHOWN]]
    more = [f"  and later {listed(absent[ABSENT_SHOWN:])}"] if absent[ABSENT_SHOWN:] else []
    return "\n".join(["Not there yet, and not needed; what each would give:", *lines, *more])


def _next(shop: Folder, problems: Sequence[Problem]) -> str:
    if any(problem.stops for problem in problems):
        return f"You can go on all the same; what could not be read is left out. Next: planner run {shop.path}"
    return f"Next: planner run {shop.path}" if shop.exports else ""
