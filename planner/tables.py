"""The contract of every table: its key, its columns, what one row is; and the check that holds it to them."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import BinaryIO

import numpy as np
import pandas as pd

from planner.problems import MakerError, Problem
from planner.words import COLUMNS


@dataclass(frozen=True)
class Table:
    """One table: `key` is unique by row, `needed` must be there, `optional` is added empty where absent."""

    name: str
    row: str  # what one row is
    key: tuple[str, ...]
    needed: tuple[str, ...]
    optional: tuple[str, ...] = ()
    kinds: Mapping[str, str] = field(default_factory=dict)  # where a column is of another kind than in planner.words

    def kind(self, name: str) -> str:
        """Return the kind of one of its columns: text, number, count, date or flag."""
        return self.kinds.get(name, COLUMNS[name].kind)

    @property
    def columns(self) -> tuple[str, ...]:
        """All columns in the order they are written."""
        return (*self.needed, *self.optional)


def _table(name: str, row: str, key: str, needed: str, optional: str = "") -> Table:
    return Table(name, row, tuple(key.split()), tuple(needed.split()), tuple(optional.split()))


# the maker's files, by name without .csv; only scents is required
FILES = {
    table.name: table
    for table in (
        _table(
            "scents",
            "one scent in one bottle size",
            "scent",
            "scent",
            "formula bottle label_ml label_fl_oz price batch_bottles rest_days first_sold last_sold like guess_low "
            "guess_high keeps retained channels",
        ),
        _table("sets", "one scent in a gift set", "set scent", "set scent bottles"),
        _table("formulas", "one material of a formula", "formula material", "formula material weight_pct"),
        _table(
            "packing",
            "one thing that goes with a bottle or set",
            "what material",
            "what material",
            "per_bottle unit displaced_ml",
        ),
        _table(
            "materials",
            "one thing bought",
            "material",
            "material kind",
            "density_g_per_ml brimful_ml skin_limit_pct ingredient_name spare_pct",
        ),
        _table(
            "packs",
            "one pack a supplier sells",
            "material supplier pack_size",
            "material supplier pack_size pack_unit pack_cost",
            "lead_days minimum_order",
        ),
        _table(
            "material_lots",
            "one delivery of a material",
            "material material_lot",
            "material material_lot on_hand on_hand_unit",
            "received counted_on use_by certificate certificate_date certificate_basis",
        ),
        _table(
            "constituents", "one substance in a fragrance oil", "material substance", "material substance weight_pct"
        ),
        _table("limits", "one substance with a limit", "substance", "substance limit_pct", "category source"),
        _table("stock", "one scent counted at the end of one day", "date scent", "date scent on_hand"),
        _table("moves", "bottles that came or went without a sale", "", "date scent bottles why"),
        _table("calendar", "one event", "first_day what", "first_day what kind", "last_day channel note"),
        _table("wishes", "one scent's wishes", "scent", "scent", "at_least at_most exactly not_sold_out_pct"),
        _table("orders", "one scent of a promise", "order scent", "order scent bottles ready_by"),
        _table(
            "runs",
            "one scent filled from one batch",
            "lot scent",
            "lot date scent bottles_filled",
            "formula vessel bottles_rejected retained residue_g minutes note ready_on",
        ),
        _table(
            "weighed",
            "one material weighed for a batch",
            "lot material material_lot",
            "lot material grams",
            "material_lot",
        ),
        _table("fills", "one filled bottle weighed", "lot bottle", "lot bottle", "gross_g tare_g net_g"),
        _table("feedback", "one thing a customer said", "", "date lot scent kind", "note"),
        _table("trials", "one trial of an oil", "material load_pct day", "material load_pct day", "note score"),
        _table("overrides", "one decision in spite of a missing paper", "", "date what why"),
    )
}

FILES["stock"] = replace(FILES["stock"], kinds={"on_hand": "count"})  # bottles, and no half ones
FILES["trials"] = replace(FILES["trials"], kinds={"day": "count"})  # the day of rest on which it was judged

# the tables between the steps, by the name they have under results/
STEPS = {
    table.name: table
    for table in (
        _table(
            "sales",
            "one scent on one line of an export",
            "line",
            "line day scent bottles unit_price channel order kind file row",
        ),
        _table(
            "set-aside",
            "one line that is not counted; where months stand across, a row has a line for each",
            "file row day",
            "file row reason",
            "day scent bottles unit_price order",
        ),
        _table(
            "shelf",
            "one scent on one day in one channel",
            "day scent channel",
            "day scent channel on_shelf known day_weight",
        ),
        _table(
            "demand",
            "one scent in one week in one channel; absent is not zero",
            "week scent channel",
            "week scent channel bottles shelf_days open_days exposure hidden known usual_price",
        ),
        _table(
            "pace",
            "one scent",
            "scent",
            "rank rank_to scent pace pace_low pace_high raw_pace raw_low raw_high share abc trend trend_low trend_high "
            "ratio_trend ratio_trend_low ratio_trend_high chance_fading chance_fastest bottles shelf_weeks "
            "average_pace weeks_since_launch contribution_per_bottle contribution_per_hour "
            "contribution_per_fragrance_g",
        ),
        _table(
            "forecast",
            "one scent in one week, or in the whole season (no week)",
            "scent channel week",
            "scent channel week mean p05 p10 p25 p50 p75 p90 p95",
        ),
        _table(
            "plan",
            "one scent",
            "scent",
            "scent batches bottles on_hand expected_sold expected_left_over chance_sold_out contribution why",
        ),
        _table(
            "bench",
            "one batch to make",
            "batch",
            "batch scent mix_on fill_on ready_on bottles minutes vessel",
            "latest_on slack_days status",
        ),
        _table(
            "buying",
            "one material to have",
            "material",
            "material supplier needed on_hand short unit packs cost order_by arrives_by",
            "needed_on status",
        ),
        _table(
            "order-list",
            "one pack to order, so many times",
            "order material pack_size",
            "order supplier order_by material packs pack_size pack_unit cost needed_on arrives_by status",
        ),
        _table(
            "supplier-orders",
            "one order to a supplier",
            "order",
            "order supplier order_by lines cost minimum_order minimum_order_missing status",
        ),
        _table("money-by-week", "one week", "week", "week cost spent_so_far money_left"),
        _table(
            "bottle-costs",
            "one scent in one channel",
            "scent channel",
            "scent channel price oil_cost packing_cost fees minutes time_cost cost earns",
        ),
        _table(
            "worth",
            "what there is of one scent or material",
            "kind what",
            "date kind what amount unit cost_each worth note",
        ),
        _table(
            "packing-list",
            "one scent to take to a market on one day",
            "day market scent",
            "day market scent expected_sold wanted on_hand take",
        ),
        _table(
            "weigh-out", "one material of one batch", "batch material", "batch scent material grams tolerance_g scale"
        ),
        _table(
            "losses",
            "one run",
            "lot",
            "lot date weighed_g filled_g giveaway_g rejected_g retained_g residue_g unexplained_g loss_share cost",
        ),
    )
}


@dataclass(frozen=True)
class SalesFile:
    """One export as it lies in the folder: `name` is its path below sales/, `open` gives it from its first byte."""

    name: str
    open: Callable[[], BinaryIO]


@dataclass(frozen=True)
class Paths:
    """Sample paths of the season, drawn jointly: `bottles[path, scent, week]`, whole bottles.

    `weeks` holds the first day of each week; `channel` is "all" where channels are not kept apart.
    """

    bottles: np.ndarray
    scents: tuple[str, ...]
    weeks: pd.DatetimeIndex
    channel: str = "all"

    def of(self, scent: str) -> np.ndarray:
        """Paths of one scent, shape (path, week). [bottles]"""
        return self.bottles[:, self.scents.index(scent)]

    def season(self) -> pd.DataFrame:
        """Season totals, one row a path and one column a scent. [bottles]"""
        return pd.DataFrame(self.bottles.sum(axis=2), columns=list(self.scents))


WHOLE_SHOP = ("", "all")  # channel of an event in calendar.csv that is for all channels
DTYPES = {"text": "str", "number": "float64", "count": "Int64", "date": "datetime64[us]", "flag": "bool"}


def empty(table: Table) -> pd.DataFrame:
    """Return the table without rows, with its columns and their types."""
    return pd.DataFrame({name: pd.Series(dtype=DTYPES[table.kind(name)]) for name in table.columns})


def check(frame: pd.DataFrame, table: Table) -> pd.DataFrame:
    """Return the table with its columns in order and of their kind, sorted as it came.

    Raises MakerError naming what is missing or the first repeated key.
    """
    missing = [name for name in table.needed if name not in frame.columns]
    if missing:
        raise MakerError(Problem(table.name, 0, "", f"lacks {', '.join(missing)}.", "It is made by an earlier step."))
    frame = frame.reset_index(drop=True)
    repeated = frame.duplicated(list(table.key)) if table.key and not _counts_up(frame, table.key) else _NONE
    if repeated.any():
        first = frame.loc[repeated.idxmax(), list(table.key)]
        what = ", ".join(f"{name} {value}" for name, value in first.items())
        raise MakerError(Problem(table.name, 0, "", f"has two rows for {what}.", f"One row is {table.row}."))
    typed = {name: _typed(frame, name, DTYPES[table.kind(name)]) for name in table.columns}
    return pd.DataFrame(typed, index=frame.index, copy=False)


_NONE = pd.Series([], dtype="bool")


def _counts_up(frame: pd.DataFrame, key: Sequence[str]) -> bool:
    """Say whether the key is a running number, which repeats nothing; quicker to see than that nothing repeats."""
    number = frame[key[0]]
    if len(key) > 1 or not pd.api.types.is_integer_dtype(number.dtype) or number.isna().any():
        return False
    return bool((np.diff(number.to_numpy(dtype="int64")) > 0).all())


def _typed(frame: pd.DataFrame, name: str, dtype: str) -> pd.Series:
    return frame[name].astype(dtype) if name in frame else pd.Series(index=frame.index, dtype=dtype)


def listed(names: Sequence[str]) -> str:
    """Names as people write them in a sentence.

    >>> listed(["Fig", "Rose", "Oud"])
    'Fig, Rose and Oud'
    """
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)
