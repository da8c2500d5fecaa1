"""Settings of the shop: small frozen records read from shop.toml, which refuse nonsense in the maker's words."""

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields, is_dataclass
from datetime import date, datetime
from fnmatch import fnmatchcase
from types import UnionType
from typing import Any, get_args, get_origin

from planner.problems import MakerError, Problem

FILE = "shop.toml"
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
DATE_ORDERS = ("year-first", "day-first", "month-first")
DECIMALS = (".", ",")
OPENINGS = ("every day", "market days", "to order")
TOTALS = ("week", "month")
LABEL_RULES = ("US", "EU", "UK")
# languages whose names of months are read, by ISO 639 code
LANGUAGES = tuple(
    "bg ca cs da de el en es et fi fr hr hu it lt lv nb nl pl pt ro ru sk sl sv tr uk".split()  # noqa: SIM905
)
EXPORT_COLUMNS = ("day", "item", "bottles", "price", "amount", "order", "status")


def _need(holds: bool, what: str) -> None:
    if not holds:
        raise ValueError(what)


@dataclass(frozen=True)
class Export:
    """How to read the sales files whose names match `files`; files of one `source` may overlap."""

    files: str  # file name under sales/, * stands for anything
    source: str  # who wrote it: the same sale is looked for only in files of one source
    channel: str
    columns: Mapping[str, str]  # what it is to us: its heading in the file (see EXPORT_COLUMNS)
    date_order: str = ""  # not stated: as the days of each file say, asked where they do not
    decimal: str = ""  # not stated: as the numbers of each file say, asked where they do not
    refund_orders: str = ""  # how the order number of a refund begins
    refund_status: tuple[str, ...] = ()  # words in the status column that mark a refund
    language: str = ""  # of the names of months, for the few that are another month in another language
    months_across: bool = False  # a row for each item and a column for each month, bottles in the cells
    totals: str = ""  # "week" or "month": each day in it stands for the whole week or month it lies in
    week_starts: str = ""  # weekday on which those weeks begin, like "Sun"; not stated: as the days of the rows say
    wholesale_from: int = 0  # so many bottles on one line are a stockist's, kept apart from shoppers; 0: never

    def __post_init__(self) -> None:
        """Refuse orders and signs we do not read, and columns that are missing or unknown."""
        _need(
            self.date_order in ("", *DATE_ORDERS),
            f"date_order is one of {', '.join(DATE_ORDERS)}, not '{self.date_order}'.",
        )
        _need(self.decimal in ("", *DECIMALS), f"decimal is '.' or ',', not '{self.decimal}'.")
        _need(self.totals in ("", *TOTALS), f"totals is one of {', '.join(TOTALS)}, not '{self.totals}'.")
        _need(
            self.week_starts in ("", *WEEKDAYS),
            f"week_starts is one of {', '.join(WEEKDAYS)}, not '{self.week_starts}'.",
        )
        _need(not self.week_starts or self.totals == "week", "week_starts is for an export with totals = 'week'.")
        _need(self.wholesale_from >= 0, f"wholesale_from is 0 or more bottles, not {self.wholesale_from}.")
        unknown = [name for name in self.columns if name not in EXPORT_COLUMNS]
        _need(not unknown, f"columns has '{', '.join(unknown)}'. It takes {', '.join(EXPORT_COLUMNS)}.")
        made = [name for name in ("day", "bottles") if self.months_across and name in self.columns]
        _need(not made, f"columns has {' and '.join(made)}, but months_across takes them from the months.")
        _need(self.language in ("", *LANGUAGES), f"language is one of {', '.join(LANGUAGES)}, not '{self.language}'.")
        needed = ("item",) if self.months_across else ("day", "item", "bottles")
        absent = [name for name in needed if name not in self.columns]
        _need(not absent, f"columns does not say which heading is {' and '.join(absent)}.")


@dataclass(frozen=True)
class Channel:
    """One way of selling: open every day, only on the market days in calendar.csv, or to order (wholesale)."""

    name: str
    open: str = "every day"
    fee_pct: float = 0.0  # selling fees as percent of the price [%]
    fee_each: float = 0.0  # selling fee of each bottle [money]

    def __post_init__(self) -> None:
        """Refuse fees that eat the price, and opening days we do not read."""
        _need(self.open in OPENINGS, f"open is one of {', '.join(OPENINGS)}, not '{self.open}'.")
        _need(0 <= self.fee_pct < 100, f"fee_pct is a percentage from 0 up to 100, not {self.fee_pct}.")
        _need(self.fee_each >= 0, f"fee_each is 0 or more, not {self.fee_each}.")


@dataclass(frozen=True)
class Season:
    """The window that the plan is for, from its first to its last selling day."""

    first_day: date
    last_day: date

    def __post_init__(self) -> None:
        """Refuse a season that ends before it begins."""
        _need(
            self.first_day <= self.last_day,
            f"the season ends on {self.last_day}, before it begins on {self.first_day}.",
        )


