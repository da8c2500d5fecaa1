"""How a file that shop.toml does not know may be read: lines to paste, proposed from its headings."""

import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

import pandas as pd

from planner.month_names import month_number
from planner.problems import Problem
from planner.sales.by_content import by_content, months_in
from planner.sales.evidence import asked_for, date_evidence, decimal_evidence, with_signs
from planner.sales.layout import headings_of, text_parts
from planner.sales.names import counted, folded_name, quoted
from planner.sales.questions import refund_words, status_line
from planner.sales.reading import read_lines, sheet_part
from planner.sales.spreadsheet import sheets
from planner.sales.text import first_bytes, first_lines, is_spreadsheet, text_encoding
from planner.settings import Export
from planner.tables import SalesFile, listed

# words that headings have, as shops in several languages write them; the earlier a word stands here, the better it fits
_WORDS = {
    "day": "date; day; sale date; order date; invoice date; transaction date; sold on; datetime; created; time; "
    "datum; verkaufsdatum; bestelldatum; fecha; data; dato; päivä; päivämäärä",
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


class Proposal(NamedTuple):
    """The problem that no [[export]] fits a file, with the lines to paste, and how many lines it has where known."""

    problem: Problem
    lines: int = 0


def proposal(file: SalesFile, today: pd.Timestamp, known: Iterable[str] = ()) -> Proposal:
    """Return how a file may be read that no [[export]] fits: the evidence, and the lines to paste.

    A column whose heading is in no list is told by what stands in it; `known` are the shop's scents and gift sets.
    Raises MakerError where the file cannot be read at all.
    """
    what = "no [[export]] in shop.toml says how to read it."
    guess = _guess(file, frozenset(map(folded_name, known)))
    source, files = _source_of(file.name)
    if guess is None:
        todo = "Write one above its first row, like Date, Item, Bottles, and add an [[export]] with them."
        return Proposal(Problem(file.name, 0, "", f"{what} It has no row of headings.", todo))
    columns, months = guess
    if months > 1 and "item" in columns:
        what += f" {counted(months, 'column')} of it are months."
        return Proposal(
            Problem(file.name, 0, "", what, _lines_to_paste(files, source, {"item": columns["item"]}, MONTHS))
        )
    if not all(name in columns for name in NEEDED):
        missing = listed([name for name in NEEDED if name not in columns])
        what += f" What is in it does not tell which column is {missing}."
        todo = "Add one: files, source, channel, and columns with the headings for day, item and bottles."
        return Proposal(Problem(file.name, 0, "", what, todo))
    export = Export(file.name, source, "web", columns)
    lines = read_lines(file, export).lines
    order, decimal = date_evidence(lines["day"], today), decimal_evidence(lines)
    said = "its days begin with their year" if order.choice == "year-first" else order.sentence("day")
    found = [counted(len(lines), "line"), said]
    found += [with_signs(decimal).sentence("number")] if any(decimal.only.values()) or decimal.either else []
    evidence = f"It has {'; '.join(found)}."
    settings = [asked_for("date_order", order), asked_for("decimal", decimal)]
    settings += [status_line(words)] if (words := refund_words(lines["status"])) else []
    return Proposal(
        Problem(file.name, 0, "", f"{what} {evidence}", _lines_to_paste(files, source, columns, settings)), len(lines)
    )


def _source_of(name: str) -> tuple[str, str]:
    """Return the likely source of a file and the pattern of its files: exports differ by a month, a year or a copy.

    >>> _source_of("web-2026-01.csv"), _source_of("orders jan.xlsx"), _source_of("till.csv")
    (('web', 'web*.csv'), ('orders', 'orders*.xlsx'), ('till', 'till.csv'))
    """
    stem, dot, kind = name.rpartition(".") if "." in name else (name, "", "")
    parts = re.split(r"([-_ .(]+)", stem)
    first, last = 0, len(parts)
    while last - first > 2 and _is_a_part_of_a_date(parts[last - 1]):
        last -= 2
    while last - first > 2 and _is_a_part_of_a_date(parts[first]):
        first += 2
    middle = "".join(parts[first:last])
    if _is_a_part_of_a_date(middle):
        return stem.rpartition("/")[2], name
    return middle.rpartition("/")[2], f"{'*' * (first > 0)}{middle}{'*' * (last < len(parts))}{dot}{kind}"


def _is_a_part_of_a_date(word: str) -> bool:
    return not word or word[0].isdigit() or word.casefold() in _COPIES or bool(month_number(word))


_COPIES = frozenset(
    ["to", "copy", "new", "old", "kopie", "neu", "alt", "copie", "copia", "export", "until", "bis", "au", "al"]
)


MONTHS = ("months_across = true",)


def _lines_to_paste(files: str, source: str, columns: dict[str, str], settings: Sequence[str]) -> str:
    pairs = ", ".join(f"{column} = {quoted(heading)}" for column, heading in columns.items())
    lines = (
        "[[export]]",
        f"files = {quoted(files)}",
        f"source = {quoted(source)}",
        'channel = "web"',
        f"columns = {{ {pairs} }}",
        *settings,
    )
    return "\n".join(("Add these lines and correct them:", *lines))


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
    by_fold = {folded_name(cell): cell for cell in reversed(cells)}  # "InvoiceNo" is "Invoice no."
    found: dict[str, str] = {}
    for name, words in WORDS.items():
        hit = next((by_fold[word] for word in map(folded_name, words) if word in by_fold), None)
        if hit is not None and hit not in found.values():
            found[name] = hit
    return found
