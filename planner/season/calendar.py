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
# Mother's Day by country (ISO 3166): rule, its words, countries. All from memory but the days of the US (36 USC 117);
# where a country is not named, and it is none of SECOND_OF_MAY, its rule is not known.
SECOND_OF_MAY = (
    *("US", "CA", "DE", "AT", "CH", "IT", "NL", "BE", "DK", "FI", "EE", "LV", "CZ", "SK", "HR", "GR", "CY", "MT", "IS"),
    *("TR", "UA", "LI", "AU", "NZ", "ZA", "JP", "CN", "HK", "TW", "SG", "MY", "PH", "IN", "BR", "CL", "CO", "PE", "UY"),
    *("VE", "EC", "CU", "JM", "TT", "PR", "KE", "GH"),
)
MOTHERS = (
    (lambda year: _days_after(easter(year), -21), "three weeks before Easter", ("GB", "UK", "IE", "IM", "JE", "GG")),
    (lambda year: _nth_weekday(year, 5, 6, 1), "first Sunday of May", ("ES", "PT", "HU", "RO", "LT", "AO", "MZ", "CV")),
    (
        lambda year: _french_mothers_day(year),
        "last Sunday of May, a week later when that is Whitsun",
        ("FR", "MC", "GP", "MQ", "RE", "GF", "NC", "PF"),
    ),
    (lambda year: _last_sunday(year, 5), "last Sunday of May", ("SE", "DZ", "TN", "MA", "DO", "HT", "MU", "MG")),
    (lambda year: _nth_weekday(year, 2, 6, 2), "second Sunday of February", ("NO",)),
    (lambda year: _nth_weekday(year, 6, 6, 2), "second Sunday of June", ("LU",)),
    (lambda year: _nth_weekday(year, 10, 6, 3), "third Sunday of October", ("AR",)),
    (lambda year: _last_sunday(year, 11), "last Sunday of November", ("RU",)),
    (lambda year: date(year, 5, 26), "26 May", ("PL",)),
    (lambda year: date(year, 5, 10), "10 May", ("MX", "GT", "SV")),
    (lambda year: date(year, 3, 8), "8 March", ("BG", "AL", "MK", "RS", "ME", "BA", "MD")),
    (lambda year: date(year, 3, 25), "25 March", ("SI",)),
    (lambda year: date(year, 3, 21), "21 March", ("EG", "AE", "SA", "KW", "QA", "BH", "OM", "JO", "LB", "IQ", "SY")),
    (lambda year: date(year, 5, 15), "15 May", ("PY",)),
    (lambda year: date(year, 5, 27), "27 May", ("BO",)),
    (lambda year: date(year, 5, 30), "30 May", ("NI",)),
    (lambda year: date(year, 8, 12), "12 August", ("TH",)),
    (lambda year: date(year, 8, 15), "15 August", ("CR",)),
    (lambda year: date(year, 12, 22), "22 December", ("ID",)),
    (lambda year: date(year, 3, 3), "3 March", ("GE",)),
)

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
    """Return Mother's Day by the rule of the country, see MOTHERS; where that is not known the second Sunday of May."""
    code = country.strip().upper()
    return next((rule(year) for rule, _, where in MOTHERS if code in where), _nth_weekday(year, 5, 6, 2))


def mothers_day_rule(country: str) -> str:
    """Return in words by which rule Mother's Day was found, and how well that is known."""
    code = country.strip().upper()
    words = next((words for _, words, where in MOTHERS if code in where), "second Sunday of May")
    if code in ("", "US"):
        return f"{words} ({'the US law 36 USC 117' if code else 'no country in shop.toml'})"
    known = any(code in where for *_, where in MOTHERS) or code in SECOND_OF_MAY
    return f"{words} ({f'the rule of {code}, from memory' if known else f'the rule of {code} is not known here'})"


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


def _days_after(day: date, days: int) -> date:
    return date.fromordinal(day.toordinal() + days)


def _last_sunday(year: int, month: int) -> date:
    """Return the last Sunday of a month of 30 or 31 days."""
    fourth = _nth_weekday(year, month, 6, 4)
    after = _days_after(fourth, 7)
    return after if after.month == month else fourth


def _french_mothers_day(year: int) -> date:
    usual = _last_sunday(year, 5)
    return _days_after(usual, 7) if usual == _days_after(easter(year), 49) else usual


def _nth_weekday(year: int, month: int, weekday: int, nth: int) -> date:
    first = date(year, month, 1)
    return date(year, month, 1 + (weekday - first.weekday()) % 7 + 7 * (nth - 1))