@dataclass(frozen=True)
class Bench:
    """When batches get made and how long they take."""

    days: tuple[str, ...] = ("Sat",)
    hours_per_day: float = 4.0
    days_off: tuple[date, ...] = ()
    setup_minutes: float = 30.0  # for each batch, until there are runs enough to learn it
    minutes_per_bottle: float = 3.0
    rate_per_hour: float = 0.0  # what the maker's own hour is worth [money]
    bulk_rest_days: int = 0  # days the mixed oil stays in its vessel before it is filled; they are part of rest_days

    def __post_init__(self) -> None:
        """Refuse days that do not exist and hours a day does not have."""
        _need(0 <= self.bulk_rest_days <= 365, f"bulk_rest_days is from 0 to 365, not {self.bulk_rest_days}.")
        bad = [day for day in self.days if day not in WEEKDAYS]
        _need(not bad, f"days has '{', '.join(bad)}'. Write {', '.join(WEEKDAYS)}.")
        _need(0 <= self.hours_per_day <= 24, f"hours_per_day is from 0 to 24, not {self.hours_per_day}.")
        _need(self.setup_minutes >= 0, f"setup_minutes is 0 or more, not {self.setup_minutes}.")
        _need(self.minutes_per_bottle >= 0, f"minutes_per_bottle is 0 or more, not {self.minutes_per_bottle}.")


@dataclass(frozen=True)
class Shelf:
    """What is taken for sold out where nobody counted."""

    infer: bool = True  # look for days without a sale on which a scent must have been sold out
    sold_out_chance: float = 0.5  # those days are taken for it whose chance of that is at least so high [share]

    def __post_init__(self) -> None:
        """Refuse a chance of nothing or of more than all."""
        _need(0 < self.sold_out_chance <= 1, f"sold_out_chance is above 0 and at most 1, not {self.sold_out_chance}.")


@dataclass(frozen=True)
class Vessel:
    """A jug or beaker that batches are mixed in."""

    name: str
    holds_ml: float

    def __post_init__(self) -> None:
        """Refuse a vessel that holds nothing."""
        _need(self.holds_ml > 0, f"holds_ml is more than 0, not {self.holds_ml}.")


@dataclass(frozen=True)
class Scale:
    """A scale on the bench."""

    name: str
    division_g: float
    capacity_g: float

    def __post_init__(self) -> None:
        """Refuse a scale that cannot weigh."""
        _need(0 < self.division_g < self.capacity_g, "division_g is more than 0 and less than capacity_g.")


@dataclass(frozen=True)
class Filling:
    """Choices at the bench. Defaults are common practice, no source."""

    headspace_pct: float = 5.0  # of brimful, kept empty [%]
    vessel_full_pct: float = 80.0  # a vessel is filled to at most this share [%]
    overage_pct: float = 3.0  # until there are runs enough to learn it [%]
    overage_g: float = 5.0  # the same, for each batch whatever its size [g]
    short_pct: float = 10.0  # batches that may run short of oil, once overage is learned [%]


@dataclass(frozen=True)
class Ranking:
    """How sure a ranking of scents must be."""

    told_apart_pct: float = 80.0  # least chance that one scent is faster for them not to share a place; judgement [%]

    def __post_init__(self) -> None:
        """Refuse a chance no better than a coin, or certainty, which there never is."""
        _need(50 < self.told_apart_pct < 100, f"told_apart_pct is between 50 and 100, not {self.told_apart_pct}.")


@dataclass(frozen=True)
class Settings:
    """Everything shop.toml says."""

    name: str
    currency: str
    country: str = ""
    note: str = ""
    today: date | None = None  # the day the planner takes for today; the real day when not set
    label_rules: str = "EU"
    decimal: str = "."
    date_order: str = "year-first"
    money_available: float | None = None  # to spend before the season pays back [money]
    season: Season | None = None
    channels_apart: bool = False  # show the forecast by channel too
    bench: Bench = field(default_factory=Bench)
    filling: Filling = field(default_factory=Filling)
    shelf: Shelf = field(default_factory=Shelf)
    ranking: Ranking = field(default_factory=Ranking)
    channels: tuple[Channel, ...] = ()
    exports: tuple[Export, ...] = ()
    vessels: tuple[Vessel, ...] = ()
    scales: tuple[Scale, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)  # other name: scent
    not_products: tuple[str, ...] = ()
    posting: Mapping[str, date] = field(default_factory=dict)  # destination: last posting day

    def __post_init__(self) -> None:
        """Refuse rules, signs and orders we do not read."""
        _need(
            self.label_rules in LABEL_RULES,
            f"label_rules is one of {', '.join(LABEL_RULES)}, not '{self.label_rules}'.",
        )
        _need(self.decimal in DECIMALS, f"decimal is '.' or ',', not '{self.decimal}'.")
        _need(
            self.date_order in DATE_ORDERS, f"date_order is one of {', '.join(DATE_ORDERS)}, not '{self.date_order}'."
        )
        _need(self.money_available is None or self.money_available >= 0, "money_available is 0 or more.")

    def channel(self, name: str) -> Channel:
        """Return the channel of that name, or one without fees that is open every day."""
        return next((channel for channel in self.channels if channel.name == name), Channel(name))

    def export_of(self, file: str) -> Export | None:
        """Return the first export whose pattern fits the name of a file, whatever its case; None where none does."""
        return next((one for one in self.exports if fnmatchcase(file.casefold(), one.files.casefold())), None)


