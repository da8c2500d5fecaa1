"""Which scent or gift set an item is: by its own name, by a name in shop.toml, or not at all; never by likeness."""

import difflib
import json
import math
import re
import unicodedata
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem

MOST_NAMES_SHOWN = 20  # unknown names with a sentence of their own; the rest are counted
LONGEST_NAME = 200  # characters; in a longer text no size is looked for
LONGEST_CELL = 60  # characters of any cell in a sentence
LONGEST_SHOWN = 100  # characters of a name in a sentence
LEAST_LIKE = 0.5  # names less alike than this (difflib's ratio, 0 to 1) are not offered


class Products(NamedTuple):
    """What can be sold: `names` are scents and gift sets; `contents` says which bottles are in one.

    contents: product (number in names), scent, bottles (in one), of (all bottles in one).
    """

    names: tuple[str, ...]
    contents: pd.DataFrame
    problems: list[Problem]
    sizes: tuple[tuple[float, str], ...] = ()  # label quantity of each scent and its unit, NaN where there is none


def folded_name(text: str) -> str:
    """Return a name as it is compared: without case, accents' spelling, blanks and punctuation.

    >>> folded_name("Rose  & Oud - No. 2") == folded_name("rose &oud no 2")
    True
    """
    plain = unicodedata.normalize("NFKC", text).casefold()
    if plain.isascii():
        return re.sub(r"[\W_]+", "", plain)
    return "".join(letter for letter in plain if letter.isalnum() or _is_picture(letter))


def without_addresses(text: str) -> str:
    """Return text without e-mail addresses: they are nobody's business here, whatever column they stood in.

    >>> without_addresses("Ana <ana@example.org>")
    'Ana <…@…>'
    """
    if text.isalnum() or not any(sign in text for sign in _AT):
        return text
    return _ADDRESS.sub("…@…", text)


_AT = ("@", "\uff20", "%40", "(at)", "[at]")
_ADDRESS = re.compile(r"[^\s<>,;]+ ?(?:@|\uff20|%40|\(at\)|\[at\]) ?[^\s<>,;]+")


def _is_picture(letter: str) -> bool:
    """Say whether it is a flower or a moon, which may be all that tells two names apart; ® and ° are none."""
    return letter > "\u2190" and unicodedata.category(letter) in ("So", "Mc")


def shown(text: str) -> str:
    """Return the text of a cell as a sentence quotes it: not too long, without anybody's address."""
    text = without_addresses(" ".join(text.split()))
    return text if len(text) <= LONGEST_CELL else text[: LONGEST_CELL - 1] + "…"


def products(scents: pd.DataFrame, sets: pd.DataFrame) -> Products:
    """Return what can be sold. A gift set with a scent that is not in scents.csv is left out, with a problem."""
    own = scents["scent"].dropna().astype("str").drop_duplicates()
    known = dict(zip(own.map(folded_name), own, strict=True))
    inside = sets.assign(
        scent=[name if name in set(own) else known.get(folded_name(str(name))) for name in sets["scent"]]
    )
    count = pd.to_numeric(inside["bottles"], errors="coerce").astype("float64")
    wrong = inside["scent"].isna() | ~((count > 0) & (count % 1 == 0))
    problems = [_wrong_set(sets.loc[at]) for at in inside.index[wrong]]
    inside = inside[~inside["set"].isin(inside.loc[wrong, "set"]) & ~inside["set"].isin(own)]
    inside = inside.assign(bottles=count[inside.index].astype("int64"))
    names = (*own, *inside["set"].astype("str").drop_duplicates())
    number = {name: at for at, name in enumerate(names)}
    single = pd.DataFrame({"product": range(len(own)), "scent": own.to_numpy(), "bottles": 1, "of": 1})
    many = pd.DataFrame(
        {
            "product": inside["set"].map(number).astype("int64"),
            "scent": inside["scent"].astype("str"),
            "bottles": inside["bottles"],
            "of": inside.groupby("set")["bottles"].transform("sum").astype("int64"),
        }
    )
    sizes = (*_sizes(scents), *[(math.nan, "")] * (len(names) - len(own)))
    return Products(names, pd.concat([single, many], ignore_index=True), problems, sizes)


def _sizes(scents: pd.DataFrame) -> list[tuple[float, str]]:
    """Return the label quantity of each scent in its own unit, first ml and else US fl oz."""
    first = scents.dropna(subset="scent").drop_duplicates("scent")
    ml, oz = (
        pd.to_numeric(first[name], errors="coerce") if name in first else pd.Series(math.nan, first.index)
        for name in ("label_ml", "label_fl_oz")
    )
    return [(m, "ml") if m > 0 else (o, "oz") for m, o in zip(ml, oz, strict=True)]


def _without_size(item: str) -> tuple[str, float, str] | None:
    """Return an item without the size at its end, and the size; None where it ends in none."""
    found = _SIZE.fullmatch(item.strip())
    if not found:
        return None
    unit = "ml" if found["unit"].casefold() == "ml" else "oz"
    return found["name"], float(found["size"].replace(",", ".")), unit


