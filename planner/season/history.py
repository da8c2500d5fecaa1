"""From the demand table to arrays: who sold what in which week, and what kind of days those were."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from planner.season.calendar import DAY, FEATURES, KNOTS, day_features, last_posting_day
from planner.season.events import event_days, event_names, open_days
from planner.season.newcomers import Hopes, read_hopes
from planner.season.own_season import with_own_season
from planner.season.priors import OVER_FROM, OVER_HALF
from planner.season.silence import without_silence
from planner.settings import Settings

WEEK = 7 * DAY
LEAST_DAYS = 0.5 / 7  # a day that ran out counts half; less than that of a week is a slip of the records
LEAST_EXPOSURE = 0.02  # of a week: half a quiet day beside a weekend market
COUNTED = ("counted", "rolled forward")  # words of it for weeks whose stock is known
WHOLE = 0.999  # of a week: what is missing is rounding
END_ONLY = "end only"  # word of demand's `known`: sold out by the end of the week, on no known day
SETTLED_WEEKS = 6  # a scent that first shows up later than this in the history was launched inside it
GIANT_TIMES, GIANT_BOTTLES, GIANT_WEEKS = 8, 30, 4  # no crowd of shoppers buys eight times the next best week of four
PLANNED = 84  # days planned for where the shop names no season: a shop without sales guesses for those
USUAL_SEASON = 56  # where the shop names no season it is the eight weeks before the last posting day [days]

AFTER_POST = FEATURES.index("after the last posting day")
LAST_OF_POST = FEATURES.index(f"Christmas, {KNOTS[0]} days before posting ends")

Days = np.ndarray | np.datetime64


def days_of(weeks: np.ndarray) -> np.ndarray:
    """Return the days of each week, shape (week, 7)."""
    return weeks[:, None] + np.arange(7) * DAY


def weeks_between(later: Days, earlier: Days) -> np.ndarray:
    """Return the time between days; NaN where one of them is not known. [weeks]"""
    return (np.asarray(later, "datetime64[D]") - np.asarray(earlier, "datetime64[D]")) / WEEK


@dataclass(frozen=True)
class Trade:
    """What is known of any day without a sale: holidays, events, closures. Shared by fit and draws."""

    posting: tuple[int, int]  # month and day of the last posting day
    country: str
    calendar: pd.DataFrame
    events: tuple[str, ...]  # the shop's own events that the past has shown
    cut: tuple[int, int] | None = None  # last posting day this time, where it comes sooner than the presents need it

    def features(self, days: np.ndarray) -> np.ndarray:
        """Return what each day is: calendar.FEATURES, then the events; shape of `days` and one axis more.

        A market needs no post: its days are no dead ones after the last posting day. How much of Christmas they keep
        is not known of a shop; none is the careful answer.
        """
        own, usual = event_days(self.calendar, days, self.events), day_features(days, self.posting, self.country)
        market = event_days(self.calendar, days, ("market",))[..., 0] > 0
        posted = _in_year_of(days, self.posting)
        usual[..., AFTER_POST] *= ~market
        if self.cut:
            lost = (days > _in_year_of(days, self.cut)) & (days <= posted) & ~market
            usual[lost, LAST_OF_POST : LAST_OF_POST + len(KNOTS)] = 0.0
            usual[lost, AFTER_POST] = 1.0
        return np.concatenate([usual, own], axis=-1)

    def open(self, days: np.ndarray) -> np.ndarray:
        """Return 1.0 for days on which the shop is open."""
        return open_days(self.calendar, days).astype(float)


def _in_year_of(days: np.ndarray, day: tuple[int, int]) -> np.ndarray:
    """Return a month and day in the year of each of `days`."""
    january = days.astype("datetime64[Y]").astype("datetime64[M]")
    return (january + np.timedelta64(day[0] - 1, "M")).astype("datetime64[D]") + (day[1] - 1) * DAY


@dataclass(frozen=True)
class History:
    """Sales by scent and week as arrays of shape (scent, week); `on_shelf` is 0 where nothing is known."""

    trade: Trade
    scents: tuple[str, ...]
    weeks: np.ndarray  # Mondays, datetime64[D], without gaps
    bottles: np.ndarray
    on_shelf: np.ndarray  # exposure: share of the week's expected sales on days on which it could be bought
    end_only: np.ndarray  # weeks of which only the end is known: sold out by then, on no known day
    giants: np.ndarray  # weeks left out because of one giant order
    launched: np.ndarray  # day of launch by scent; NaT: before the history began
    first_sold: np.ndarray  # as scents.csv says, or NaT
    last_sold: np.ndarray
    over: np.ndarray  # chance that a scent which is long sold out, for all that is known, never comes back
    hopes: Hopes

    @property
    def origin(self) -> np.datetime64:
        """The Monday after the last week that is known: the level is the level of that day."""
        return self.weeks[-1] + WEEK

    @property
    def blank(self) -> bool:
        """Whether no week of any scent is known: a shop that has sold nothing yet."""
        return not self.on_shelf.any()


def read_history(
    demand: pd.DataFrame, scents: pd.DataFrame, calendar: pd.DataFrame, settings: Settings, today: pd.Timestamp
) -> History:
    """Return the weeks that were over by `today` as arrays; rows without bottles or exposure stay unknown."""
    known = _less_first_sale(without_silence(known_rows(demand, today)), scents)
    calendar = with_own_season(calendar, settings)
    named = pd.DataFrame({"scent": scents["scent"]}).dropna()["scent"].astype(str)
    names = tuple(dict.fromkeys([*named, *demand["scent"].dropna().astype(str)]))
    weeks = _weeks(known, today)
    trade = Trade(last_posting_day(settings), settings.country, calendar, _seen_events(calendar, weeks))
    bottles, on_shelf, end_only = _grid(known, names, weeks, trade)
    giants = _giants(bottles, on_shelf > 0)
    dates = scents.dropna(subset="scent").drop_duplicates("scent").set_index("scent").reindex(names)
    first, last = (dates[name].to_numpy("datetime64[D]") for name in ("first_sold", "last_sold"))
    launched = _launches(first, on_shelf, weeks)
    if on_shelf.any():
        hopes = read_hopes(dates, names, launched, season_days(settings, today))
    else:  # nothing was sold: all is new
        hopes = read_hopes(dates, names, np.fmax(first, weeks[-1] + WEEK), planned_days(settings, today))
    over = _chance_over(on_shelf > 0, _counted(demand, names, weeks), first, last, weeks)
    on_shelf, end_only = np.where(giants, 0.0, on_shelf), end_only & ~giants
    return History(trade, names, weeks, bottles, on_shelf, end_only, giants, launched, first, last, over, hopes)


def _counted(demand: pd.DataFrame, names: tuple[str, ...], weeks: np.ndarray) -> np.ndarray:
    """Return the place of the last week in which the stock of each scent is known from a count; -1: in none."""
    rows = demand[demand["known"].isin(COUNTED) & demand["week"].notna()] if "known" in demand else demand.iloc[:0]
    place = weeks_between(rows["week"].to_numpy("datetime64[D]"), weeks[0])
    last = pd.Series(place, index=rows["scent"].astype(object)).groupby(level=0).max()
    return last.reindex(list(names)).fillna(-1.0).to_numpy()


def _chance_over(
    known: np.ndarray, counted: np.ndarray, first_sold: np.ndarray, last_sold: np.ndarray, weeks: np.ndarray
) -> np.ndarray:
    """Return the chance that a scent is over though nobody said so: not on the shelf for long, as far as is known.

    Where the stock was counted since, or a first day to come or a last one is stated, it is known; a scent that was
    away for as long before and came back does so again.
    """
    over = np.zeros(len(known))
    for i in np.flatnonzero(known.any(axis=1) & np.isnat(last_sold)):
        there = np.flatnonzero(known[i])
        away = known.shape[1] - 1 - there[-1]
        before = int(np.diff(there).max(initial=1)) - 1
        told = counted[i] > there[-1] or first_sold[i] > weeks[there[-1]]
        if away >= OVER_FROM and before < away and not told:
            over[i] = 1 - 0.5 ** (away / OVER_HALF)
    return over


def _grid(
    known: pd.DataFrame, names: tuple[str, ...], weeks: np.ndarray, trade: Trade
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return bottles, share of the week on the shelf and whether only its end is known, shape (scent, week)."""
    bottles, on_shelf = np.zeros((2, len(names), len(weeks)))
    end_only = np.zeros(bottles.shape, bool)
    i = pd.Index(names).get_indexer(known["scent"])
    t = weeks_between(known["week"].to_numpy("datetime64[D]"), weeks[0]).astype(int)
    opened = trade.open(days_of(weeks)).sum(axis=1)[t]
    days = known["shelf_days"].to_numpy(float) / np.maximum(opened, 1e-9)
    share = known["exposure"].to_numpy(float)
    share = np.where(np.isnan(share), np.maximum(days, LEAST_DAYS), np.maximum(share, LEAST_EXPOSURE))
    bottles[i, t] = np.maximum(known["bottles"].to_numpy(float), 0.0)
    on_shelf[i, t] = np.minimum(share, 1.0) * (opened > 0)
    end_only[i, t] = known["end_only"].to_numpy(bool)
    return bottles, on_shelf, end_only


