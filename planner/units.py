"""Amounts with a unit become plain grams, millilitres or pieces at the door, and stay plain inside.

Raw text never reaches the units library: it reads "1,5 kg" as 15 kg and "250 ML" as megalitres. Only the
spellings below are read. A fluid ounce has to say whose it is; an ounce of weight is never taken for one.
"""

from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd
    import pint

US_FLUID_OUNCE_ML = 29.5735295625  # 231 cubic inches ÷ 128, exact: NIST Handbook 44, Appendix C

# spelling in a file: name in the units library
WEIGHTS = {"g": "gram", "kg": "kilogram", "mg": "milligram", "oz": "ounce", "lb": "pound"}
VOLUMES = {"ml": "milliliter", "l": "liter", "us fl oz": "US_fluid_ounce", "imp fl oz": "imperial_fluid_ounce"}
PIECES = ("piece", "pieces", "pcs")
SPELLINGS = (*WEIGHTS, *VOLUMES, *PIECES)


@cache
def registry() -> "pint.UnitRegistry[float]":
    """Return the one units registry; made on first use because its import takes half a second."""
    import pint

    return pint.UnitRegistry()


def grams(amount: float, unit: str) -> float:
    """Weight in grams. [g]

    Raises ValueError for a spelling that is not a weight.

    >>> round(grams(2, "lb"), 5)
    907.18474
    """
    return _convert(amount, unit, WEIGHTS, "gram", "a weight")


def millilitres(amount: float, unit: str) -> float:
    """Volume in millilitres. [ml]

    Raises ValueError for a spelling that is not a volume.

    >>> round(millilitres(0.5, "US fl oz"), 4)
    14.7868
    """
    return _convert(amount, unit, VOLUMES, "milliliter", "a volume")


def label_millilitres(label_ml: "pd.Series", label_fl_oz: "pd.Series") -> "pd.Series":
    """Return the label quantity [ml]: the larger of the two where a label states both, missing where it states none.

    Source: NIST Handbook 133 (2026), 2.3.3: of a dual declaration the larger one is verified, converted unrounded.
    """
    metric, customary = label_ml.astype(float), label_fl_oz.astype(float) * US_FLUID_OUNCE_ML
    return metric.where(~(customary > metric) & metric.notna(), customary)


def exact(number: float) -> Fraction:
    """Return the decimal number that was written in the file, without the error of its binary form.

    >>> exact(0.1) + exact(0.2) == exact(0.3), 0.1 + 0.2 == 0.3
    (True, False)
    """
    return Fraction(str(float(number)))


def kind_of_unit(unit: str) -> str:
    """Say whether a spelling is a 'weight', a 'volume', 'pieces' or '' (not read).

    >>> kind_of_unit(" KG "), kind_of_unit("fl oz")
    ('weight', '')
    """
    name = _folded(unit)
    return "weight" if name in WEIGHTS else "volume" if name in VOLUMES else "pieces" if name in PIECES else ""


def _folded(unit: str) -> str:
    return " ".join(unit.lower().replace(".", "").split())


def _convert(amount: float, unit: str, spellings: dict[str, str], target: str, what: str) -> float:
    name = _folded(unit)
    if name not in spellings:
        raise ValueError(f"'{unit}' is not {what} we read. Use one of: {', '.join(spellings)}.")
    return float(registry().Quantity(amount, spellings[name]).to(target).magnitude)
