"""Text as people and tills write it becomes numbers and days; what cannot be read is marked, never guessed.

Blank text is missing and not bad. A column of few distinct texts is read fastest as a category.
"""

import math
import re
from collections.abc import Callable, Sequence
from datetime import date
from functools import cache, lru_cache
from typing import TypeAlias

import numpy as np
import pandas as pd

from planner.month_names import month_number

Read: TypeAlias = tuple[pd.Series, pd.Series]  # values, and where the text is neither blank nor readable

# currency signs and ISO 4217 codes that may stand before or after an amount; other words make it unreadable,
# because "2 doz" is not 2
_SIGNS = "$€£¥₹₺₽₩₪₫₴₱฿"
_CODES = (
    "AUD BRL CAD CHF CNY CZK DKK EUR GBP HKD HUF IDR ILS INR ISK JPY KRW MXN MYR NOK NZD "
    "PHP PLN RON SEK SGD THB TRY USD ZAR"
)
_MONEY = rf"(?:(?:US|CA|AU|NZ|HK|C|A|R)?[{_SIGNS}]|{'|'.join(_CODES.split())}|kr\.?|zł|Kč|Fr\.?|Ft)"
LONGEST = 80  # characters of a number or a day with its time zone; longer text is neither, and is not searched
_DASHES = "\u2212\u2012\u2013"  # Unicode minus, figure dash, en dash: all written for a minus
_NO_CENTS = f"-{_DASHES}\u2014\u2015"  # behind the decimal sign any dash, long ones too, stands for no cents: CHF 12.–


_PLAIN = {".": re.compile(r"-?[0-9]+(?:\.[0-9]+)?"), ",": re.compile(r"-?[0-9]+(?:,[0-9]+)?")}


@cache
def _amount_pattern(decimal: str) -> re.Pattern[str]:
    """Return the pattern of one amount: the sign may stand before, inside, behind or be round brackets."""
    point, other = ("[.]", ",") if decimal == "." else (",", ".")
    cents = rf"(?:{point}(?:[{_NO_CENTS}]{{1,2}}|[0-9]*))?"
    grouped = rf"[0-9]{{1,3}}(?:(?P<group>[{other} '’])[0-9]{{3}})(?:(?P=group)[0-9]{{3}})*{cents}"
    plain = rf"(?:[0-9]+{cents}|{point}[0-9]+)(?:[eE][+-]?[0-9]{{1,2}})?"
    gap = " ?"
    minus = f"[-{_DASHES}]"
    before = rf"(?P<open>\()?{gap}(?P<first>{minus}|\+)?{gap}(?:{_MONEY})?{gap}(?P<second>{minus}|\+)?"
    behind = rf"(?:{_MONEY})?{gap}(?P<third>{minus})?{gap}(?:{_MONEY})?{gap}(?P<close>\))?"
    return re.compile(rf"{before}{gap}(?P<number>{grouped}|{plain}){gap}{behind}")


def numbers(text: pd.Series, decimal: str) -> Read:
    """Read amounts whose decimal sign is stated, "." or ",".

    Thousands may be set apart by the other sign, a space or an apostrophe in groups of three; a currency sign or
    code may stand at either end; a minus before or behind, or brackets, make it negative. A dash in place of the
    cents is none: "12,–" is 12.

    >>> values, bad = numbers(pd.Series(["1.234,50 €", "(3)", "", "12.50"]), ",")
    >>> values.tolist(), bad.tolist()
    ([1234.5, -3.0, nan, nan], [False, False, False, True])
    """
    values, bad = _by_distinct(text, lambda distinct: [_number(_tidy(one), decimal) for one in distinct])
    return pd.Series(values, index=text.index), bad


def _tidy(text: str) -> str:
    """Return the text with one plain blank for any run of blanks, no-break and thin ones included."""
    return " ".join(text.split()) if len(text) <= LONGEST else "too long"


def _number(text: str, decimal: str) -> float | None:
    """Return the number, NaN for no text, None for text that is no number."""
    if not text:
        return math.nan
    if _PLAIN[decimal].fullmatch(text):  # nearly all
        return float(text.replace(",", "."))
    found = _amount_pattern(decimal).fullmatch(text)
    if not found:
        return None
    signs = [sign for sign in found.group("open", "first", "second", "third") if sign]
    if len(signs) > 1 or bool(found["open"]) != bool(found["close"]):
        return None
    digits = re.sub(rf"[ '’{',' if decimal == '.' else '.'}]", "", found["number"])
    value = float(digits.rstrip(_NO_CENTS).replace(",", "."))
    return 0.0 - value if signs and signs != ["+"] else value


