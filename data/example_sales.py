"""The sales files of the invented shop: two web shops that overlap, a card reader, a sheet of stockists."""

from collections import Counter
from typing import NamedTuple

import numpy as np
import pandas as pd
from example_facts import SET, SET_PRICE
from example_supply import Shop, Sold
from example_wants import BLACK_FRIDAY, TODAY

OLD_SHOP_UNTIL, NEW_SHOP_FROM = pd.Timestamp("2025-09-30"), pd.Timestamp("2025-08-01")
DEARER_FROM, DEARER_BY, SET_DEARER_BY = pd.Timestamp("2025-02-01"), 1.0, 3.0
TRADE_SHARE, SALE_SHARE = 0.55, 0.85  # of the price: stockists; the four days from Black Friday in the web shop
REFUNDED = 0.013  # share of web lines that are refunded
ORDER_SIZES, SIZE_CHANCES = (1, 2, 3, 4), (0.5, 0.3, 0.15, 0.05)
PAIR_AT_MARKET = 0.15  # chance that a bottle at the market goes with a second one alike
OLD_NAMES = {  # until when the old shop used another name
    "Quince Ember": ("Quince Embers", pd.Timestamp("2024-06-01")),
    "Saltmarsh Rose": ("Rose of the Saltmarsh", pd.Timestamp("2024-03-01")),
}
MARKET_NAMES = {"Amber Tern Mini": "Amber Tern small", SET: "Trio Box"}
CUSTOMERS = 400  # as many made-up customers: "Customer 17", customer17@example.org
LINE = ["day", "time", "channel", "order", "item", "bottles", "price", "kind"]
NOTHING = "other"  # kind of lines that are no scent of ours: postage, wrapping, things nobody knows
STOCKISTS = ("Ardnamona Gallery", "Kilmarrow Gifts", "The Lantern Room")


class Lines(NamedTuple):
    """Every line that the tills wrote, and the texts of the sales files by name."""

    lines: pd.DataFrame
    files: dict[str, str]


def sales_files(shop: Shop, prices: dict[str, float], rng: np.random.Generator) -> Lines:
    """Write what was sold the way three tills and a notebook would."""
    web = pd.DataFrame(_web_lines(shop.sold, prices, rng), columns=LINE)
    web = pd.concat([web, _refunds(web, rng), _written_off(shop.sold)]).sort_values(
        ["day", "time", "order"], kind="stable"
    )
    market = pd.DataFrame(_market_lines(shop.sold, prices, rng), columns=LINE)
    trade = pd.DataFrame(_trade_lines(shop.sold, prices), columns=LINE)
    files = {
        "web_old_shop_2023-2025.csv": _old_shop(web[web["day"] <= OLD_SHOP_UNTIL], rng),
        "web_new_shop_2025-2026.csv": _new_shop(web[web["day"] >= NEW_SHOP_FROM]),
        "card_reader.csv": _card_reader(market, rng),
        "stockists.csv": _stockists(trade),
    }
    return Lines(pd.concat([web, market, trade], ignore_index=True), files)


def price_on(day: pd.Timestamp, channel: str, item: str, prices: dict[str, float]) -> float:
    """Price of one bottle or set that day. [EUR]"""
    price = SET_PRICE if item == SET else prices[item]
    if day < DEARER_FROM:
        price -= SET_DEARER_BY if item == SET else DEARER_BY
    if channel == "wholesale":
        return round(price * TRADE_SHARE, 2)
    friday = pd.Timestamp(BLACK_FRIDAY[day.year])
    on_sale = channel == "web" and friday <= day <= friday + pd.Timedelta(days=3)
    return round(price * SALE_SHARE, 2) if on_sale else price


def _web_lines(sold: list[Sold], prices: dict[str, float], rng: np.random.Generator) -> list[tuple]:
    web = [line for line in sold if line.channel == "web" and line.order != "write-off"]
    lines, at, number = [], 0, 1001
    while at < len(web):
        day = web[at].day
        size = int(rng.choice(ORDER_SIZES, p=SIZE_CHANCES))
        basket = [line for line in web[at : at + size] if line.day == day]
        at += len(basket)
        order, time = f"W{number}", f"{rng.integers(7, 23):02d}:{rng.integers(60):02d}"
        number += 1
        lines += [(day, time, "web", order, *part) for part in _basket(basket, prices)]
        lines += [(day, time, "web", order, *part) for part in _extras(day, rng)]
    return lines


def _basket(basket: list[Sold], prices: dict[str, float]) -> list[tuple]:
    """Items of one order: name, bottles, price, kind."""
    count = Counter((line.item, "free" if line.order == "free" else "sale") for line in basket)
    day = basket[0].day
    return [
        (item, bottles, 0.0 if kind == "free" else price_on(day, "web", item, prices), kind)
        for (item, kind), bottles in count.items()
    ]


def _extras(day: pd.Timestamp, rng: np.random.Generator) -> list[tuple]:
    extras = [("Postage", 1, 5.5, NOTHING)] if rng.random() < 0.06 else []
    if day.month in (11, 12) and rng.random() < 0.06:
        extras.append(("Gift wrap", 1, 2.5, NOTHING))
    return extras


