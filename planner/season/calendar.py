"""Holidays by plain rules, and what each day of the year means for a shop that sells gifts."""

from collections.abc import Iterable
from datetime import date

import numpy as np
import pandas as pd

DAY = np.timedelta64(1, "D")
USUAL_POSTING = (12, 18)  # last posting day where the shop does not say (common practice, no source)
POSTING_FROM, POSTING_TO = (
    (12, 5),
    (12, 24),
)  # a season that ends outside these days does not end at the last posting day
MOTHERING_SUNDAY = ("GB", "IE")  # three weeks before Easter; the second Sunday of May elsewhere

# Christmas is drawn by straight lines between these days before the last posting day; nothing before the last one.
KNOTS = (0, 7, 16, 30, 48)
FIRST_GIFT_DAY = 66  # [days before the last posting day]
# Presents for Valentine's and Mother's Day: by post most are bought a week before, else on the last days.
GIFT_KNOTS = (0, 7)
FIRST_PRESENT = 16  # [days before]

FEATURES = (
    *("year sine", "year cosine", "half-year sine", "half-year cosine"),
    *(f"Christmas, {knot} days before posting ends" for knot in KNOTS),
    *("after the last posting day", "Black Friday"),
    *(f"{day}, {knot} days before" for day in ("Valentine's Day", "Mother's Day") for knot in GIFT_KNOTS),
    "Easter",
)


def easter(year: int) -> date:
    """Return Easter Sunday of the Gregorian calendar (computus of Meeus, Jones and Butcher, from memory).

    >>> easter(2026).isoformat()
    '2026-04-05'
    """
    century, in_century = divmod(year, 100)
    golden, leaps = year % 19, century // 4
    moon = (19 * golden + century - leaps - (century - (century + 8) // 25 + 1) // 3 + 15) % 30
    weekday = (32 + 2 * (century % 4) + 2 * (in_century // 4) - moon - in_century % 4) % 7
    shift = (golden + 11 * moon + 22 * weekday) // 451
    month, day = divmod(moon + weekday - 7 * shift + 114, 31)
    return date(year, month, day + 1)


def mothers_day(year: int, country: str = "") -> date:
    """Return Mother's Day: Easter less 21 days in GB and IE, the second Sunday of May elsewhere (36 USC 117)."""
    if country in MOTHERING_SUNDAY:
        return date.fromordinal(easter(year).toordinal() - 21)
    return _nth_weekday(year, 5, 6, 2)


def black_friday(year: int) -> date:
    """Return the day after Thanksgiving, which is the fourth Thursday of November (5 USC 6103)."""
    return date.fromordinal(_nth_weekday(year, 11, 3, 4).toordinal() + 1)


def last_posting_day(settings: object) -> tuple[int, int]:
    """Return month and day of the last posting day: the end of a season that ends in December, else the usual one."""
    season = getattr(settings, "season", None)
    if season is None:
        return USUAL_POSTING
    end = (season.last_day.month, season.last_day.day)
    return end if POSTING_FROM <= end <= POSTING_TO else USUAL_POSTING


def holidays(years: Iterable[int], posting: tuple[int, int] = USUAL_POSTING, country: str = "") -> pd.DataFrame:
    """Return the days that shape the trade: columns day and what, sorted."""
    rows = []
    for year in years:
        rows += [(date(year, 2, 14), "Valentine's Day"), (mothers_day(year, country), "Mother's Day")]
        rows += [(easter(year), "Easter"), (black_friday(year), "Black Friday")]
        rows += [(date(year, *posting), "Last posting day"), (date(year, 12, 25), "Christmas Day")]
    table = pd.DataFrame(rows, columns=["day", "what"]).astype({"day": "datetime64[us]", "what": "str"})
    return table.sort_values("day", kind="stable", ignore_index=True)


def day_features(days: np.ndarray, posting: tuple[int, int] = USUAL_POSTING, country: str = "") -> np.ndarray:
    """Return what each day is, one row a day and one column a name of FEATURES; on the log scale effects add up.

    `days` is an array of datetime64[D] of any shape; the features are the last axis of the result.
    """
    flat = np.asarray(days, dtype="datetime64[D]").ravel()
    years, which = np.unique(flat.astype("datetime64[Y]").astype(int) + 1970, return_inverse=True)
    start = np.array([f"{year}-01-01" for year in years], dtype="datetime64[D]")[which]
    angle = 2 * np.pi * ((flat - start) / DAY) / 365.25
    waves = [np.sin(angle), np.cos(angle), np.sin(2 * angle), np.cos(2 * angle)]

    def before(rule: Iterable[date]) -> np.ndarray:
        return (np.array(list(rule), dtype="datetime64[D]")[which] - flat) / DAY

    to_post = before(date(year, *posting) for year in years)
    to_christmas = before(date(year, 12, 25) for year in years)
    to_friday = before(black_friday(year) for year in years)
    to_easter = before(easter(year) for year in years)
    to_valentine = before(date(year, 2, 14) for year in years)
    to_mother = before(mothers_day(year, country) for year in years)
    columns = [*waves, *_hats(to_post, KNOTS, FIRST_GIFT_DAY).T]
    columns += [(to_post < 0) & (to_christmas >= -1), (to_friday <= 0) & (to_friday >= -3)]
    columns += [*_hats(to_valentine, GIFT_KNOTS, FIRST_PRESENT).T, *_hats(to_mother, GIFT_KNOTS, FIRST_PRESENT).T]
    columns += [(to_easter >= 0) & (to_easter < 7)]
    return np.column_stack(columns).astype(float).reshape(*np.shape(days), len(FEATURES))


def _hats(to_day: np.ndarray, knots: tuple[int, ...], first: int) -> np.ndarray:
    """Return the weight of each knot on each day: straight lines between neighbours, zero before the first day."""
    ends = np.array([*knots, first], float)
    hats = np.stack([np.interp(to_day, ends, row, right=0.0) for row in np.eye(len(ends))[:-1]], axis=1)
    return np.where((to_day >= 0)[:, None], hats, 0.0)


def _nth_weekday(year: int, month: int, weekday: int, nth: int) -> date:
    first = date(year, month, 1)
    return date(year, month, 1 + (weekday - first.weekday()) % 7 + 7 * (nth - 1))
