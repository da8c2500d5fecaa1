"""The forecast by channel, where the maker asks for it: the same sample paths split, and orders of stockists drawn."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.tables import Paths

WEEKS = 104  # the latest two years: how a shop sells moves from markets to the web within a few
SCENT_WEIGHT = 20.0  # bottles as which the shop's own split counts when a scent's is learned
MOST_ALIKE = 1000.0  # concentration of weekly splits where they differ no more than chance has it
ROUNDS = 200  # of scaling; each brings the rates nearer to the likeliest ones
DAY = np.timedelta64(1, "D")


class Split(NamedTuple):
    """How shoppers divide over the channels: bottles an open day draws, how alike weeks are, and each scent's lean.

    rates: by channel, adding up to 1. alike: concentration of the Dirichlet spread of weekly splits. lean: scents
    (rows) by channels: times the shop's split.
    """

    rates: pd.Series
    alike: float
    lean: pd.DataFrame


def learn_split(sold: pd.DataFrame, opened: pd.DataFrame) -> Split:
    """Return how shoppers divide over the channels, learned from the latest weeks.

    A channel's share of a week is its rate times its open days, among those of all channels: the likeliest rates are
    found by scaling in turn (the minorise-maximise rounds of Hunter, Annals of Statistics 32 (2004) [memory]).

    sold: sales of shoppers with day, scent, channel, bottles; opened: days (down) by channels (across), True if open.
    """
    sold = sold.assign(bottles=sold["bottles"].astype("float64"))
    week = _monday(opened.index)
    days = opened.groupby(week).sum().astype("float64").iloc[-WEEKS:]
    bottles = sold.pivot_table(index=_monday(sold["day"]), columns="channel", values="bottles", aggfunc="sum")
    bottles = bottles.reindex(index=days.index, columns=days.columns).fillna(0.0).where(days > 0, 0.0)
    rates = _rates(bottles.to_numpy(), days.to_numpy())
    share = _shares(rates, days.to_numpy())
    own = sold[_monday(sold["day"]).isin(days.index)]
    by_scent = own.groupby(["scent", "channel"])["bottles"].sum().unstack().reindex(columns=days.columns).fillna(0.0)
    usual = bottles.sum() / max(bottles.to_numpy().sum(), 1.0)
    expected = np.outer(by_scent.sum(axis=1), usual)
    prior = SCENT_WEIGHT * usual.to_numpy()
    lean = (by_scent + prior) / np.maximum(expected + prior, 1e-9)
    return Split(pd.Series(rates, index=days.columns), _how_alike(bottles.to_numpy(), share), lean)


def _monday(day: pd.Series | pd.DatetimeIndex) -> pd.Series | pd.DatetimeIndex:
    weekday = day.dt.day_of_week if isinstance(day, pd.Series) else day.day_of_week
    return day - pd.to_timedelta(weekday, unit="D")


def _rates(bottles: np.ndarray, days: np.ndarray) -> np.ndarray:
    rates = np.full(days.shape[1], 1.0 / days.shape[1])
    total = bottles.sum(axis=1, keepdims=True)
    for _ in range(ROUNDS):
        all_days = np.maximum((rates * days).sum(axis=1, keepdims=True), 1e-12)
        rates = (bottles.sum(axis=0) + 0.5) / np.maximum((total * days / all_days).sum(axis=0), 1e-9)
        rates /= rates.sum()
    return rates


def _shares(rates: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Return the share of each channel (across) in each week (down); a week with nothing open is split by the rates."""
    weight = np.where(days.sum(axis=1, keepdims=True) > 0, rates * days, rates)
    return weight / weight.sum(axis=1, keepdims=True)


def _how_alike(bottles: np.ndarray, share: np.ndarray) -> float:
    """Return the concentration of weekly splits, from how far they lie from their shares beyond chance."""
    total, free = bottles.sum(axis=1), (share > 0).sum(axis=1) - 1
    seen = (total > 1) & (free > 0)
    if not seen.any():
        return MOST_ALIKE
    off = ((bottles - total[:, None] * share) ** 2 / np.maximum(total[:, None] * share, 1e-9))[seen].sum()
    beyond = off / free[seen].sum() - 1.0  # 0 by chance alone, (n - 1) / (concentration + 1) beyond it
    mean = np.average(total[seen] - 1.0, weights=free[seen])
    return float(np.clip(mean / beyond - 1.0, 1.0, MOST_ALIKE)) if beyond > 0 else MOST_ALIKE


def split_channels(paths: Paths, split: Split, opened: pd.DataFrame, rng: np.random.Generator) -> list[Paths]:
    """Return the paths of each channel; added up they are the paths that were given, bottle by bottle.

    opened: days of the coming weeks (down) by channels (across), True if open.
    """
    days = opened.groupby(_monday(opened.index)).sum().reindex(paths.weeks).fillna(0).to_numpy(dtype="float64")
    share = _shares(split.rates.to_numpy(), days)
    count, scents, weeks = paths.bottles.shape
    drawn = np.maximum(rng.standard_gamma(np.broadcast_to(split.alike * share, (count, *share.shape))), 1e-12)
    lean = split.lean.reindex(list(paths.scents)).fillna(1.0).to_numpy()
    weight = (drawn * (share > 0))[:, None] * lean[None, :, None]
    left, left_weight = paths.bottles.astype("int64"), weight.sum(axis=3)
    made = []
    for at, name in enumerate(split.rates.index):
        chance = np.clip(weight[..., at] / np.maximum(left_weight, 1e-12), 0.0, 1.0)
        mine = left if at == len(split.rates) - 1 else rng.binomial(left, chance)
        made.append(Paths(mine.reshape(count, scents, weeks), paths.scents, paths.weeks, str(name)))
        left, left_weight = left - mine, left_weight - weight[..., at]
    return made


def orders_ahead(
    orders: pd.DataFrame, like: Paths, channel: str, since: pd.Timestamp, rng: np.random.Generator
) -> Paths:
    """Return paths of what stockists may order: whole past orders drawn again, as many as came in such a time.

    How often is a rate with a gamma spread (counts plus a half); when is any week alike: stockists keep no season that
    so few orders could tell.

    orders: sales of the channel with day, scent, bottles, order; like: paths whose scents, weeks and number it takes;
    since: the first day of sales known.
    """
    count, scents, weeks = like.bottles.shape
    made = np.zeros((count, scents, weeks), dtype="int64")
    known = orders[orders["scent"].isin(like.scents)].astype({"bottles": "float64"})
    name = known["order"].fillna(known["day"].astype("str"))
    sizes = known.groupby([name, "scent"])["bottles"].sum().unstack().reindex(columns=list(like.scents)).fillna(0)
    past = max((like.weeks[0] - since) / DAY / 7, 1.0) if weeks else 1.0
    if len(sizes):
        times = rng.poisson(rng.gamma(len(sizes) + 0.5, 1.0 / past, size=count) * weeks)
        path = np.repeat(np.arange(count), times)
        which, when = rng.integers(0, len(sizes), len(path)), rng.integers(0, weeks, len(path))
        np.add.at(made.transpose(0, 2, 1), (path, when), sizes.to_numpy(dtype="int64")[which])
    return Paths(made, like.scents, like.weeks, channel)