# "Fig 10 ml", "Fig (10ml)", "Fig - 1/3" is none, "Fig, 0.34 fl. oz"
_SIZE = re.compile(
    r"(?P<name>.*?\w\W*?)[\s(\[,/–-]+(?P<size>[0-9]{1,4}(?:[.,][0-9]{1,3})?)\s?"
    r"(?P<unit>ml|(?:us\s)?(?:fl\.?\s?)?oz\.?)\s?[)\]]?",
    re.IGNORECASE,
)


def _wrong_set(line: pd.Series) -> Problem:
    where = int(line.get("row", 0))
    what = f"the set {line['set']} cannot hold {line['bottles']} of '{line['scent']}'."
    todo = "Write a scent of scents.csv and a whole number; until then sales of the set are set aside."
    return Problem("sets.csv", where, "", what, todo)


def match(items: pd.Index, sold: Products, names: Mapping[str, str]) -> tuple[np.ndarray, dict[str, list[str]]]:
    """Return for each item the number of its product, or -1; and for items that fit several, which.

    An exact name wins over one that differs in case, blanks or punctuation; last, an item that ends in a size is the
    scent of that name if this is what its label says.
    """
    exact = {name: at for at, name in enumerate(sold.names)}
    alike: dict[str, set[int]] = {}
    for name, at in exact.items():
        alike.setdefault(folded_name(name), set()).add(at)
    given: dict[str, set[int]] = {}  # shop.toml's other names, folded
    for other, name in names.items():
        targets = {exact[name]} if name in exact else alike.get(folded_name(name), set())
        given.setdefault(folded_name(other), set()).update(targets)

    def fitting(item: str) -> set[int]:
        text, fold = item.strip(), folded_name(item)
        return {exact[text]} if text in exact else given.get(fold) or (alike.get(fold, set()) if fold else set())

    found = np.full(len(items), -1, dtype="int64")
    several: dict[str, list[str]] = {}
    for at, item in enumerate(items):
        targets = fitting(item)
        if not targets and len(item) <= LONGEST_NAME and (sized := _without_size(item)):
            targets = {at for at in fitting(sized[0]) if sold.sizes and sold.sizes[at] == sized[1:]}
        if len(targets) == 1:
            found[at] = next(iter(targets))
        elif targets:
            several[item] = sorted(sold.names[target] for target in targets)
    return found, several


def unknown_targets(names: Mapping[str, str], sold: Products) -> list[Problem]:
    """Say which other names in shop.toml stand for something that is no scent and no gift set."""
    known = {folded_name(name) for name in sold.names}
    what = "'{}' is to stand for {}, which is neither in scents.csv nor in sets.csv."
    return [
        Problem("shop.toml", 0, "names", what.format(other, name), "Correct the name behind the =.")
        for other, name in names.items()
        if folded_name(name) not in known
    ]


def unknown_names(aside: pd.DataFrame, sold: Products) -> list[Problem]:
    """Say which names nothing is known of, most bottles first, with the nearest known name and the line to paste.

    `aside` has one row for each line set aside for its name: file, row, item, bottles.
    """
    names = aside["item"].astype("str").str.strip().map(without_addresses)
    table = aside.assign(name=names, bottles=aside["bottles"].abs())
    stakes = table.groupby("name", sort=True).agg(
        bottles=("bottles", "sum"), lines=("row", "size"), file=("file", "first"), row=("row", "first")
    )
    stakes = stakes.sort_values(["bottles", "lines"], ascending=False, kind="stable")
    first, rest = stakes.iloc[:MOST_NAMES_SHOWN], stakes.iloc[MOST_NAMES_SHOWN:]
    problems = [_unknown(str(name), line, sold) for name, line in first.iterrows()]
    if len(rest):
        more, bottles = counted(len(rest), "more name"), counted(rest["bottles"].sum(), "bottle")
        what = f"{more} not in scents.csv, with {bottles} at stake."
        problems.append(Problem("sales", 0, "", what, "They are listed in set-aside.csv."))
    return problems


def _unknown(name: str, line: pd.Series, sold: Products) -> Problem:
    stake = f"{counted(line['lines'], 'line')} with {counted(line['bottles'], 'bottle')} set aside"
    if len(name) > LONGEST_SHOWN:
        what = f"'{name[:LONGEST_SHOWN]}…' is too long for the name of an item: {stake}."
        return Problem(
            line["file"], int(line["row"]), "", what, "Look at that row, or take another column for the item."
        )
    what = f"'{name}' is not in scents.csv: {stake}."
    by_fold = {folded_name(known): known for known in sold.names}
    near = difflib.get_close_matches(folded_name(name), by_fold, 1, LEAST_LIKE)
    todo = f"Add it to scents.csv, or write {quoted(name)} into the list not_products at the top of shop.toml."
    if "…@…" in name:
        todo = "It holds an address: take another column for the item, or correct it in the file."
    elif near:
        known = by_fold[near[0]]
        todo = (
            f"If it is {known}, write under [names] in shop.toml: {quoted(name)} = {quoted(known)}. Otherwise: {todo}"
        )
    return Problem(line["file"], int(line["row"]), "", what, todo)


def quoted(text: str) -> str:
    """Return text as TOML wants it between quotes."""
    return json.dumps(text, ensure_ascii=False)


def counted(number: float, word: str) -> str:
    """Return a number with its word.

    >>> counted(1, "line"), counted(2000, "line")
    ('1 line', '2,000 lines')
    """
    return f"{int(number):,} {word}{'' if number == 1 else 's'}"
