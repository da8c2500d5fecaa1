from datetime import date

import pytest

from planner.problems import MakerError
from planner.settings import Bench, Channel, Export, read_settings

SHOP = """
name = "Test shop"
currency = "EUR"
today = "2026-09-28"
money_available = 900
not_products = ["Postage"]
[season]
first_day = 2026-10-19
last_day = 2026-12-17
[bench]
days = ["Tue", "Sat"]
days_off = [2026-10-31]
[[channel]]
name = "web"
fee_pct = 4
[[export]]
files = "web-*.csv"
source = "web shop"
channel = "web"
columns = { day = "Date", item = "Item", bottles = "Qty", price = "Price", order = "Order" }
[[vessel]]
name = "jug"
holds_ml = 1000
[names]
"old" = "New"
[posting]
Germany = 2026-12-17
"""


def test_everything_stated_is_read():
    settings = read_settings(SHOP)
    assert settings.today == date(2026, 9, 28)
    assert settings.money_available == 900.0
    assert settings.bench == Bench(days=("Tue", "Sat"), days_off=(date(2026, 10, 31),))
    assert settings.channels == (Channel("web", fee_pct=4.0),)
    assert settings.exports[0].columns["day"] == "Date"
    assert settings.vessels[0].holds_ml == 1000.0
    assert settings.names == {"old": "New"}
    assert settings.posting == {"Germany": date(2026, 12, 17)}


def test_a_channel_nobody_described_is_open_every_day_without_fees():
    assert read_settings(SHOP).channel("market") == Channel("market")


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("900", '"x"', "shop.toml: money_available is 'x'. Write a plain number with a dot, no quotes."),
        ('["Postage"]', '"Postage"', "shop.toml: not_products is 'Postage'. Write a list: not_products = "),
        ("2026-12-17\n[bench", "2026-02-17\n[bench", r"\[season\]: the season ends on 2026-02-17, before it begins"),
        ('name = "Test shop"', "", "shop.toml: lacks name. Add it."),
        (
            "holds_ml = 1000",
            "hold_ml = 3",
            r"\[\[vessel\]\] 1: has 'hold_ml', which is not a setting. Did you mean holds_ml",
        ),
        ("holds_ml = 1000", "holds_ml = -3", "holds_ml is more than 0, not -3.0."),
        ("[names]", "[names", "shop.toml: cannot be read: .*line 24.* missing quote or bracket"),
        ("[[vessel]]", "[vessel]", r"vessel: stands once in single brackets. Write \[\[vessel\]\]"),
        ('"Tue"', '"Tuesday"', "days has 'Tuesday'. Write Mon, Tue"),
        ("2026-10-31", '"31 October"', "days_off is '31 October', which is not a day. Write it like 2026-12-17."),
        ('day = "Date", ', "", "columns does not say which heading is day."),
        ("fee_pct = 4", "fee_pct = 400", "fee_pct is a percentage from 0 up to 100, not 400.0."),
        ("fee_pct = 4", 'open = "never"', "open is one of every day, market days, to order, not 'never'."),
    ],
)
def test_nonsense_is_refused_in_a_sentence_that_says_what_to_do(old, new, sentence):
    assert old in SHOP
    with pytest.raises(MakerError, match=sentence):
        read_settings(SHOP.replace(old, new, 1))


def test_records_refuse_nonsense_made_in_code_too():
    with pytest.raises(ValueError, match="date_order is one of"):
        Export("*.csv", "web", "web", {"day": "a", "item": "b", "bottles": "c"}, date_order="random")


EXPORT = {"day": "a", "item": "b", "bottles": "c"}
NONSENSE = [
    ({"columns": {"item": "b", "day": "a"}, "months_across": True}, "columns has day, but months_across takes them"),
    ({"columns": {"price": "b"}, "months_across": True}, "columns does not say which heading is item"),
    ({"columns": EXPORT, "language": "klingon"}, "language is one of bg, ca, .*, not 'klingon'"),
    ({"columns": EXPORT, "wholesale_from": -1}, "wholesale_from is 0 or more bottles, not -1"),
    ({"columns": EXPORT, "decimal": ";"}, "decimal is '.' or ',', not ';'"),
]


@pytest.mark.parametrize(("fields", "sentence"), NONSENSE)
def test_an_export_refuses_nonsense(fields, sentence):
    with pytest.raises(ValueError, match=sentence):
        Export("*.csv", "web", "web", **fields)


def test_an_export_need_not_state_what_its_file_tells():
    assert Export("*.csv", "web", "web", EXPORT).date_order == Export("*.csv", "web", "web", EXPORT).decimal == ""


def test_what_belongs_at_the_top_is_told_where_it_belongs():
    text = 'name = "s"\ncurrency = "EUR"\n[[export]]\nfiles = "*"\nsource = "s"\nchannel = "web"\n'
    text += 'columns = {item = "I"}\n'
    with pytest.raises(MakerError, match=r"\[\[export\]\] 1: has 'not_products', .* Move it to the top of shop.toml"):
        read_settings(text + 'not_products = ["Wax"]\n')


def test_a_heading_that_stands_twice_is_told_as_such():
    with pytest.raises(MakerError, match="Something stands twice: put the lines below one heading"):
        read_settings('name = "s"\ncurrency = "EUR"\n[names]\n"a" = "b"\n[names]\n"c" = "d"\n')


def test_the_export_of_a_file_is_found_whatever_the_case_of_its_name():
    text = 'name = "s"\ncurrency = "EUR"\n[[export]]\nfiles = "web*.csv"\nsource = "s"\nchannel = "web"\n'
    shop = read_settings(text + 'columns = {item = "I"}\nmonths_across = true\n')
    assert shop.export_of("WEB1.CSV") is shop.exports[0]
    assert shop.export_of("till.csv") is None
