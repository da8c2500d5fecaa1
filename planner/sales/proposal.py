"""How a file that shop.toml does not know may be read: lines to paste, proposed from its headings."""

import json

import pandas as pd

from planner.problems import Problem
from planner.sales.evidence import asked_for, date_evidence, decimal_evidence
from planner.sales.layout import folded, headings_of, text_parts
from planner.sales.names import counted
from planner.sales.reading import read_lines, sheet_part
from planner.sales.spreadsheet import sheets
from planner.sales.text import first_bytes, first_lines, is_spreadsheet, text_encoding
from planner.settings import Export
from planner.tables import SalesFile

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


def proposal(file: SalesFile, today: pd.Timestamp) -> Problem:
    """Return the problem that no [[export]] fits the file, with the evidence and the lines to paste.

    Raises MakerError where the file cannot be read at all.
    """
    what = "no [[export]] in shop.toml says how to read it."
    columns = _columns(file)
    if not all(name in columns for name in NEEDED):
        todo = "Add one: files, source, channel, and columns with the headings for day, item and bottles."
        return Problem(file.name, 0, "", what, todo)
    start = file.name.rsplit(".", 1)[0].split("/")[-1]
    export = Export(file.name, start, "web", columns)
    lines = read_lines(file, export).lines
    order, decimal = date_evidence(lines["day"], today), decimal_evidence(lines)
    evidence = f"It has {counted(len(lines), 'line')}; {order.sentence('day')}; "
    signs = {"with a decimal dot": decimal.only["."], "with a decimal comma": decimal.only[","]}
    evidence += f"{decimal._replace(only=signs).sentence('number')}."
    pairs = ", ".join(f"{name} = {_quoted(heading)}" for name, heading in columns.items())
    todo = (
        "Add these lines and correct them:\n"
        f"[[export]]\nfiles = {_quoted(file.name)}\nsource = {_quoted(start)}\n"
        f'channel = "web"\ncolumns = {{ {pairs} }}\n'
        f"{asked_for('date_order', order)}\n{asked_for('decimal', decimal)}"
    )
    return Problem(file.name, 0, "", f"{what} {evidence}", todo)


def _quoted(text: str) -> str:
    """Return text as TOML wants it between quotes."""
    return json.dumps(text, ensure_ascii=False)


def _columns(file: SalesFile) -> dict[str, str]:
    """Return the likeliest headings from the row under which most are found."""
    head = first_bytes(file)
    if is_spreadsheet(file, head):
        parts = list(map(sheet_part, *zip(*enumerate(sheets(file, ".").tables), strict=True)))
    else:
        parts = list(text_parts(first_lines(head, text_encoding(file, head).name)))
    found = [_fitting(cells) for part in parts for _, cells in headings_of(part)]
    return max(found, key=len, default={})


def _fitting(cells: list[str]) -> dict[str, str]:
    by_fold = {folded(cell).replace("_", " "): cell for cell in reversed(cells)}
    found: dict[str, str] = {}
    for name, words in WORDS.items():
        hit = next((by_fold[word] for word in words if word in by_fold), None)
        if hit is not None and hit not in found.values():
            found[name] = hit
    return found
