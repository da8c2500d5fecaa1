"""Small tables by hand for the tests of the shelf."""

import pandas as pd

from planner.settings import Channel, Settings
from planner.shelf import shelf_days
from planner.tables import FILES, empty

WEB = Settings(name="Test", currency="EUR", channels=(Channel("web"),))
WEB_AND_MARKET = Settings("Test", "EUR", channels=(Channel("web"), Channel("market", open="market days")))
TODAY = pd.Timestamp("2026-03-02")
COLUMNS = ["line", "day", "scent", "bottles", "unit_price", "channel", "order", "kind", "file", "row"]


def sales_of(*lines):
    """Return lines of (day, scent, bottles, kind, channel)."""
    rows = [
        (n, pd.Timestamp(day), scent, bottles, 18.0, channel, f"o{n}", kind, "web.csv", n + 1)
        for n, (day, scent, bottles, kind, channel) in enumerate(lines, 1)
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


def file_of(name, rows):
    """Return one of the maker's tables, as the folder hands it over: the spreadsheet row is in column `row`."""
    table = empty(FILES[name])
    frame = pd.DataFrame(rows) if rows else table
    for column in table.columns:
        frame[column] = (
            frame[column].astype(table[column].dtype) if column in frame else table[column].reindex(frame.index)
        )
    return frame[list(table.columns)].assign(row=range(2, len(frame) + 2))


def shelf_of(sales, scents=("Fig",), stock=(), runs=(), moves=(), calendar=(), settings=WEB, today=TODAY, **scent):
    """Return the book of short lists: stock (day, scent, on_hand), moves (day, scent, bottles, why), else rows."""
    return shelf_days(
        sales,
        file_of("scents", [{"scent": name, **scent} for name in scents]),
        file_of("stock", [{"date": pd.Timestamp(d), "scent": s, "on_hand": n} for d, s, n in stock]),
        file_of("runs", [dict(row, date=pd.Timestamp(row["date"])) for row in runs]),
        file_of("moves", [{"date": pd.Timestamp(d), "scent": s, "bottles": n, "why": w} for d, s, n, w in moves]),
        file_of("calendar", [dict(row, first_day=pd.Timestamp(row["first_day"])) for row in calendar]),
        settings,
        today,
    )


def on_shelf(book, channel="web", scent="Fig"):
    """Return the share of each day on the shelf by month and day."""
    shelf = book.shelf[(book.shelf["channel"] == channel) & (book.shelf["scent"] == scent)]
    return dict(zip(shelf["day"].dt.strftime("%m-%d"), shelf["on_shelf"], strict=True))
