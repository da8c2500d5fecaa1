"""Text as people and tills write it becomes numbers and days; what cannot be read is marked, never guessed.

Blank text is missing and not bad. A column of few distinct texts is read fastest as a category.
"""

from collections.abc import Callable, Sequence
from typing import TypeAlias

import numpy as np
import pandas as pd

Read: TypeAlias = tuple[pd.Series, pd.Series]  # values, and where the text is neither blank nor readable

# currency signs and ISO 4217 codes that may stand before or after an amount; other words make it unreadable,
# because "2 doz" is not 2
SIGNS = "$€£¥₹₺₽₩₪₫₴₱฿"
CODES = (
    "AUD BRL CAD CHF CNY CZK DKK EUR GBP HKD HUF IDR ILS INR ISK JPY KRW MXN MYR NOK NZD "
    "PHP PLN RON SEK SGD THB TRY USD ZAR"
)
_MONEY = rf"(?:(?:US|CA|AU|NZ|HK|C|A|R)?[{SIGNS}]|{'|'.join(CODES.split())}|kr\.?|zł|Kč|Fr\.?|Ft)"
_SPACES = " \u00a0\u2009\u202f"  # plain, no-break, thin and narrow no-break space
_DASHES = "[\u2212\u2012\u2013]"  # Unicode minus, figure dash, en dash: all written for a minus


def _amount_pattern(decimal: str) -> str:
    """Return the pattern of one amount: the sign may stand before, inside, behind or be round brackets."""
    point, other = ("[.]", ",") if decimal == "." else (",", ".")
    grouped = rf"[0-9]{{1,3}}(?:(?P<group>[{other}{_SPACES}'’])[0-9]{{3}})(?:(?P=group)[0-9]{{3}})*(?:{point}[0-9]*)?"
    plain = rf"(?:[0-9]+(?:{point}[0-9]*)?|{point}[0-9]+)(?:[eE][+-]?[0-9]{{1,2}})?"
    gap = rf"[{_SPACES}]*"
    before = rf"(?P<open>\()?{gap}(?P<first>[+-])?{gap}(?:{_MONEY})?{gap}(?P<second>[+-])?"
    behind = rf"(?:{_MONEY})?{gap}(?P<third>-)?{gap}(?:{_MONEY})?{gap}(?P<close>\))?"
    return rf"^{before}{gap}(?P<number>{grouped}|{plain}){gap}{behind}$"


def numbers(text: pd.Series, decimal: str) -> Read:
    """Read amounts whose decimal sign is stated, "." or ",".

    Thousands may be set apart by the other sign, a space or an apostrophe in groups of three; a currency sign or
    code may stand at either end; a minus before or behind, or brackets, make it negative.

    >>> values, bad = numbers(pd.Series(["1.234,50 €", "(3)", "", "12.50"]), ",")
    >>> values.tolist(), bad.tolist()
    ([1234.5, -3.0, nan, nan], [False, False, False, True])
    """
    return _by_distinct(text, lambda distinct: _numbers(distinct, decimal), "float64")


def _numbers(text: pd.Series, decimal: str) -> Read:
    if text.empty:
        return pd.Series(dtype="float64"), pd.Series(dtype="bool")
    clean = text.str.strip().str.replace(_DASHES, "-", regex=True)
    parts = clean.str.extract(_amount_pattern(decimal))
    signs = parts[["first", "second", "third", "open"]].notna().sum(axis=1)
    fits = parts["number"].notna() & (signs <= 1) & (parts["open"].isna() == parts["close"].isna())
    digits = parts["number"].str.replace(f"[{_SPACES}'’{',' if decimal == '.' else '.'}]", "", regex=True)
    values = pd.to_numeric(digits.str.replace(",", ".").where(fits), errors="coerce").astype("float64")
    minus = parts["open"].notna() | (parts[["first", "second", "third"]] == "-").any(axis=1)
    return values.where(~minus, 0.0 - values), (clean.fillna("") != "") & ~fits


# English month names, long and short; a fourth letter for September is common
_MONTHS = "january february march april may june july august september october november december"
MONTHS = {name[:3]: number for number, name in enumerate(_MONTHS.split(), 1)}
_NAME = "|".join([*(rf"{name}|{name[:3]}\.?" for name in _MONTHS.split()), r"sept\.?"])
FIRST_YEAR, LAST_YEAR = 1900, 2199  # a year outside is a slip of the keyboard
PIVOT = 69  # two-digit years 69 to 99 are 1969 to 1999, 00 to 68 are 2000 to 2068: POSIX (IEEE 1003.1), strptime %y

_ZONE = r"(?:Z|UTC|GMT|[A-Z]{3,4}|(?:UTC|GMT)?[+-][0-9]{2}:?(?:[0-9]{2})?)"
_CLOCK = r"(?:[01]?[0-9]|2[0-3])[:.h][0-5][0-9](?:[:.](?:[0-5][0-9]|60)(?:[.,][0-9]+)?)?"
_TIME = rf"(?:(?:T|,?\s*(?:at\s+)?|\s+){_CLOCK}(?:\s*[ap]\.?m\.?)?(?:\s*{_ZONE})?(?:\s*\([^)]*\))?)?"
_WEEKDAY = r"(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,?\s+)?"
_YEAR = "(?P<y>[0-9]{4})"
_SHORT = "(?P<y>[0-9]{4}|[0-9]{2})"


