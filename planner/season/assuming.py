"""What the forecast takes for granted, in words: every assumption that matters, and where it comes from."""

import numpy as np
import pandas as pd

from planner.season import priors
from planner.season.calendar import POSTING_FROM, POSTING_TO, holidays, mothers_day_rule
from planner.season.draws import Season
from planner.season.history import WEEK
from planner.settings import Settings
from planner.tables import listed

USUAL = "nobody said; the usual day (common practice, no source)"
EVENTS = {"market": "market days", "promotion": "promotions", "closed": "days the shop is closed"}
MANY = 4  # names in one cell; more are counted
NEW_WEEKS = 52  # after a year on sale a scent's own sales say all
NEW_SD = 0.8  # how far a scent never sold may lie from those it is like where months are all that is known, as there
YEAR = pd.Timedelta(weeks=52)
POSTING = "Last posting day"  # as holidays names it
NAMED_DAYS = ("Mother's Day", "Easter", "Black Friday")  # days that differ by year or country
OF_COUNTRY = ("Mother's Day",)
BY_MONTH = [
    (
        "weeks within a month",
        "a month's bottles fall on its days as in a usual gift trade, more on those before the last posting day",
        "a rule of thumb",
    ),
    (
        "months with sold-out days",
        "count as they were sold, so what was wanted then is foreseen too low",
        "months only",
    ),
]
TO_ORDER = 'what sells "to order" (like wholesale) is not in it, and lines of orders.csv are added in the plan'


def assumptions(
    model: Season,
    settings: Settings,
    first: pd.Timestamp,
    last: pd.Timestamp,
    silent: pd.DatetimeIndex,
    by_month: bool = False,
) -> pd.DataFrame:
    """Return what is assumed for the days from `first` to `last`: what, assumed, known_from.

    `silent` are weeks in which the whole shop sold nothing (silence.silent_weeks). `by_month`: the season is foreseen
    from months, which know nothing of day effects, drift and the strength of Christmas that this model learns.
    """
    event = _event_by_month if by_month else _event
    rows = [
        _posting(model, settings, first, last),
        *_dates(model, settings, first, last),
        *(event(model, kind, name, first, last) for kind, name in EVENTS.items()),
        (
            "prices",
            "what a price did to the sales is not learned, and prices stay as they are",
            "a limit of the method",
        ),
        _channels(settings),
        *(BY_MONTH if by_month else _learned(model)),
        *_gap(silent),
        *_new_scents(model, last, by_month),
        *_ended(model, first, last),
        *_over(model),
    ]
    return pd.DataFrame(rows, columns=["what", "assumed", "known_from"], dtype="str")


def _channels(settings: Settings) -> tuple[str, str, str]:
    apart = settings.channels_apart
    shared = "shared out as the channels sold of late" if apart else "whatever the channel"
    known = "channels_apart in shop.toml" if apart else "channels_apart is not set in shop.toml"
    return "channels", f"one forecast for all shoppers, {shared}; {TO_ORDER}", known


def _posting(model: Season, settings: Settings, first: pd.Timestamp, last: pd.Timestamp) -> tuple[str, str, str]:
    month, day = model.history.trade.posting
    season = settings.season
    said = season is not None and POSTING_FROM <= (season.last_day.month, season.last_day.day) <= POSTING_TO
    when = f"{day} {pd.Timestamp(2000, month, 1):%b} in every year, next on {_coming(model, first, last)[POSTING]}"
    return "last posting day before Christmas", when, "the season's last day in shop.toml" if said else USUAL


def _coming(model: Season, first: pd.Timestamp, last: pd.Timestamp) -> dict[str, str]:
    """Return the next date of each holiday, and whether it lies after the days foreseen."""
    trade = model.history.trade
    days = holidays(range(first.year, first.year + 2), trade.posting, trade.country)
    days = days[days["day"] >= first].drop_duplicates("what")
    return {
        row.what: f"{row.day:%a} {row.day.day} {row.day:%b %Y}{'' if row.day <= last else ', after the days foreseen'}"
        for row in days.itertuples()
    }


def _dates(model: Season, settings: Settings, first: pd.Timestamp, last: pd.Timestamp) -> list[tuple[str, str, str]]:
    """Return the next date of each day that differs by year or country."""
    coming, rule = _coming(model, first, last), mothers_day_rule(settings.country)
    known = {what: rule if what in OF_COUNTRY else "the usual rule" for what in NAMED_DAYS}
    return [(f"next {what}", coming[what], source) for what, source in known.items() if what in coming]


def _event(model: Season, kind: str, name: str, first: pd.Timestamp, last: pd.Timestamp) -> tuple[str, str, str]:
    """Say how many days of a kind lie ahead, how many lay there last year, and what one was found to bring."""
    calendar = model.history.trade.calendar
    own = calendar[calendar["kind"].eq(kind)]
    ahead, before = _days(own, first, last), _days(own, first - YEAR, last - YEAR)
    assumed = f"{ahead or 'none'} ahead, {before or 'none'} in the same weeks a year before"
    if before and not ahead:
        assumed += ": if they come again, write them into calendar.csv, else the season is foreseen without them"
    if kind in model.history.trade.events and kind != "closed":
        effect = model.fit.mode.shared[model.fit.weeks.day_effects][-len(model.history.trade.events) :]
        times = np.exp(effect[model.history.trade.events.index(kind)])
        seen = _days(own, pd.Timestamp(model.history.weeks[0]), pd.Timestamp(model.history.origin)) > 0
        assumed += f"; such a day sells {times:.1f} times as much ({'learned' if seen else 'a rule of thumb'})"
    return name, assumed, "calendar.csv" if len(own) else "no line of this kind in calendar.csv"