def _giants(bottles: np.ndarray, known: np.ndarray) -> np.ndarray:
    """Return which weeks hold one order out of all proportion: alone, and many times the scent's next best week."""
    if bottles.shape[1] < 2:
        return np.zeros_like(known)
    sold = np.where(known, bottles, 0.0)
    second, best = np.sort(sold, axis=1)[:, -2:].T
    alone = (best >= GIANT_BOTTLES) & (best > GIANT_TIMES * second) & (known.sum(axis=1) >= GIANT_WEEKS)
    return alone[:, None] & (sold == best[:, None])


def season_days(settings: Settings, today: pd.Timestamp) -> np.ndarray:
    """Return the days of the shop's season, or of the eight weeks before the coming last posting day."""
    if settings.season is not None:
        first, last = (np.datetime64(day, "D") for day in (settings.season.first_day, settings.season.last_day))
    else:
        month, day = last_posting_day(settings)
        year = today.year if (today.month, today.day) <= (month, day) else today.year + 1
        last = np.datetime64(f"{year}-{month:02}-{day:02}")
        first = last - (USUAL_SEASON - 1) * DAY
    return np.arange(first, last + DAY)


def planned_days(settings: Settings, today: pd.Timestamp) -> np.ndarray:
    """Return the days of the shop's season, or the coming twelve weeks where no season named is still to come."""
    if settings.season is not None and pd.Timestamp(settings.season.last_day) >= today:
        return season_days(settings, today)
    return np.datetime64(today, "D") + np.arange(PLANNED) * DAY


