"""What a file says of lines that take a sale back, where shop.toml does not: asked, or said what was taken for it."""

import re

import pandas as pd

from planner.problems import Problem
from planner.sales.back import CANCELLED
from planner.sales.names import counted, folded_name, quoted
from planner.settings import Export
from planner.tables import listed

MOST_SHOWN = 4  # words or orders in a sentence


def refund_words(status: pd.Series) -> list[str]:
    """Return the texts of a status column that say that the line is no sale any more, the most frequent first.

    status: category of text.
    """
    counts = status.value_counts()
    return [text.strip() for text, count in counts.items() if count and folded_name(text) in CANCELLED]


def status_line(words: list[str]) -> str:
    """Return the line to paste that states which words of a status take the line back."""
    return f"refund_status = [{', '.join(map(quoted, dict.fromkeys(words)))}]"


def questions(name: str, lines: pd.DataFrame, export: Export) -> list[Problem]:
    """Return what is to be said or asked about lines that take sales back.

    lines: the columns of the file as text, and `bottles` as read.
    """
    found = []
    words = refund_words(lines["status"]) if not export.refund_status else []
    if words:
        counts = lines["status"].str.strip().value_counts()
        said = listed([f"{word} ({counts[word]:,})" for word in dict.fromkeys(words)][:MOST_SHOWN])
        what = f"lines with the status {said} are read as cancelled or paid back."
        todo = f"To state it, write {status_line(words)} under its [[export]] in shop.toml."
        found.append(Problem(name, 0, export.columns.get("status", ""), what, todo, stops=False))
    prefix = "" if export.refund_orders else _prefix(lines["order"])
    if prefix:
        pairs = [order for order in lines["order"].cat.categories if order.startswith(prefix)]
        what = f"{counted(len(pairs), 'order number')} with {prefix} in front of another order's, like {pairs[0]}, "
        what += "counted as sales."
        todo = f"If they pay back the other, write refund_orders = {quoted(prefix)} under its [[export]] in shop.toml."
        found.append(Problem(name, 0, export.columns.get("order", ""), what, todo))
    return found


def _prefix(order: pd.Series) -> str:
    """Return the letters that stand before some order numbers which without them are orders of the file too."""
    known = set(order.cat.categories)
    found: dict[str, int] = {}
    for text in known:
        parts = re.fullmatch(r"([A-Za-z]{1,6}[-_ ]?)([0-9]+)", text.strip())
        if parts and parts[2] in known:
            found[parts[1]] = found.get(parts[1], 0) + 1
    return max(found, key=lambda prefix: found[prefix], default="")