def _event_by_month(
    model: Season, kind: str, name: str, first: pd.Timestamp, last: pd.Timestamp
) -> tuple[str, str, str]:
    """Say how many days of a kind lie ahead, and what months make of them: only closed days are known to the split."""
    own = model.history.trade.calendar
    ahead = _days(own[own["kind"].eq(kind)], first, last)
    told = (
        "nothing is foreseen on a closed day" if kind == "closed" else "what one brings cannot be learned from months"
    )
    return name, f"{ahead or 'none'} ahead; {told}", "calendar.csv" if ahead else "no such day ahead in calendar.csv"


def _days(events: pd.DataFrame, first: pd.Timestamp, last: pd.Timestamp) -> int:
    """Return how many days of these events lie between two days, both counted."""
    begin = events["first_day"].clip(lower=first)
    end = events["last_day"].fillna(events["first_day"]).clip(upper=last)
    return int(((end - begin).dt.days + 1).clip(lower=0).sum())


def _gap(silent: pd.DatetimeIndex) -> list[tuple[str, str, str]]:
    """Return each run of silent weeks with its own days."""
    if not len(silent):
        return []
    run = (silent.to_series().diff() > pd.Timedelta(days=7)).cumsum().to_numpy()
    spans = [(silent[run == one][0], silent[run == one][-1] + pd.Timedelta(days=6)) for one in range(run[-1] + 1)]
    told = [f"from {begin.day} {begin:%b %Y} to {end.day} {end:%b %Y}" for begin, end in spans]
    said = f"{len(silent)} weeks without a sale of any scent, {_few(told)}, are unknown and not zero"
    what = "a gap in the sales" if len(told) == 1 else f"{len(told)} gaps in the sales"
    return [(what, said, "the shop was closed, or an export is missing")]


def _learned(model: Season) -> list[tuple[str, str, str]]:
    """Return how much level and Christmas may change by themselves."""
    spreads = model.fit.spreads
    drift, year = (100 * np.expm1(np.sqrt(variance)) for variance in (spreads.drift, spreads.year))
    seen = len(model.fit.seen)
    past = (
        f"from {seen} Christmas{'es' * (seen != 1)} and a rule of thumb" if seen else "a rule of thumb: none seen yet"
    )
    return [
        ("drift of tastes", f"the whole shop drifts by about {drift:.0f} % in eight weeks, either way", "learned"),
        ("strength of Christmas", f"it differs by about {year:.0f} % from one year to the next", past),
    ]


def _new_scents(model: Season, last: pd.Timestamp, by_month: bool) -> list[tuple[str, str, str]]:
    """Return by what the level of new scents is found; by month `like` and guesses count only until something sold."""
    history = model.history
    launched = history.launched <= np.datetime64(last, "D")
    unsold = launched & ~(history.on_shelf > 0).any(axis=1)
    asked = unsold if by_month else launched
    told = [name for name, on, guess in zip(model.scents, asked, history.hopes.told, strict=True) if on and guess]
    young = unsold if by_month else launched & (history.launched > history.origin - NEW_WEEKS * WEEK)
    like = [name for name, on, others in zip(model.scents, young, history.hopes.like, strict=True) if on and others]
    bare = [
        name for name, new in zip(model.scents, unsold, strict=True) if new and name not in told and name not in like
    ]
    rows = []
    if told:
        off = 100 * np.expm1(priors.GUESS_SD)
        said = (
            f"the range holds eight times of ten, one number alone is off by about {off:.0f} %; sales overrule a guess"
        )
        rows.append((f"guesses for {_few(told)}", said, "guess_low and guess_high"))
    if like:
        off = 100 * np.expm1(NEW_SD if by_month else priors.LIKE_SD)
        rows.append(
            (
                f"what {_few(like)} {'is' if len(like) == 1 else 'are'} like",
                f"sells as those do, give or take {off:.0f} %",
                "like",
            )
        )
    if bare:
        rows.append(
            (f"{_few(bare)}, never sold", "like a usual scent of the shop, within a wide range", "no guess, no like")
        )
    return rows


def _ended(model: Season, first: pd.Timestamp, last: pd.Timestamp) -> list[tuple[str, str, str]]:
    """Return which scents end before the last day, or ended before the first and are foreseen no more."""
    days = model.history.last_sold
    ends = [
        name
        for name, day in zip(model.scents, days, strict=True)
        if np.datetime64(first, "D") <= day < np.datetime64(last, "D")
    ]
    return [(f"end of {_few(ends)}", "nothing is wanted after the last day for sale", "last_sold")] if ends else []


def _over(model: Season) -> list[tuple[str, str, str]]:
    """Return which scents have not been on the shelf for so long that they may be over."""
    history, rows = model.history, []
    for i in np.flatnonzero(history.over):
        week = pd.Timestamp(history.weeks[np.flatnonzero(history.on_shelf[i])[-1]])
        said = f"sold out, and over in {100 * history.over[i]:.0f} of 100 ways it may go; write last_sold if it is over"
        rows.append(
            (f"{model.scents[i]}, not on the shelf since the week of {week.day} {week:%b %Y}", said, "no count since")
        )
    return rows


def _few(names: list[str]) -> str:
    return listed(names) if len(names) <= MANY else f"{', '.join(names[: MANY - 1])} and {len(names) - MANY + 1} more"
