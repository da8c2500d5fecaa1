"""Where nobody wrote down what was on the shelf: weeks without a sale that are hard to believe were sold out."""

from dataclasses import replace

import numpy as np

from planner.season.history import History

UNBELIEVABLE = 0.01  # empty weeks in a row that had a smaller chance than this on the shelf were sold out


def stock_unknown(history: History) -> bool:
    """Return whether every week of every scent, but its first, counts as whole: then nobody kept records."""
    later = np.cumsum(history.on_shelf > 0, axis=1) > 1
    return not (later & (history.on_shelf < 1)).any()


def hide_sold_out(history: History, rate: np.ndarray, size: np.ndarray) -> History:
    """Return the history with unbelievable runs of empty weeks as unknown, and what the week before each still tells.

    `rate` is the log of the bottles a week expected, `size` how uneven weeks are. In the week before a run it ran out,
    nobody knows on which day: it counts as on the shelf for as long as its sales take at the expected rate, so that it
    tells something only where it sold more than expected.
    """
    mean = np.exp(rate)
    empty = (history.bottles == 0) & (history.on_shelf > 0)
    log_chance = np.where(empty, -size[:, None] * np.log1p(mean / size[:, None]), 0.0)
    on_shelf = history.on_shelf.copy()
    for scent in np.nonzero(empty.any(axis=1))[0]:
        edges = np.flatnonzero(np.diff(np.concatenate([[0], empty[scent].astype(int), [0]])))
        for begin, end in edges.reshape(-1, 2):
            if log_chance[scent, begin:end].sum() < np.log(UNBELIEVABLE):
                on_shelf[scent, begin:end] = 0.0
                if begin > 0:
                    ran_out = min(history.bottles[scent, begin - 1] / mean[scent, begin - 1], 1.0)
                    on_shelf[scent, begin - 1] *= ran_out
    return replace(history, on_shelf=on_shelf)