def known_rows(demand: pd.DataFrame, today: pd.Timestamp) -> pd.DataFrame:
    """Return the rows with bottles and shelf days of weeks over by `today`, one a scent and week, weeks from Monday.

    Where channels are kept apart they are added; a channel that sells to order beside "all" is not shoppers' demand.
    `exposure` is NA where demand has none: then shelf days say how much of the week was on the shelf. In weeks of which
    only the end is known (`end_only`) it is that of the days, whether or not all that was wanted could be sold.
    """
    whole = demand["channel"].eq("all")
    rows = (demand[whole] if whole.any() else demand).dropna(subset=["week", "scent", "bottles", "shelf_days"])
    rows = _without_hidden(rows)
    week = rows["week"] - pd.to_timedelta(rows["week"].dt.day_of_week, unit="D")
    there = (rows["shelf_days"] > 0) & ~rows["exposure"].eq(0)
    rows = rows.assign(week=week.dt.normalize())[there & (week + pd.Timedelta(days=7) <= today)]
    how = {"bottles": "sum", "shelf_days": "max", "exposure": "max", "known": "first", "end_only": "max"}
    return rows.groupby(["scent", "week"], as_index=False, sort=True).agg(how)


def _without_hidden(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows with `end_only`, and exposure without the share of what was wanted that demand put into it."""
    rows = rows if "known" in rows else rows.assign(known="")
    if "exposure" not in rows:
        return rows.assign(exposure=np.nan, end_only=False)
    end_only = rows["known"].eq(END_ONLY)
    bottles = rows["bottles"].astype("float64")
    wanted = bottles + (rows["hidden"].fillna(0.0) if "hidden" in rows else 0.0)
    exposure = rows["exposure"].where(~end_only | (bottles <= 0), rows["exposure"] * wanted / bottles)
    return rows.assign(exposure=exposure, end_only=end_only)


def _less_first_sale(known: pd.DataFrame, scents: pd.DataFrame) -> pd.DataFrame:
    """Return the rows without the sale from which a scent counts as on the shelf, for want of a stated first day.

    Time is counted from that sale because it was made: it says nothing of the pace, which would begin too high with it.
    Where stock was counted the first day is known without it.
    """
    stated = scents.loc[scents["first_sold"].notna(), "scent"]
    part = known["exposure"].fillna(known["shelf_days"] / 7) < WHOLE
    by_sale = part & ~known["scent"].duplicated() & ~known["known"].isin(COUNTED) & ~known["scent"].isin(stated)
    return known.assign(bottles=known["bottles"].astype("float64") - by_sale)


def _weeks(known: pd.DataFrame, today: pd.Timestamp) -> np.ndarray:
    if known.empty:
        monday = np.datetime64(today, "D") - today.weekday() * DAY
        return np.array([monday - WEEK])
    first, last = (known["week"].agg(end).to_datetime64().astype("datetime64[D]") for end in ("min", "max"))
    return np.arange(first, last + DAY, WEEK)


def _seen_events(calendar: pd.DataFrame, weeks: np.ndarray) -> tuple[str, ...]:
    begins = calendar["first_day"].to_numpy("datetime64[D]")
    names = event_names(calendar)[(begins >= weeks[0]) & (begins < weeks[-1] + WEEK)]
    return tuple(sorted({*names, "market", "promotion"} - {""}))


def _launches(first_sold: np.ndarray, on_shelf: np.ndarray, weeks: np.ndarray) -> np.ndarray:
    """Day of launch of each scent that was launched inside the history or is still to come."""
    seen = on_shelf.any(axis=1)
    first_week = np.where(seen, weeks[np.argmax(on_shelf > 0, axis=1)], weeks[-1] + WEEK)
    told = np.where(np.isnat(first_sold), first_week, first_sold)
    late = np.where(np.isnat(first_sold), ~seen | (told >= weeks[0] + SETTLED_WEEKS * WEEK), told > weeks[0])
    return np.where(late, told, np.datetime64("NaT", "D"))
