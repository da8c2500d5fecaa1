"""Places in the ranking that say no more than is known, and the classes of a share of the whole."""

import numpy as np
import pandas as pd

# Scents that bring the first 80 % are A, those up to 95 % B, the rest C: common practice, no source.
CLASS_A, CLASS_B = 0.80, 0.95


def places(faster: np.ndarray, level: float) -> tuple[np.ndarray, np.ndarray]:
    """Return the first and the last place that each scent may hold, for scents in order of pace.

    `faster[i, j]`: chance that scent i is faster than scent j. Two scents are told apart when that chance is at least
    `level`. A scent's places reach from that of the first to that of the last scent it cannot be told apart from, so
    two scents whose places have nothing in common are surely different, and those that are not share a place.
    """
    if not len(faster):
        return np.array([], dtype=int), np.array([], dtype=int)
    apart = np.maximum(faster, faster.T) >= level
    alike = ~apart | np.eye(len(faster), dtype=bool)
    first = alike.argmax(axis=1)
    last = len(faster) - 1 - alike[:, ::-1].argmax(axis=1)
    return first + 1, last + 1


def abc_classes(amount: pd.Series) -> pd.Series:
    """Return class A, B or C of each amount by what those larger than it already bring; NA where it is not known.

    The one that crosses a border still belongs to the class before it, so there is always an A.
    """
    known = amount.clip(lower=0).dropna().sort_values(ascending=False, kind="stable")
    before = (known.cumsum() - known) / max(known.sum(), 1e-300)
    named = pd.Series(np.select([before < CLASS_A - 1e-9, before < CLASS_B - 1e-9], ["A", "B"], "C"), index=known.index)
    return named.reindex(amount.index).astype("str")
