"""The weeks of the plan as a page to print: what is made, filled and ordered on which day, and where markets are."""

import pandas as pd

from planner.restock.calendar_file import counted
from planner.settings import WEEKDAYS, Settings

DAY = pd.Timedelta(days=1)
KINDS = ("market", "promotion", "closed", "holiday")  # of calendar.csv, on the page in this order


def month_page(
    bench: pd.DataFrame, calendar: pd.DataFrame, orders: pd.DataFrame, settings: Settings, today: pd.Timestamp
) -> pd.DataFrame:
    """Return a row for each week from this one to the last batch's or the season's last: columns Mon, Tue … Sun.

    A cell holds the day and, each on a line of its own, what is mixed and filled, what is to be ordered (table
    supplier-orders), events of calendar.csv, last posting days and days off.
    """
    last = max(
        [today, *bench["fill_on"].dropna(), *([pd.Timestamp(settings.season.last_day)] if settings.season else [])]
    )
    first = today - pd.Timedelta(days=today.day_of_week)
    rows = []
    for monday in pd.date_range(first, last, freq=7 * DAY):
        cells = [_cell(monday + n * DAY, bench, calendar, orders, settings, today) for n in range(7)]
        rows.append(dict(zip(WEEKDAYS, cells, strict=True)))
    return pd.DataFrame(rows, columns=list(WEEKDAYS))


def _cell(
    day: pd.Timestamp,
    bench: pd.DataFrame,
    calendar: pd.DataFrame,
    orders: pd.DataFrame,
    settings: Settings,
    today: pd.Timestamp,
) -> str:
    if day < today:
        return f"{day.day} {day:%b}"
    mixed = bench[bench["mix_on"] == day]
    filled = bench[(bench["fill_on"] == day) & (bench["mix_on"] != day)]
    on = calendar[(calendar["first_day"] <= day) & (calendar["last_day"].fillna(calendar["first_day"]) >= day)]
    events = [str(what) for kind in KINDS for what in on.loc[on["kind"] == kind, "what"]]
    order = [f"order from {name}" for name in orders.loc[orders["order_by"] == day, "supplier"]]
    posting = [f"last posting day: {place}" for place, when in settings.posting.items() if pd.Timestamp(when) == day]
    off = ["no bench"] if day.date() in settings.bench.days_off and not events else []
    made = [*counted(mixed), *(f"fill {what}" for what in counted(filled))]
    return "\n".join([f"{day.day} {day:%b}", *made, *order, *events, *posting, *off])
