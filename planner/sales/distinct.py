"""A question about text is asked once for each distinct text, however many lines have it."""

from collections.abc import Callable

import numpy as np
import pandas as pd


def by_text(column: pd.Series, holds: Callable[[str], bool]) -> pd.Series:
    """Say for each line whether something holds of its text, without the blanks around it.

    column: category of text.
    """
    answers = np.array([holds(text.strip()) for text in column.cat.categories.tolist()], dtype="bool")
    return pd.Series(answers[column.cat.codes], index=column.index)


def lines_of_each(column: pd.Series) -> dict[str, int]:
    """Return how many lines have each text, without the blanks around it, the most frequent first.

    column: category of text.
    """
    counts: dict[str, int] = {}
    for text, count in zip(column.cat.categories, np.bincount(column.cat.codes), strict=False):
        counts[text.strip()] = counts.get(text.strip(), 0) + int(count)
    return {text: counts[text] for text in sorted(counts, key=lambda text: -counts[text]) if counts[text]}
