"""What drove the forecast: how each scent departs from the shared season, the shop's level, what was not there."""

import numpy as np
import pandas as pd

from planner.season.design import SHAPES
from planner.season.draws import ALL_SCENTS, Season
from planner.season.hidden import expected_demand
from planner.season.history import known_rows, weeks_between
from planner.season.mode import mode_rate

MIDDLE_80 = 1.2816  # standard deviations to either side that hold eight chances in ten
HOLIDAY_SHAPES = {"Christmas": "peak", "Valentine's Day": "valentine", "Mother's Day": "mother"}  # as in design.SHAPES
YEAR_WEEKS = 52
NEAR_WEEKS = 13  # growth is told from a level that sales of the quarter of a year around it bear out


def scent_departures(model: Season) -> pd.DataFrame:
    """Return how each scent's holidays depart from the shop's: scent, what, factor, low, high.

    `factor` is how many times the shop's own lift at the height of the holiday the scent gets: 1 is as the shop, 1.5
    half as much again. low and high hold eight chances in ten; few sales keep a scent near 1. Only scents with a known
    week are named.
    """
    mode, sold = model.fit.mode, (model.history.on_shelf > 0).any(axis=1)
    names = np.array(model.scents, dtype=object)[sold]
    parts = []
    for what, shape in HOLIDAY_SHAPES.items():
        column = model.fit.weeks.slow.shape[1] + model.fit.weeks.years + SHAPES.index(shape)
        sd = np.sqrt(_variance(model, np.eye(mode.scent.shape[1])[column], np.zeros(len(mode.shared))))[sold]
        middle = mode.scent[sold, column]
        parts.append(_ranged(middle, sd).assign(scent=pd.Series(names, dtype="str"), what=what))
    table = pd.concat(parts, ignore_index=True).astype({"what": "str"})
    return table[["scent", "what", "factor", "low", "high"]]


def shop_level(model: Season) -> pd.DataFrame:
    """Return the level of all scents by week, freed of season and holidays: week, factor, low, high, known, bottles.

    `factor` is times today's level, low and high hold eight chances in ten. Trend and drift are in it, launches and
    scents that ended are not: it is the pace of a usual scent, not of the shop's total. `known` is of how many scents
    something is known in that week, `bottles` what they sold.
    """
    slow, mode = model.fit.weeks.slow, model.fit.mode
    apart = slow - np.eye(slow.shape[1])[0]
    cov = mode.shared_cov[: slow.shape[1], : slow.shape[1]]
    sd = np.sqrt(np.maximum(np.einsum("ti,ij,tj->t", apart, cov, apart), 0.0))
    table = _ranged(apart @ mode.shared[: slow.shape[1]], sd)
    history, seen = model.history, model.history.on_shelf > 0
    table.insert(0, "week", history.weeks.astype("datetime64[us]"))
    return table.assign(known=seen.sum(axis=0), bottles=np.where(seen, history.bottles, 0.0).sum(axis=0))


def yearly_growth(model: Season) -> pd.DataFrame:
    """Return growth over the last year by scent, the shop's first: scent, growth, low, high. [share a year]

    Trend and drift together, season and sold-out days taken out. Scents with less than a year of history are left out,
    and so is all where the history is shorter, or nothing is known of the weeks around a year ago.
    """
    history, mode, weeks = model.history, model.fit.mode, model.fit.weeks
    age = weeks_between(history.origin, history.weeks)
    back = np.flatnonzero(age >= YEAR_WEEKS)
    near = np.abs(age - YEAR_WEEKS) <= NEAR_WEEKS
    columns = ["scent", "growth", "low", "high"]
    if not len(back) or not (history.on_shelf[:, near] > 0).any():
        return pd.DataFrame({name: pd.Series(dtype="str" if name == "scent" else "float64") for name in columns})
    since = np.eye(weeks.slow.shape[1])[0] - weeks.slow[back[-1]]
    own, shared = np.zeros(mode.scent.shape[1]), np.zeros(len(mode.shared))
    own[: len(since)] = shared[: len(since)] = since
    old = (history.on_shelf[:, : back[-1] + 1] > 0).any(axis=1)
    middle = mode.scent[old] @ own + mode.shared @ shared
    sd = np.sqrt(_variance(model, own, shared))[old]
    family = np.sqrt(max(float(shared @ mode.shared_cov @ shared), 0.0))
    table = _ranged(np.append(mode.shared @ shared, middle), np.append(family, sd))
    table = table.rename(columns={"factor": "growth"}) - 1
    table["scent"] = pd.Series([ALL_SCENTS, *np.array(model.scents, dtype=object)[old]], dtype="str")
    return table[columns]