def _refunds(web: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Return refund lines: one bottle or set back one to two weeks later, with an R before the order number."""
    back = web[(web["kind"] == "sale") & (rng.random(len(web)) < REFUNDED)]
    days = back["day"] + pd.to_timedelta(rng.integers(6, 15, size=len(back)), unit="D")
    back = back.assign(day=days, time="09:00", order="R" + back["order"], bottles=-1, kind="refund")
    return back[back["day"] < TODAY]


def _written_off(sold: list[Sold]) -> pd.DataFrame:
    gone = pd.DataFrame([line for line in sold if line.order == "write-off"], columns=list(Sold._fields))
    gone = gone.groupby(["day", "item"], as_index=False).size()
    return pd.DataFrame(
        [
            (line.day, "18:00", "web", "", line.item, -line.size, 0.0, "write-off")
            for line in gone.itertuples(index=False)
        ],
        columns=LINE,
    )


def _market_lines(sold: list[Sold], prices: dict[str, float], rng: np.random.Generator) -> list[tuple]:
    market = [line for line in sold if line.channel == "market"]
    lines = []
    for (day, item), left in Counter((line.day, line.item) for line in market).items():
        while left:
            pair = 2 if left > 1 and rng.random() < PAIR_AT_MARKET else 1
            time = f"{rng.integers(10, 17):02d}:{rng.integers(60):02d}"
            lines.append((day, time, "market", "", item, pair, price_on(day, "market", item, prices), "sale"))
            left -= pair
    lines.append((pd.Timestamp("2025-11-16"), "15:40", "market", "", "Fig Boathouse", -1, 18.0, "refund"))
    return sorted(lines)


def _trade_lines(sold: list[Sold], prices: dict[str, float]) -> list[tuple]:
    trade = [line for line in sold if line.channel == "wholesale"]
    count = Counter((line.day, line.order, line.item) for line in trade)
    return [
        (day, "", "wholesale", order, item, bottles, price_on(day, "wholesale", item, prices), "sale")
        for (day, order, item), bottles in count.items()
    ]


def _old_shop(web: pd.DataFrame, rng: np.random.Generator) -> str:
    """Write the old web shop's export: commas, year first, customers, old names, two rows that cannot be read."""
    lines = ["Order,Ordered at,Customer,Email,Product,Quantity,Price each"]
    customers = {order: int(rng.integers(1, CUSTOMERS)) for order in web["order"].str.lstrip("R").unique()}
    for line in web.itertuples(index=False):
        who = customers[line.order.lstrip("R")]
        name, until = OLD_NAMES.get(line.item, ("", TODAY))
        item = name if name and line.day < until else line.item
        person = f"Customer {who},customer{who}@example.org" if line.order else ","
        lines.append(f"{line.order},{line.day.date()} {line.time},{person},{item},{line.bottles},{line.price:.2f}")
    lines.insert(1212, "W0901,2024-13-02 10:05,Customer 9,customer9@example.org,Tidewrack,1,17.00")
    lines.insert(2120, "W0902,2025-01-21 16:31,Customer 31,customer31@example.org,Larkmilk,two,16.00")
    lines.insert(820, "W0903,2024-02-10 12:19,Customer 77,customer77@example.org,Sea-glass candle,1,14.00")
    lines.insert(822, "W0904,2024-02-10 15:02,Customer 78,customer78@example.org,Sea-glass candle,2,14.00")
    return "\n".join(lines) + "\n"


def _new_shop(web: pd.DataFrame) -> str:
    """Write the new web shop's export: semicolons, day first, decimal comma, a status, sizes in the names."""
    lines = ["Date;Time;Order no.;Article;Pieces;Unit price;Status"]
    status = {"refund": "refunded", "write-off": "adjusted"}
    for line in web.itertuples(index=False):
        size = "" if line.kind == NOTHING or line.item == SET else " 5 ml" if line.item.endswith("Mini") else " 10 ml"
        price = f"{line.price:.2f}".replace(".", ",")
        day = f"{line.day:%d/%m/%Y};{line.time};{line.order}"
        lines.append(f"{day};{line.item}{size};{line.bottles};{price};{status.get(line.kind, 'paid')}")
    return "\n".join(lines) + "\n"


def _card_reader(market: pd.DataFrame, rng: np.random.Generator) -> str:
    """Write the card reader's export: no order numbers, the amount of the line, names keyed in by hand."""
    lines = ["Sale date,Time,Item,Qty,Amount"]
    for line in market.itertuples(index=False):
        item = MARKET_NAMES.get(line.item, line.item)
        item = item.lower() if rng.random() < 0.05 else item
        lines.append(f"{line.day:%d-%m-%Y},{line.time},{item},{line.bottles},{line.bottles * line.price:.2f}")
    days = [day for day in sorted(market["day"].unique()) if day.month in (11, 12)]
    lines += [f"{day:%d-%m-%Y},16:55,Gift bag,3,3.00" for day in days]
    lines += [f"{day:%d-%m-%Y},16:58,Custom amount,1,12.50" for day in days[:4]]
    return "\n".join(lines) + "\n"


def _stockists(trade: pd.DataFrame) -> str:
    """Write the sheet of stockists' orders, with a month where a day should stand."""
    lines = ["Day,Order,Stockist,Scent,Bottles,Each"]
    for line in trade.itertuples(index=False):
        who = STOCKISTS[int(line.order[2:]) % len(STOCKISTS)]
        lines.append(f"{line.day.date()},{line.order},{who},{line.item},{line.bottles},{line.price:.2f}")
    lines.append("March 2025,S-04b,Kilmarrow Gifts,Moss Parade,6,9.35")
    return "\n".join(lines) + "\n"