def _in_numbers(first: str, second: str) -> str:
    """Return the pattern of "05/02/2025", the year last and one separator throughout."""
    return rf"(?P<{first}>[0-9]{{1,2}})(?P<s>[-/. ])\s?(?P<{second}>[0-9]{{1,2}})(?P=s)\s?{_SHORT}"


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
    rf"{_YEAR}(?P<m>[0-9]{{2}})(?P<d>[0-9]{{2}})",
    rf"{_YEAR}[-/ ](?P<m>{_NAME})[-/ ](?P<d>[0-9]{{1,2}})",
)
_BY_ORDER = {
    "year-first": (r"(?P<y>[0-9]{2})(?P<s>[-/.])(?P<m>[0-9]{1,2})(?P=s)(?P<d>[0-9]{1,2})", *_with_name(_YEAR)),
    "day-first": (_in_numbers("d", "m"), *_with_name(_SHORT)),
    "month-first": (_in_numbers("m", "d"), *_with_name(_SHORT)),
}


def days(text: pd.Series, order: str) -> Read:
    """Read days whose order is stated: "year-first", "day-first" or "month-first". A time beside it is dropped.

    A four-digit year in front is read in any order; the day is taken as written, whatever the time zone.
    Two-digit years: see PIVOT. Months in words are English.

    >>> values, bad = days(pd.Series(["2025-02-05", "05/02/2025 14:10", "3 Nov 25", "November"]), "day-first")
    >>> values.dt.strftime("%d %b %Y").tolist(), bad.tolist()
    (['05 Feb 2025', '05 Feb 2025', '03 Nov 2025', nan], [False, False, False, True])
    """
    return _by_distinct(text, lambda distinct: _days(distinct, order), "datetime64[us]")


def _days(text: pd.Series, order: str) -> Read:
    clean = text.str.strip().fillna("").reset_index(drop=True)
    patterns = (*_YEAR_FIRST, *_BY_ORDER[order])
    values = _before_time(clean, patterns)
    left = clean[(clean != "") & values.isna()]
    values[left.index] = _by_patterns(left, [f"{_WEEKDAY}{pattern}{_TIME}" for pattern in patterns])
    return values, (clean != "") & values.isna()


def _by_patterns(text: pd.Series, patterns: Sequence[str]) -> pd.Series:
    """Read each text by the first pattern that fits the whole of it, NaT where none does."""
    values = pd.Series(pd.NaT, index=text.index, dtype="datetime64[us]")
    for pattern in patterns:
        if text.empty:
            break
        parts = text.str.extract(rf"(?i)^{pattern}$")[["y", "m", "d"]].dropna()
        values[parts.index] = _calendar_days(parts)
        text = text.drop(parts.index)
    return values


def _before_time(clean: pd.Series, patterns: Sequence[str]) -> pd.Series:
    """Read days with a time behind them, each distinct day and each distinct time once; NaT for what is neither.

    Tills write the second of every sale: hardly two texts are the same, but few days and few times are.
    """
    cuts = [10 if text[10:11] == "T" else max(text.find(" "), 0) for text in clean.tolist()]
    pairs = list(zip(clean.tolist(), cuts, strict=True))
    front = pd.factorize(pd.Series([text[:cut] for text, cut in pairs], dtype="str"))
    back = pd.factorize(pd.Series([text[cut:] if cut else "" for text, cut in pairs], dtype="str"))
    is_time = pd.Series(back[1], dtype="str").str.fullmatch(rf"(?i){_TIME}").to_numpy("bool")
    read = _by_patterns(pd.Series(front[1], dtype="str"), patterns).to_numpy()
    return pd.Series(np.where(is_time[back[0]], read[front[0]], np.datetime64("NaT")), dtype="datetime64[us]")


def _calendar_days(parts: pd.DataFrame) -> np.ndarray:
    """Return the days of year, month and day in text, NaT where the calendar has no such day."""
    year, day = (parts[name].astype("int64").to_numpy() for name in ("y", "d"))
    short = (parts["y"].str.len() == 2).to_numpy()
    year = np.where(short, year + np.where(year < PIVOT, 2000, 1900), year)
    word = parts["m"].str.lower().str[:3].map(MONTHS)
    month = word.fillna(pd.to_numeric(parts["m"], errors="coerce")).astype("int64").to_numpy()
    first = ((year - 1970) * 12 + month - 1).astype("datetime64[M]")
    found = first.astype("datetime64[D]") + (day - 1)
    real = (month >= 1) & (month <= 12) & (day >= 1) & (found.astype("datetime64[M]") == first)
    real &= (year >= FIRST_YEAR) & (year <= LAST_YEAR)
    return np.where(real, found, np.datetime64("NaT")).astype("datetime64[us]")


def _by_distinct(text: pd.Series, read: Callable[[pd.Series], Read], dtype: str) -> Read:
    """Read each distinct text once."""
    if isinstance(text.dtype, pd.CategoricalDtype):
        codes, distinct = text.cat.codes.to_numpy(), text.cat.categories
    else:
        codes, distinct = pd.factorize(text)
    values, bad = read(pd.Series(distinct, dtype="str").reset_index(drop=True))
    lookup = np.append(values.to_numpy(dtype), np.array([np.nan if dtype == "float64" else "NaT"], dtype=dtype))
    marks = np.append(bad.to_numpy("bool"), False)  # code -1, no text at all, finds the last entry
    return pd.Series(lookup[codes], index=text.index), pd.Series(marks[codes], index=text.index)
