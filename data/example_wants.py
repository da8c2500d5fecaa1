"""What customers of the invented shop want: bottles a day, by scent and channel, with the truth of the rates.

A different process from any forecast model on purpose: demand drifts in steps, every Christmas is stronger or weaker
than the last, single weeks go well or badly, and markets are busy on market days only.
"""

from datetime import date
from typing import NamedTuple

import numpy as np
import pandas as pd

FIRST, TODAY = pd.Timestamp("2023-09-01"), pd.Timestamp("2026-09-28")
SEASON_END = pd.Timestamp("2026-12-31")
LAST_POSTING = {year: date(year, 12, 18 if year == 2023 else 17) for year in range(2023, 2027)}
MOTHERS_DAY = {2024: date(2024, 3, 10), 2025: date(2025, 3, 30), 2026: date(2026, 3, 15)}  # as kept in Ireland
BLACK_FRIDAY = {2023: date(2023, 11, 24), 2024: date(2024, 11, 29), 2025: date(2025, 11, 28), 2026: date(2026, 11, 27)}
CLOSED = {year: (date(year, 1, 2), date(year, 1, 8)) for year in (2024, 2025, 2026)}
CHANNELS = ("web", "market")
WEB_SHARE = 0.6
MARKET_DAYS_A_YEAR = 47

# true pace on a quiet day of September 2026 [bottles a week], growth a year, strength of Christmas (1 is usual),
# of Valentine's Day, of Mother's Day
TRUTH = {
    "Tidewrack": (8.6, 0.10, 1.0, 0.5, 0.5),
    "Quince Ember": (7.4, 0.14, 1.12, 0.4, 0.4),
    "Clove Ferry": (4.6, 0.02, 1.28, 0.2, 0.2),
    "Saltmarsh Rose": (4.8, 0.05, 0.92, 1.2, 1.1),
    "Fig Boathouse": (4.2, 0.00, 1.0, 0.4, 0.5),
    "Peatsmoke Pear": (3.7, 0.08, 1.08, 0.3, 0.2),
    "Amber Tern": (3.3, -0.04, 1.05, 0.6, 0.4),
    "Larkmilk": (2.6, 0.03, 0.85, 0.6, 1.2),
    "Moss Parade": (1.7, -0.12, 0.95, 0.2, 0.3),
    "Amber Tern Mini": (1.9, 0.06, 1.15, 0.8, 0.8),
    "Plum Lantern": (4.4, 0.0, 1.0, 0.4, 0.4),
    "Bog Myrtle Rain": (0.0, 0.0, 1.0, 0.0, 0.0),
    "Harbour Trio": (0.7, 0.0, 1.1, 0.8, 1.0),
}
ITEMS = tuple(TRUTH)
LAUNCHED = {"Amber Tern Mini": "2024-03-02", "Plum Lantern": "2026-04-18", "Bog Myrtle Rain": "2024-02-03"}
LAUNCH_BOOST, LAUNCH_WEEKS = 0.5, 6  # a new scent starts so much (log) higher and loses that within weeks

DRIFT_STEP, DRIFT_DAYS = 0.06, 56  # log demand of a scent steps by so much every 8 weeks
YEAR_SHOCK = {2023: -0.03, 2024: 0.10, 2025: -0.08}  # Christmas of the whole shop stronger or weaker [log]
SCENT_SHOCK = 0.12  # the same by scent and year [s.d. of log]
WEEK_SHAPE = 12.0  # gamma shape of good and bad weeks: smaller is wilder

# log of demand against days before the last posting day; negative days are after it
CHRISTMAS_DAYS = (-16, -8, -1, 0, 7, 16, 30, 48, 62)
CHRISTMAS_LOG = (0.0, -0.9, -0.8, 1.15, 1.55, 1.3, 0.85, 0.4, 0.0)


class Wants(NamedTuple):
    """Bottles wanted and their true mean, both `[day, item, channel]`, for the days of the history."""

    days: pd.DatetimeIndex
    wanted: np.ndarray
    mean: np.ndarray
    season_2026: dict[str, float]  # true mean of the season to come, sets not opened [bottles]


def market_weekends() -> list[tuple[pd.Timestamp, pd.Timestamp]]:
    """Saturday and Sunday of two weekends a month: the first and third, in December the first two."""
    weekends = []
    for month in pd.period_range("2023-09", "2026-12", freq="M"):
        saturdays = [day for day in pd.date_range(month.start_time, month.end_time.normalize()) if day.weekday() == 5]
        which = {1: (2, 3), 12: (0, 1)}.get(month.month, (0, 2))  # after New Year the shop is closed for a week
        weekends += [(saturdays[n], saturdays[n] + pd.Timedelta(days=1)) for n in which]
    return weekends


