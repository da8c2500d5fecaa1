"""Prices that changed: the forecast does not know what a price did to the sales, and says so."""

import pandas as pd

MOVED = 0.05  # a usual price that moved by more than this is another price; less is rounding or a mix of channels
SMOOTHED = 5  # weeks whose middle counts: one week of a promotion or a market is no change
FEWEST = 4  # weeks at the other price
BEFORE = 26  # weeks before the change that the old price is taken from
COLUMNS = ("scent", "before", "now", "change_share", "since", "bottles")


def price_changes(demand: pd.DataFrame) -> pd.DataFrame:
    """Return scents whose usual price moved: scent, before, now, change_share, since, bottles (at other prices).

    `since` is the first week from which on the price was mostly as it is now. Sales to order are left out. The most
    bottles stand first.
    """
    rows = demand[demand["channel"].eq("all")].dropna(subset=["week", "scent", "usual_price"])
    rows = rows[rows["usual_price"] > 0].sort_values("week", kind="stable")
    found = [_change(str(scent), own) for scent, own in rows.groupby("scent", sort=True)]
    table = pd.DataFrame([row for row in found if row], columns=list(COLUMNS))
    table = table.astype({"scent": "str", "since": "datetime64[us]"})
    return table.sort_values("bottles", ascending=False, kind="stable", ignore_index=True)


def _change(scent: str, rows: pd.DataFrame) -> tuple[str, float, float, float, pd.Timestamp, int] | None:
    price = rows["usual_price"].astype("float64").rolling(SMOOTHED, center=True, min_periods=1).median()
    now = price.iloc[-1]
    other = ((price / now - 1).abs() > MOVED).to_numpy()
    if other.sum() < FEWEST:
        return None
    split = int((2 * other - 1).cumsum().argmax())  # the last week of the old price, where no week tells all
    old = price.iloc[: split + 1][other[: split + 1]]
    if len(old) < FEWEST or split + 1 == len(rows):
        return None
    before, bottles = float(old.iloc[-BEFORE:].median()), rows["bottles"].astype("float64").fillna(0).to_numpy()
    return scent, before, float(now), float(now / before - 1), rows["week"].iloc[split + 1], int(bottles[other].sum())
