"""How a file that shop.toml does not know may be read: lines to paste, proposed from its headings."""

import json
import re
from collections.abc import Iterable
from typing import NamedTuple

import pandas as pd

from planner.problems import Problem
from planner.sales.by_content import by_content, months_in
from planner.sales.evidence import asked_for, date_evidence, decimal_evidence, with_signs
from planner.sales.layout import folded, headings_of, text_parts
from planner.sales.names import counted, folded_name
from planner.sales.reading import read_lines, sheet_part
from planner.sales.spreadsheet import sheets
from planner.sales.text import first_bytes, first_lines, is_spreadsheet, text_encoding
from planner.settings import Export
from planner.tables import SalesFile, listed

# words that headings have, as shops in several languages write them; the earlier a word stands here, the better it fits
_WORDS = {
    "day": "date; day; sale date; order date; sold on; datetime; created; time; datum; verkaufsdatum; bestelldatum; "
    "fecha; data; dato; päivä; päivämäärä",
    "item": "item; product; scent; item name; product name; article; title; name; sku; description; artikel; produkt; "
    "artikelname; bezeichnung; produit; artículo; producto; articolo; prodotto; artigo; produto; vare; vara; tuote",
    "bottles": "bottles; quantity; qty; units; pieces; pcs; count; number sold; menge; anzahl; stück; quantité; qté; "
    "cantidad; quantità; quantidade; aantal; antal; ilość; määrä",
    "price": "unit price; price each; price; item price; each; einzelpreis; stückpreis; preis; prix unitaire; prix; "
    "precio unitario; precio; prezzo unitario; prezzo; preço; stuksprijs; prijs; pris; cena; hinta",
    "amount": "amount; line total; total; net sales; gross sales; summe; betrag; gesamt; montant; importe; importo; "
    "valor; bedrag; beløb; belopp; kwota; summa",
    "order": "order; order number; order id; order no; order no.; invoice; invoice no; receipt; receipt no; "
    "transaction id; bestellung; bestellnummer; rechnung; commande; pedido; ordine; bestelling; ordre; zamówienie",
    "status": "status; order status; kind; type; état; estado; stato; tila",
}
WORDS = {name: tuple(words.split("; ")) for name, words in _WORDS.items()}
NEEDED = ("day", "item", "bottles")


def proposal(file: SalesFile, today: pd.Timestamp, known: Iterable[str] = ()) -> Problem:
    """Return the problem that no [[export]] fits the file, with the evidence and the lines to paste.

    A column whose heading is in no list is told by what stands in it; `known` are the shop's scents and gift sets.
    Raises MakerError where the file cannot be read at all.
    """
    what = "no [[export]] in shop.toml says how to read it."
    guess = _guess(file, frozenset(map(folded_name, known)))
    start = file.name.rsplit(".", 1)[0].split("/")[-1]
    if guess is None:
        todo = "Write one above its first row, like Date, Item, Bottles, and add an [[export]] with them."
        return Problem(file.name, 0, "", f"{what} It has no row of headings.", todo)
    columns, months = guess
    if months > 1 and "item" in columns:
        what += f" {counted(months, 'column')} of it are months."
        return Problem(file.name, 0, "", what, _lines_to_paste(file.name, start, {"item": columns["item"]}, MONTHS))
    if not all(name in columns for name in NEEDED):
        missing = listed([name for name in NEEDED if name not in columns])
        what += f" What is in it does not tell which column is {missing}."
        todo = "Add one: files, source, channel, and columns with the headings for day, item and bottles."
        return Problem(file.name, 0, "", what, todo)
    export = Export(file.name, start, "web", columns)
    lines = read_lines(file, export).lines
    order, decimal = date_evidence(lines["day"], today), decimal_evidence(lines)
    found = [counted(len(lines), "line"), order.sentence("day")]
    found += [with_signs(decimal).sentence("number")] if any(decimal.only.values()) or decimal.either else []
    evidence = f"It has {'; '.join(found)}."
    settings = (asked_for("date_order", order), asked_for("decimal", decimal))
    return Problem(file.name, 0, "", f"{what} {evidence}", _lines_to_paste(file.name, start, columns, settings))


MONTHS = ("months_across = true",)


def _lines_to_paste(name: str, source: str, columns: dict[str, str], settings: tuple[str, ...]) -> str:
    pairs = ", ".join(f"{column} = {_quoted(heading)}" for column, heading in columns.items())
    lines = (
        "[[export]]",
        f"files = {_quoted(name)}",
        f"source = {_quoted(source)}",
        'channel = "web"',
        f"columns = {{ {pairs} }}",
        *settings,
    )
    return "\n".join(("Add these lines and correct them:", *lines))


def _quoted(text: str) -> str:
    """Return text as TOML wants it between quotes."""
    return json.dumps(text, ensure_ascii=False)


class _Guess(NamedTuple):
    """The likeliest headings: which column is what, and how many columns are months."""

    columns: dict[str, str]
    months: int


def _guess(file: SalesFile, known: frozenset[str]) -> _Guess | None:
    """Return what the row tells under which most is found; None where no row can be the headings."""
    head = first_bytes(file)
    if is_spreadsheet(file, head):
        parts = list(map(sheet_part, *zip(*enumerate(sheets(file, ".").tables), strict=True)))
    else:
        parts = list(text_parts(first_lines(head, text_encoding(file, head).name)))
    guesses = []
    for part in parts:
        for at, cells in headings_of(part):
            columns, months = _fitting(cells), months_in(cells)
            if _are_headings(cells) and not all(name in columns for name in NEEDED) and at <= MOST_TRIED:
                more = dict(by_content(cells, part.rows[at:], columns.values(), known))
                columns = more | columns
            if columns or _are_headings(cells):
                guesses.append(_Guess(columns, months))
    return max(guesses, key=lambda guess: (min(guess.months, 2), len(guess.columns)), default=None)


MOST_TRIED = 12  # rows from the top that are taken for headings and tried by what stands below them


def _are_headings(cells: list[str]) -> bool:
    """Say whether a row can be headings: two words or more, all different, none a number or a day."""
    words = [cell.strip() for cell in cells if cell.strip()]
    return len(words) > 1 and len(set(words)) == len(words) and not any(re.search("[0-9]{2}", word) for word in words)


def _fitting(cells: list[str]) -> dict[str, str]:
    by_fold = {folded(cell).replace("_", " "): cell for cell in reversed(cells)}
    found: dict[str, str] = {}
    for name, words in WORDS.items():
        hit = next((by_fold[word] for word in words if word in by_fold), None)
        if hit is not None and hit not in found.values():
            found[name] = hit
    return found
