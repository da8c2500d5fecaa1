"""Which channels have which scents: as the maker says in scents.csv, and else as the sales of each say."""

import difflib
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.settings import Settings
from planner.shelf.contradictions import sheet_rows
from planner.shelf.selling_time import is_stray
from planner.shelf.totals import sold_by_channel

HAS_IT = 0.97  # chance beforehand that a channel has a scent the shop sells elsewhere; judgement
TASTES = 2  # shape of the gamma spread of how well a scent sells in one channel, against all scents; judgement
STRAYS, MOST_STRAYS = (
    0.02,
    3.0,
)  # bottles of a scent in a channel that does not have it, a share of the others; judgement
SURE = 0.1  # chances this near to no and yes are taken for them


class Outlets(NamedTuple):
    """Chance that a channel (across) has a scent (down); 0 or 1 where it is stated."""

    has: np.ndarray
    problems: list[Problem]


def outlets(
    sales: pd.DataFrame, scents: pd.DataFrame, live: np.ndarray, opened: pd.DataFrame, settings: Settings
) -> Outlets:
    """Return which channels have which scents.

    Stated ones are in column `channels` of scents.csv; one that sold more than a stray few elsewhere is in that channel
    too. Where none is stated, a channel may be without a scent where it sold far less of it than all other scents sell
    there in that time, by the scent's sales in the other channels. The chance moves with each bottle. What is sold to
    order is no shelf, and may have any scent. `live` says on which days (down) each scent (across) was for sale.
    """
    channels = list(opened.columns)
    crowd = np.array([settings.channel(name).open != "to order" for name in channels])
    sold = _sold(sales, scents, channels)
    has, problems = np.ones(sold.shape), []
    if crowd.sum() > 1 and sold[:, crowd].sum() > 0:
        everything = sold_by_channel(sales[sales["kind"] == "sale"], settings, opened).to_numpy()
        has[:, crowd] = _chance(sold[:, crowd], _others(sold, everything, live)[:, crowd])
    stated = scents["channels"] if "channels" in scents else pd.Series(None, index=scents.index, dtype="str")
    rows = sheet_rows(scents)
    for place in np.flatnonzero(stated.notna()):
        scent, row = str(scents["scent"].iloc[place]), int(rows.iloc[place])
        named, unknown = _read(str(stated.iloc[place]), channels)
        problems += [_unknown(name, row, channels) for name in unknown]
        if not named:
            continue
        has[place] = [float(name in named) for name in channels]
        for at in np.flatnonzero((has[place] == 0) & crowd & (sold[place] > 0)):
            stray = is_stray(sold[place, at], sold[place].sum())
            problems.append(_elsewhere(scent, row, channels[at], sold[place, at], stray))
            has[place, at] = 0.0 if stray else 1.0
    return Outlets(has, problems)


def _sold(sales: pd.DataFrame, scents: pd.DataFrame, channels: list[str]) -> np.ndarray:
    sold = sales[sales["kind"] == "sale"].groupby(["scent", "channel"], observed=True)["bottles"].sum().unstack()
    return sold.reindex(index=list(scents["scent"]), columns=channels).astype("float64").fillna(0.0).to_numpy()


def _others(sold: np.ndarray, everything: np.ndarray, live: np.ndarray) -> np.ndarray:
    """Bottles of the other scents by scent and channel while that scent was for sale."""
    total = np.concatenate([np.zeros((1, everything.shape[1])), np.cumsum(everything, axis=0)])
    some = live.any(axis=0)
    first = np.where(some, live.argmax(axis=0), 0)
    last = np.where(some, len(live) - live[::-1].argmax(axis=0), 0)
    return np.maximum(total[last] - total[first] - sold, 0.0)


def _chance(sold: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Chance that each channel has each scent, from bottles of it and of all others, by scent and channel.

    Where it has it, sales are as those of the others there, times a taste (negative binomial); where not, a stray few.
    """
    elsewhere = sold.sum(axis=1, keepdims=True) - sold
    usual = others / np.maximum(others.sum(axis=1, keepdims=True) - others, 1e-9)
    expected = np.minimum(elsewhere * usual, 1e9)
    told = (others.sum(axis=1, keepdims=True) - others > 0) & (expected > sold)
    expected = np.where(told, expected, 1.0)
    there = _log_negative_binomial(sold, expected, TASTES) + np.log(HAS_IT)
    strays = np.clip(STRAYS * elsewhere, 1e-6, MOST_STRAYS)
    not_there = _log_negative_binomial(sold, strays, 1) + np.log(1 - HAS_IT)
    chance = 1 / (1 + np.exp(np.clip(not_there - there, -700, 700)))
    chance = np.where(chance < SURE, 0.0, np.where(chance > 1 - SURE, 1.0, chance))
    return np.where(told, chance, 1.0)


def _log_negative_binomial(y: np.ndarray, mean: np.ndarray, shape: int) -> np.ndarray:
    """Log chance of y at a mean, for a shape of 1 or 2: there the ways to place y are 1 and y + 1."""
    ways = (shape - 1) * np.log(y + 1)
    return np.asarray(ways + shape * np.log(shape / (shape + mean)) + y * np.log(mean / (shape + mean)))


def _read(text: str, channels: list[str]) -> tuple[list[str], list[str]]:
    """Return the channels named in a cell, and what is in it that is none."""
    known = {name.casefold(): name for name in channels}
    words = [word.strip() for word in text.split(";") if word.strip()]
    return [known[word.casefold()] for word in words if word.casefold() in known], [
        word for word in words if word.casefold() not in known
    ]


def _unknown(name: str, row: int, channels: list[str]) -> Problem:
    near = difflib.get_close_matches(name, channels, 1)
    todo = f"Did you mean {near[0]}?" if near else f"Known are {', '.join(channels)}."
    return Problem("scents.csv", row, "channels", f"'{name}' is no channel in shop.toml.", todo)


def _elsewhere(scent: str, row: int, channel: str, bottles: float, stray: bool) -> Problem:
    several = "" if bottles == 1 else "s"
    what = f"{scent}: {bottles:,.0f} bottle{several} sold in {channel}, which is not among its channels."
    kept = f"It counts as for sale there; add {channel} or put the sales right."
    todo = "So few change nothing." if stray else kept
    return Problem("scents.csv", row, "channels", what, todo, stops=False)
