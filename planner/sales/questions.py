"""What a file says of lines that take a sale back, where shop.toml does not: asked, or said what was taken for it."""

import pandas as pd

from planner.problems import Problem
from planner.sales.back import CANCELLED, is_cancelled
from planner.sales.distinct import lines_of_each
from planner.sales.names import counted, folded_name, quoted, shown
from planner.settings import Export
from planner.tables import listed

MOST_SHOWN = 4  # words or orders in a sentence


def refund_words(status: pd.Series) -> list[str]:
    """Return the texts of a status column that say that the line is no sale any more, the most frequent first.

    status: category of text.
    """
    return [text for text in lines_of_each(status) if folded_name(text) in CANCELLED]


def status_line(words: list[str]) -> str:
    """Return the line to paste that states which words of a status take the line back."""
    return f"refund_status = [{', '.join(map(quoted, words))}]"


def status_notes(name: str, lines: pd.DataFrame, export: Export) -> list[Problem]:
    """Say which words of a status column are taken for a sale that is none any more, where shop.toml does not say.

    lines: the columns of the file as text.
    """
    words = refund_words(lines["status"]) if not export.refund_status else []
    if not words:
        return []
    counts = lines_of_each(lines["status"])
    said = listed([f"{word} ({counts[word]:,})" for word in words][:MOST_SHOWN])
    what = f"lines with the status {said} are read as cancelled or paid back."
    todo = f"To state it, write {status_line(words)} under its [[export]] in shop.toml."
    return [Problem(name, 0, export.columns.get("status", ""), what, todo, stops=False)]


def columns_in_words(export: Export, status: pd.Series) -> str:
    """Say which heading is what, and with a status column which words count as sales and which do not."""
    said = [f"{name}: {heading}" for name, heading in export.columns.items()]
    if "status" in export.columns:
        counts, is_back = lines_of_each(status), is_cancelled(export)
        kinds: dict[bool, list[str]] = {False: [], True: []}
        for word, count in counts.items():
            kinds[is_back(word)].append(f"{shown(word) or 'blank'} {count:,}")
        good, back = (
            ", ".join(words[:MOST_SHOWN]) + (" and more" if words[MOST_SHOWN:] else "") for words in kinds.values()
        )
        said[-1] += f" ({'; '.join([f'counts: {good}'] * bool(good) + [f'taken back: {back}'] * bool(back))})"
    return "; ".join(said)


def prefix_problem(name: str, row: int, export: Export, prefix: str, orders: list[str]) -> Problem:
    """Ask whether orders that are called like another with letters in front pay that other back."""
    what = f"{counted(len(orders), 'order number')} with {prefix} in front of another order's, like {orders[0]}, "
    what += "counted as sales."
    todo = f"If they pay back the other, write refund_orders = {quoted(prefix)} under its [[export]] in shop.toml."
    return Problem(name, row, export.columns.get("order", ""), what, todo)


def refund_prefixes(orders: pd.Index) -> dict[str, list[str]]:
    """Return the letters that stand before some orders that without them are orders too, and those orders.

    >>> refund_prefixes(pd.Index(["1001", "1002", "R1001", "W7"]))
    {'R': ['R1001']}
    """
    parts = [
        (text[:cut], text[cut:], text)
        for text in orders.to_numpy(dtype=object)
        if text[:1].isalpha() and len(text) <= LONGEST_ORDER
        for cut in range(1, min(LONGEST_PREFIX, len(text)))
        if not text[:cut].strip("-_ #").isdigit() and text[cut].isalnum() and not text[:cut][-1].isdigit()
    ]
    known = set(orders[orders.isin({rest for _, rest, _ in parts})]) if parts else set()
    found: dict[str, list[str]] = {}
    for prefix, rest, text in parts:
        if rest in known:
            found.setdefault(prefix, []).append(text)
    return found


LONGEST_ORDER, LONGEST_PREFIX = 40, 10  # characters