def unsold_demand(model: Season, demand: pd.DataFrame) -> pd.DataFrame:
    """Return what was wanted and not there to be bought, by scent and week: scent, week, bottles (sold), unsold.

    An estimate: the rate of that week by the model, for the part of the week off the shelf, and moved the way that the
    part on the shelf sold better or worse than expected. Weeks that demand does not know stay out, and so does a
    scent's first week: before it was launched it was not sold out.
    """
    history, fit = model.history, model.fit
    size, mean = fit.sizes.usual[:, None], np.exp(np.minimum(mode_rate(fit.weeks, fit.mode), 12.0))
    on_shelf = np.where(history.giants, 1.0, fit.on_shelf)
    off = (1 - on_shelf) * mean * (history.bottles + size) / (on_shelf * mean + size)
    at = np.nonzero(history.end_only)
    if len(at[0]):
        wanted = expected_demand(history.bottles[at], on_shelf[at] * mean[at], fit.sizes.usual[at[0]])
        off[at] += np.maximum(wanted - history.bottles[at], 0.0)
    scent, week = _told(model, demand)
    off = np.where(np.arange(off.shape[1]) > np.argmax(history.on_shelf > 0, axis=1)[:, None], off, 0.0)
    table = {"scent": pd.Series(np.array(model.scents, dtype=object)[scent], dtype="str")}
    table |= {"week": history.weeks[week].astype("datetime64[us]"), "bottles": history.bottles[scent, week]}
    return pd.DataFrame(table | {"unsold": off[scent, week]})


def as_if_on_shelf(demand: pd.DataFrame) -> pd.DataFrame:
    """Return demand as a shop would read it that takes a sold-out day for one on which nobody wanted anything.

    A scent's first week stays as it is: before it was launched it was not sold out.
    """
    later = demand["week"] > demand.groupby(["scent", "channel"])["week"].transform("min")
    whole = demand.assign(bottles=demand["bottles"].fillna(0), shelf_days=7.0, exposure=1.0, hidden=0.0, known="")
    return whole.where(later, demand)


def _told(model: Season, demand: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Return scent and week of what demand knows: weeks on the shelf, and weeks wholly sold out."""
    history = model.history
    gone = demand["shelf_days"].eq(0)  # of such weeks demand does not know the bottles: there were none to sell
    asked = demand.assign(shelf_days=demand["shelf_days"].mask(gone, 7.0), bottles=demand["bottles"].mask(gone, 0))
    if "exposure" in asked:
        asked = asked.assign(exposure=asked["exposure"].where(asked["exposure"] != 0, 1.0))
    rows = known_rows(asked, pd.Timestamp(history.origin))
    scent = pd.Index(model.scents).get_indexer(rows["scent"])
    week = weeks_between(rows["week"].to_numpy("datetime64[D]"), history.weeks[0])
    inside = (week >= 0) & (week < len(history.weeks)) & (scent >= 0)
    return scent[inside], week[inside].astype(int)


def _variance(model: Season, own: np.ndarray, shared: np.ndarray) -> np.ndarray:
    """Return the variance, by scent, of `own` times its unknowns plus `shared` times the shared ones."""
    mode = model.fit.mode
    through = shared - np.einsum("p,npq->nq", own, mode.follow)
    both = np.einsum("nq,qr,nr->n", through, mode.shared_cov, through)
    return np.maximum(both + np.einsum("p,npr,r->n", own, mode.scent_cov, own), 0.0)


def _ranged(middle: np.ndarray, sd: np.ndarray) -> pd.DataFrame:
    """Return factors of logs with the range that holds eight chances in ten."""
    wide = MIDDLE_80 * sd
    return pd.DataFrame({"factor": np.exp(middle), "low": np.exp(middle - wide), "high": np.exp(middle + wide)})
