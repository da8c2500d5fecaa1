"""Names of months in many languages, as the Unicode CLDR lists them (through the library Babel)."""

from functools import cache

from planner.settings import LANGUAGES


def month_number(word: str, language: str = "") -> int | None:
    """Return the month that a word names in the language, "" for any of LANGUAGES; None where it names none.

    A word that is another month in another language names none unless the language is said.

    >>> month_number("Dezember"), month_number("févr."), month_number("listopad"), month_number("listopad", "hr")
    (12, 2, None, 10)
    """
    found = _names(language).get(_folded(word), frozenset())
    return next(iter(found)) if len(found) == 1 else None


def _folded(word: str) -> str:
    return word.casefold().strip(". ")


@cache
def _names(language: str) -> dict[str, frozenset[int]]:
    from babel import Locale  # only files with such names wait for it

    names: dict[str, frozenset[int]] = {}
    for code in (language,) if language else LANGUAGES:
        months = Locale(code).months
        for context in ("format", "stand-alone"):
            for width in ("wide", "abbreviated"):
                for number, name in months[context][width].items():
                    names[_folded(name)] = names.get(_folded(name), frozenset()) | {number}
    return names