def customer_demand(rng: np.random.Generator) -> Wants:
    """Draw what customers want on every day of the history."""
    days = pd.date_range(FIRST, SEASON_END)
    usual = usual_rates(days)
    rates = usual * np.exp(_drift(days, rng) + _shocks(days, rng))[:, :, None]
    past = days < TODAY
    weeks = (days - FIRST).days // 7
    luck = rng.gamma(WEEK_SHAPE, 1 / WEEK_SHAPE, size=(weeks.max() + 1, len(ITEMS)))[weeks]
    wanted = rng.poisson(rates[past] * luck[past][:, :, None])
    season = (days >= "2026-10-19") & (days <= "2026-12-17")
    means = dict(zip(ITEMS, rates[season].sum(axis=(0, 2)).round(1).tolist(), strict=True))
    return Wants(days[past], wanted, rates[past], means)


def usual_rates(days: pd.DatetimeIndex) -> np.ndarray:
    """Bottles a day before drift, good and bad years and luck, `[day, item, channel]`."""
    pace, growth, christmas, valentine, mother = (np.array(part) for part in zip(*TRUTH.values(), strict=True))
    years = ((days - TODAY).days / 365.25).to_numpy()[:, None]
    log = growth * years + np.array([_christmas(day) for day in days])[:, None] * christmas
    log += np.array([_ramp(day, date(day.year, 2, 13)) for day in days])[:, None] * valentine
    mothers = [_ramp(day, MOTHERS_DAY[day.year]) if day.year in MOTHERS_DAY else 0.0 for day in days]
    log += np.array(mothers)[:, None] * mother + _launches(days)
    daily = pace / 7 * np.exp(log) * _launched(days)
    return daily[:, :, None] * _opening(days)[:, None, :]


def _christmas(day: pd.Timestamp) -> float:
    """Log of how much more sells than on a quiet day, for Christmas, Black Friday and the summer lull."""
    year = day.year if day.month > 1 else day.year - 1
    before = (pd.Timestamp(LAST_POSTING.get(year, date(year, 12, 17))) - day).days
    friday = BLACK_FRIDAY.get(day.year)
    rush = 0.5 if friday and 0 <= (day.date() - friday).days <= 3 else 0.0
    summer = -0.15 if day.month in (7, 8) else 0.0
    return float(np.interp(before, CHRISTMAS_DAYS, CHRISTMAS_LOG)) + rush + summer


def _ramp(day: pd.Timestamp, target: date) -> float:
    """Rise from 0 to 1 over the two weeks before a day, nothing after it."""
    before = (target - day.date()).days
    return 1 - before / 14 if 0 <= before < 14 else 0.0


def _launches(days: pd.DatetimeIndex) -> np.ndarray:
    boost = np.zeros((len(days), len(ITEMS)))
    for scent, first in LAUNCHED.items():
        weeks = np.clip((days - pd.Timestamp(first)).days.to_numpy() / 7, 0, None)
        boost[:, ITEMS.index(scent)] = LAUNCH_BOOST * np.exp(-weeks / LAUNCH_WEEKS)
    return boost


def _launched(days: pd.DatetimeIndex) -> np.ndarray:
    return np.array([days >= LAUNCHED.get(item, str(FIRST.date())) for item in ITEMS]).T.astype(float)


def _opening(days: pd.DatetimeIndex) -> np.ndarray:
    """How much of the daily rate comes through each channel on each day, `[day, channel]`."""
    market = days.isin([day for weekend in market_weekends() for day in weekend])
    closed = np.zeros(len(days), dtype=bool)
    for first, last in CLOSED.values():
        closed |= (days >= str(first)) & (days <= str(last))
    web = np.where(closed, 0.0, WEB_SHARE)
    return np.column_stack([web, np.where(market, (1 - WEB_SHARE) * 365.25 / MARKET_DAYS_A_YEAR, 0.0)])


def _drift(days: pd.DatetimeIndex, rng: np.random.Generator) -> np.ndarray:
    """Log drift by day and item, zero at today so that TRUTH holds the pace of today."""
    block = (days - FIRST).days // DRIFT_DAYS
    path = rng.normal(0, DRIFT_STEP, size=(block.max() + 1, len(ITEMS))).cumsum(axis=0)[block]
    return path - path[days.get_loc(TODAY)]


def _shocks(days: pd.DatetimeIndex, rng: np.random.Generator) -> np.ndarray:
    """Log of how much stronger each Christmas is; the one to come counts as usual."""
    shock = np.zeros((len(days), len(ITEMS)))
    for year, family in YEAR_SHOCK.items():
        own = rng.normal(0, SCENT_SHOCK, size=len(ITEMS))
        peak = (days >= f"{year}-10-16") & (days <= f"{year}-12-31")
        shock[peak] = family + own
    return shock