# English month names, long and short; a fourth letter for September is common
_MONTH_NAMES = "january february march april may june july august september october november december"
_MONTHS = {name[:3]: number for number, name in enumerate(_MONTH_NAMES.split(), 1)}
_NAME = "|".join([*(rf"{name}|{name[:3]}\.?" for name in _MONTH_NAMES.split()), r"sept\.?"])
FIRST_YEAR, LAST_YEAR = 1900, 2199  # a year outside is a slip of the keyboard
PIVOT = 69  # two-digit years 69 to 99 are 1969 to 1999, 00 to 68 are 2000 to 2068: POSIX (IEEE 1003.1), strptime %y

_ZONE = r"(?:Z|UTC|GMT|[A-Z]{3,4}|(?:UTC|GMT)?[+-][0-9]{2}:?(?:[0-9]{2})?)"
_CLOCK = r"(?:[01]?[0-9]|2[0-3])[:.h][0-5][0-9](?:[:.](?:[0-5][0-9]|60)(?:[.,][0-9]+)?)?"
_TIME = rf"(?:(?:T|,?\s*(?:at\s+)?|\s+){_CLOCK}(?:\s*[ap]\.?m\.?)?(?:\s*{_ZONE})?(?:\s*\([^)]*\))?)?"
_WEEKDAY = r"(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+)?"
_YEAR = "(?P<y>[0-9]{4})"
_SHORT = "(?P<y>[0-9]{4}|[0-9]{2})"


def _in_numbers(first: str, second: str) -> str:
    """Return the pattern of "05/02/2025", the year last and one separator throughout; a dot may end it."""
    return rf"(?P<{first}>[0-9]{{1,2}})(?P<s>[-/. ])\s?(?P<{second}>[0-9]{{1,2}})(?P=s)\s?{_SHORT}\.?"


def _with_name(year: str) -> tuple[str, str]:
    """Return the patterns of "3 Nov 2025" and "Nov 3, 2025"."""
    day = r"(?P<d>[0-9]{1,2})"
    month = f"(?P<m>{_NAME})"
    return (
        rf"{day}(?:st|nd|rd|th|\.)?[-/ ,]*{month}[-/ ,]*{year}",
        rf"{month}[-/ ]*{day}(?:st|nd|rd|th)?[-/ ,]+{year}",
    )


_YEAR_FIRST = (
    rf"{_YEAR}(?P<s>[-/.])(?P<m>[0-9]{{1,2}})(?P=s)(?P<d>[0-9]{{1,2}})",
    rf"{_YEAR}\. ?(?P<m>[0-9]{{1,2}})\. ?(?P<d>[0-9]{{1,2}})\.?",  # 2025. 12. 04.
    rf"{_YEAR}(?P<m>[0-9]{{2}})(?P<d>[0-9]{{2}})",
    rf"{_YEAR}[-/ ](?P<m>{_NAME})[-/ ](?P<d>[0-9]{{1,2}})",
)
_BY_ORDER = {
    "year-first": (r"(?P<y>[0-9]{2})(?P<s>[-/.])(?P<m>[0-9]{1,2})(?P=s)(?P<d>[0-9]{1,2})", *_with_name(_YEAR)),
    "day-first": (_in_numbers("d", "m"), *_with_name(_SHORT)),
    "month-first": (_in_numbers("m", "d"), *_with_name(_SHORT)),
}


def days(text: pd.Series, order: str, language: str = "") -> Read:
    """Read days whose order is stated: "year-first", "day-first" or "month-first". A time beside it is dropped.

    A four-digit year in front is read in any order; the day is taken as written, whatever the time zone.
    Two-digit years: see PIVOT. Months in words may be in any language that month_names knows.

    >>> values, bad = days(pd.Series(["2025-02-05", "05/02/2025 14:10", "3 Nov 25", "November"]), "day-first")
    >>> values.dt.strftime("%d %b %Y").tolist(), bad.tolist()
    (['05 Feb 2025', '05 Feb 2025', '03 Nov 2025', nan], [False, False, False, True])
    """
    ordinals, bad = _by_distinct(text, lambda distinct: _days(distinct, order, language))
    since_1970 = np.where(np.isnan(ordinals), 0, ordinals - date(1970, 1, 1).toordinal()).astype("datetime64[D]")
    values = np.where(np.isnan(ordinals), np.datetime64("NaT", "D"), since_1970).astype("datetime64[us]")
    return pd.Series(values, index=text.index), bad


@cache
def _day_patterns(order: str, before: str = "", behind: str = "") -> tuple[re.Pattern[str], ...]:
    return tuple(re.compile(f"{before}{one}{behind}", re.IGNORECASE) for one in (*_YEAR_FIRST, *_BY_ORDER[order]))


def without_time(texts: list[str]) -> list[str]:
    """Return texts of days without the time behind them; any other text as it is.

    >>> without_time(["05/02/2025 14:10:09", "2025-02-05T14:10Z", "5 Feb 2025"])
    ['05/02/2025', '2025-02-05', '5 Feb 2025']
    """
    is_time = _is_time()
    short = []
    for text in texts:
        cut = 10 if text[10:11] in _AFTER_DAY else text.find(" ")
        time = text[cut:]
        if cut >= SHORTEST and time and ((time[6:] in _SECONDS and is_time(time[:6])) or is_time(time)):
            short.append(text[:cut])
        else:
            short.append(text)
    return short


