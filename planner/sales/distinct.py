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
