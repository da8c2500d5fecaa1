"""Materials on hand against what is used when: what each delivery still covers before its use-by day."""

from typing import NamedTuple

import pandas as pd

ROUNDING = 1e-9  # sums of grams are not exact


class Cover(NamedTuple):
    """What the deliveries on hand leave uncovered."""

    on_hand: float  # not past its use-by on the first use
    short: float  # used and not covered
    needed_on: pd.Timestamp  # first day that is not covered; missing where all are
    expired: float  # on hand and past its use-by on the first use


def cover_uses(uses: pd.DataFrame, lots: pd.DataFrame) -> Cover:
    """Serve the uses of one material (amount, used_on) from its deliveries (amount, use_by), day by day.

    A delivery is used up to its use-by day, those that expire first going first, so that least is wasted. All
    amounts are in one unit. `on_hand` may be more than what is covered where a delivery expires before it is used up.
    """
    by_day = uses.groupby("used_on")["amount"].sum().sort_index()
    first = by_day.index[0]
    fresh = lots["use_by"].isna() | (lots["use_by"] >= first)
    left = lots[fresh].sort_values("use_by", kind="stable")[["amount", "use_by"]].to_numpy().tolist()
    short, needed_on = 0.0, pd.NaT
    for day, amount in by_day.items():
        for lot in left:
            if pd.isna(lot[1]) or lot[1] >= day:
                taken = min(lot[0], amount)
                lot[0] -= taken
                amount -= taken
        if amount > ROUNDING * max(1.0, by_day.sum()):
            short += float(amount)
            needed_on = day if pd.isna(needed_on) else needed_on
    return Cover(float(lots.loc[fresh, "amount"].sum()), short, needed_on, float(lots.loc[~fresh, "amount"].sum()))