SHORTEST = 6  # characters of a day, as in 5/2/25: what stands before a blank further left is a piece of one
_AFTER_DAY = frozenset(["T", " ", ","])
_SECONDS = frozenset(f":{second:02d}" for second in range(60))  # looked at apart: tills write the second of every sale


@cache
def _is_time() -> Callable[[str], bool]:
    pattern = re.compile(_TIME, re.IGNORECASE)
    return lru_cache(1 << 18)(lambda text: len(text) <= LONGEST and pattern.fullmatch(text) is not None)


def month_heading(text: str, language: str = "") -> date | None:
    """Return the first day of the month that a heading names with its year, None where it names none.

    A first or last day of a month stands for it, since sheets write both; any other day names no month.

    >>> month_heading("Nov 2025"), month_heading("2025-11-30"), month_heading("2025-11-15")
    (datetime.date(2025, 11, 1), datetime.date(2025, 11, 1), None)
    """
    tidy = _tidy(text)
    for order in ("day-first", "month-first"):
        found = _days([tidy], order, language)[0] if tidy else None
        if found and date.fromordinal(int(found) + 1).day == 1:
            return date.fromordinal(int(found)).replace(day=1)
    for day in (tidy, f"{tidy}-01", f"{tidy} 1", f"1 {tidy}", f"1/{tidy}", f"1.{tidy}", f"1-{tidy}"):
        found = _days([day], "day-first", language)[0] if re.search("[0-9]", tidy) else None
        if found and date.fromordinal(int(found)).day == 1:
            return date.fromordinal(int(found))
    return None


_WORD = re.compile(r"[^\W\d_]+\.?")
_BETWEEN = frozenset(["de", "del", "di", "den", "d"])  # "3 de noviembre de 2025"


def _in_english(text: str, language: str) -> str | None:
    """Return the text with its month's name in English and other words left out; None where it names no month."""
    text = re.sub(r"\bd['’]", "", text)  # "3 d'abril"
    months = {word: month_number(word, language) for word in _WORD.findall(text)}
    found = [word for word, number in months.items() if number]
    if len(found) != 1:
        return None
    english = list(_MONTHS)[(months[found[0]] or 1) - 1]
    first = _WORD.match(text)
    weekday = first[0] if first and first[0] != found[0] else ""
    kept = text.removeprefix(weekday).lstrip(", ").replace(found[0], english)
    kept = " ".join(word for word in kept.split() if word.casefold() not in _BETWEEN)
    return re.sub(r"([0-9])\. ", r"\1 ", kept).rstrip(".")


def _days(distinct: list[str], order: str, language: str = "") -> list[float | None]:
    """Return the days' ordinals. Day and time are looked at apart, each once: tills write the second of every sale."""
    bare, with_time = _day_patterns(order), _day_patterns(order, _WEEKDAY, _TIME)
    one_day = cache(lambda text: _day(text, bare))
    is_time = cache(re.compile(_TIME, re.IGNORECASE).fullmatch)
    found: list[float | None] = []
    for text in map(_tidy, distinct):
        cut = 10 if text[10:11] == "T" else text.find(" ")
        day = one_day(text[:cut]) if cut > 0 and is_time(text[cut:]) else None
        day = day or (_day(text, with_time) if text else None)
        if text and not day and any(map(str.isdigit, text)) and _WORD.search(text):
            english = _in_english(text, language)
            day = _day(english, with_time) if english else None
        found.append(day if text else math.nan)
    return found


def _day(text: str, patterns: Sequence[re.Pattern[str]]) -> int | None:
    """Return the day's ordinal by the first pattern that fits, None where none does or the calendar has no such day."""
    found = next(filter(None, (pattern.fullmatch(text) for pattern in patterns)), None)
    if not found:
        return None
    year, month, day = found.group("y", "m", "d")
    century = 0 if len(year) == 4 else 2000 if int(year) < PIVOT else 1900
    try:
        read = date(century + int(year), _MONTHS.get(month[:3].lower()) or int(month), int(day))
    except ValueError:
        return None
    return read.toordinal() if FIRST_YEAR <= read.year <= LAST_YEAR else None


def _by_distinct(text: pd.Series, read: Callable[[list[str]], list[float | None]]) -> tuple[np.ndarray, pd.Series]:
    """Read each distinct text once. `read` gives None for what is bad and NaN for nothing."""
    if isinstance(text.dtype, pd.CategoricalDtype):
        codes, distinct = text.cat.codes.to_numpy(), text.cat.categories
    else:
        codes, distinct = pd.factorize(text)
    values = [*read(distinct.tolist()), math.nan]  # code -1, no text at all, finds the last entry
    bad = np.array([value is None for value in values])
    return np.array(values, dtype="float64")[codes], pd.Series(bad[codes], index=text.index)