# heading in shop.toml: (field of Settings, record); [[name]] for those that may come several times
_SECTIONS: dict[str, tuple[str, type]] = {
    "season": ("season", Season),
    "bench": ("bench", Bench),
    "filling": ("filling", Filling),
    "shelf": ("shelf", Shelf),
    "ranking": ("ranking", Ranking),
}
_LISTS: dict[str, tuple[str, type]] = {
    "channel": ("channels", Channel),
    "export": ("exports", Export),
    "vessel": ("vessels", Vessel),
    "scale": ("scales", Scale),
}


def read_settings(text: str) -> Settings:
    """Return the settings in the text of shop.toml.

    Raises MakerError with the line or the heading that cannot be read and what may stand there.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        twice = "Cannot declare" in str(error) or "Cannot overwrite" in str(error)
        todo = "Something stands twice: put the lines below one heading." if twice else _LOOK
        raise _error("", f"cannot be read: {error}.", todo) from None
    for heading, (name, record) in _SECTIONS.items():
        if heading in data:
            data[name] = _record(record, data.pop(heading), f"[{heading}]")
    for heading, (name, record) in _LISTS.items():
        parts = data.pop(heading, [])
        if not isinstance(parts, list):
            raise _error(heading, "stands once in single brackets.", f"Write [[{heading}]], also for one only.")
        data[name] = tuple(_record(record, part, f"[[{heading}]] {n}") for n, part in enumerate(parts, 1))
    settings: Settings = _record(Settings, data, "")
    return settings


_AT_THE_TOP = "Move it to the top of shop.toml, above the first line in brackets."
_LOOK = "Look at that line for a missing quote or bracket."


def _error(where: str, what: str, todo: str) -> MakerError:
    return MakerError(Problem(FILE, 0, where, what, todo))


def _record(record: type, data: Any, where: str) -> Any:
    if not isinstance(data, dict):
        raise _error(where, "is not a section.", f"Write {where} on a line of its own, the settings below it.")
    known = {item.name: item for item in fields(record)}
    for name in data:
        if name not in known:
            near = difflib.get_close_matches(name, known, 1)
            if where and name in {item.name for item in fields(Settings)}:
                raise _error(where, f"has '{name}', which belongs to the shop.", _AT_THE_TOP)
            hint = f"Did you mean {near[0]}?" if near else f"Known are {', '.join(known)}."
            raise _error(where, f"has '{name}', which is not a setting.", hint)
    values = {name: _typed(value, known[name].type, where, name) for name, value in data.items()}
    try:
        return record(**values)
    except TypeError:
        absent = [name for name in known if name not in data and _required(known[name])]
        raise _error(where, f"lacks {' and '.join(absent)}.", "Add it.") from None
    except ValueError as error:
        raise _error(where, str(error), "Change it, then run again.") from None


def _required(item: Any) -> bool:
    return item.default is MISSING and item.default_factory is MISSING


def _typed(value: Any, kind: Any, where: str, name: str) -> Any:
    """Return the value as the field's annotation wants it: numbers may be whole, dates may be quoted."""
    origin, inside = get_origin(kind), get_args(kind)
    if origin is tuple:
        if not isinstance(value, list | tuple):
            raise _error(where, f"{name} is {value!r}.", f"Write a list: {name} = [...].")
        return tuple(value if is_dataclass(inside[0]) else (_typed(item, inside[0], where, name) for item in value))
    if origin is Mapping:
        if not isinstance(value, dict):
            raise _error(where, f"{name} is {value!r}.", f"Write it as a section: [{name}].")
        return {key: _typed(item, inside[1], where, key) for key, item in value.items()}
    wanted = next(part for part in inside or (kind,) if part is not type(None)) if origin is UnionType else kind
    if wanted is date:
        return _day(value, where, name)
    if wanted is float and type(value) is int:
        return float(value)
    if isinstance(wanted, type) and not isinstance(value, wanted):
        raise _error(where, f"{name} is {value!r}.", _HOW.get(wanted, "Write it as its own section."))
    return value


_HOW = {str: "Write text in quotes.", float: "Write a plain number with a dot, no quotes."}


def _day(value: Any, where: str, name: str) -> date:
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    try:
        return date.fromisoformat(str(value))
    except ValueError:
        raise _error(where, f"{name} is {value!r}, which is not a day.", "Write it like 2026-12-17.") from None
