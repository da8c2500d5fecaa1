"""Which items are no product: as shop.toml says, or by what tills and shops write on such lines."""

import difflib
import re
from collections.abc import Sequence
from fnmatch import fnmatchcase
from itertools import pairwise

import numpy as np

from planner.sales.names import folded_name

NOT_A_PRODUCT = "It is not a product."  # shop.toml says so
TAKEN_FOR = re.compile(r"It is (.+), not a product\.")  # so do the words of the item

# words and pairs of words, without blanks and case, in languages of Europe and America; common practice, no source
_WORDS = {
    "postage": "postage shipping delivery handling carriage freight pp versand versandkosten porto lieferung livraison "
    "fraisdeport envío envio portes spedizione frete verzending verzendkosten bezorging fragt frakt toimitus wysyłka",
    "a discount": "discount coupon promocode rabatt gutscheincode remise réduction descuento desconto sconto korting "
    "rabat alennus",
    "a gift card": "giftcard giftcards giftvoucher giftcertificate storecredit voucher gutschein geschenkgutschein "
    "geschenkkarte cartecadeau bonachat tarjetaregalo valeregalo cartaregalo buonoregalo cadeaubon cadeaukaart "
    "gavekort presentkort lahjakortti",
    "a fee": "fee fees surcharge gebühr gebühren frais comisión comissão taxadeserviço commissione kosten gebyr avgift",
    "a tip": "tip tips gratuity trinkgeld pourboire propina gorjeta mancia fooi drikkepenge dricks",
    "tax": "tax salestax vat gst hst mwst ust umsatzsteuer mehrwertsteuer tva iva btw moms mva alv",
    "a rounding": "rounding rundung arrondi redondeo arredondamento arrotondamento afronding avrunding öresavrundning",
}
_KIND = {word: kind for kind, words in _WORDS.items() for word in words.split()}
LONGEST = 80  # characters; a longer text is a sentence in which such a word says nothing


def no_product(item: str) -> str:
    """Return what an item is instead of a product, blank where its words do not tell.

    >>> no_product("UK Postage (2nd class)"), no_product("Gift card 25"), no_product("Fig & Moss")
    ('postage', 'a gift card', '')
    """
    words = re.findall(r"[^\W\d_]+", item.casefold()) if len(item) <= LONGEST else []
    pairs = [first + second for first, second in pairwise(words)]
    return next((_KIND[word] for word in [*pairs, *words] if word in _KIND), "")


def why_no_products(
    items: Sequence[str], is_known: Sequence[bool], not_products: Sequence[str], names: Sequence[str]
) -> np.ndarray:
    """Return for each item the reason why it is no product, "" where it may be one.

    In `not_products`, * stands for anything but the name of a scent or gift set (`is_known`). What is one of them, or
    is like one of their `names` or holds it, is not judged by its words: it may be that scent.
    """
    plain = {folded_name(name) for name in not_products if "*" not in name}
    patterns = [name.casefold() for name in not_products if "*" in name]
    folds = [fold for fold in map(folded_name, names) if fold]
    why = []
    for item, known in zip(map(str.strip, items), is_known, strict=True):
        by_pattern = not known and any(fnmatchcase(item.casefold(), one) for one in patterns)
        stated = folded_name(item) in plain or by_pattern
        kind = "" if stated or known else no_product(item)
        if kind and _may_be_one_of(folded_name(item), folds):
            kind = ""
        why.append(NOT_A_PRODUCT if stated else f"It is {kind}, not a product." if kind else "")
    return np.array(why, dtype=object)


def _may_be_one_of(fold: str, folds: Sequence[str]) -> bool:
    """Say whether an item holds one of the names, begins as one does, or is nearly one."""
    near = any(known in fold or fold.startswith(known[:LIKE_BEGINNING]) for known in folds if len(known) > 1)
    return near or bool(difflib.get_close_matches(fold, folds, 1, LIKE))


LIKE_BEGINNING = 6  # letters; "tipoft" is no word that tills write
LIKE = 0.75  # difflib's ratio, 0 to 1
