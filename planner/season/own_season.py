"""A season of the shop's own that does not end with the Christmas post: an event that comes every year."""

import pandas as pd

from planner.season.calendar import POSTING_FROM, POSTING_TO
from planner.settings import Settings

NAME = "own season"
YEARS_BACK, YEARS_AHEAD = 12, 3  # years around the season in shop.toml; older sales tell of another shop


def with_own_season(calendar: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return the calendar with the season of shop.toml in every year, where it is not the one before Christmas.

    A season that ends with the last posting day is drawn by the features of Christmas; one in April or in February is
    known by its days alone, and what it brings is learned from past years like that of a market.
    """
    season = settings.season
    if season is None or POSTING_FROM <= (season.last_day.month, season.last_day.day) <= POSTING_TO:
        return calendar
    first, last = pd.Timestamp(season.first_day), pd.Timestamp(season.last_day)
    shifts = [pd.DateOffset(years=year) for year in range(-YEARS_BACK, YEARS_AHEAD + 1)]
    own = pd.DataFrame(
        {"first_day": [first + shift for shift in shifts], "last_day": [last + shift for shift in shifts]}
    )
    own = own.astype("datetime64[us]").assign(what=NAME, kind="holiday", channel="", note="")
    columns = [name for name in calendar.columns if name in own]
    return (
        pd.concat([calendar, own[columns]], ignore_index=True)
        if len(calendar)
        else own.reindex(columns=calendar.columns)
    )
