"""Weeks partly on the shelf: which days those were, as far as the weeks around them tell, and what they were worth."""

from dataclasses import replace

import numpy as np

from planner.season.history import History


def weigh_days(history: History, known: np.ndarray, demand: np.ndarray) -> History:
    """Return the history with each part of a week on the shelf as its share of the week's demand.

    `demand` is what each day (week, 7) is worth, `known` what it counted when the part was measured: all days the same,
    or market days more. What that did not count is the season inside the week, above all the end of posting.

    A scent that is out in the week after went out in this one: its days were the first. One that was out all the week
    before came back: its days were the last. Where neither or both hold nothing is known, and the share of days stays.
    """
    days = history.on_shelf
    part = (days > 0) & (days < 1)
    before, after = np.zeros_like(part), np.zeros_like(part)
    out = _out(history)
    before[:, 1:], after[:, :-1] = out[:, :-1] & (days[:, :-1] == 0), out[:, 1:]
    clock, demand = _running(known), _running(demand)
    scent, week = np.nonzero(part & (before != after))
    first = after[scent, week]
    share = days[scent, week]
    gone = np.where(first, share, 1 - share)  # of the open days, up to the stop or up to the return
    worth = _read(gone, clock[week], demand[week])
    on_shelf = days.copy()
    on_shelf[scent, week] = np.clip(np.where(first, worth, 1 - worth), 1e-3, 1.0)
    return replace(history, on_shelf=on_shelf)


def _out(history: History) -> np.ndarray:
    """Return weeks in which a scent that was for sale was not on the shelf all the time."""
    seen = history.on_shelf > 0
    alive = np.logical_or.accumulate(seen, axis=1) & np.logical_or.accumulate(seen[:, ::-1], axis=1)[:, ::-1]
    return alive & (history.on_shelf < 1) & ~history.giants


def _running(days: np.ndarray) -> np.ndarray:
    """Return the running sum of each week's days as a share of the week, shape (week, 8), from 0 to 1."""
    total = np.maximum(days.sum(axis=1, keepdims=True), 1e-300)
    return np.hstack([np.zeros((len(days), 1)), np.cumsum(days, axis=1) / total])


def _read(at: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return y at `at` on the straight lines through the points (x, y) of each row."""
    step = np.diff(x, axis=1)
    passed = np.clip((at[:, None] - x[:, :-1]) / np.where(step > 0, step, 1.0), 0.0, 1.0)
    return (passed * np.diff(y, axis=1) * (step > 0)).sum(axis=1)
