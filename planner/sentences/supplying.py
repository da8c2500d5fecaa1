"""What the bench days leave room for, what to take to markets, and what there is worth, in sentences."""

import pandas as pd

from planner.sentences.wording import day, money, names, number
from planner.settings import Settings


def say_slack(bench: pd.DataFrame) -> str:
    """Say how many batches may slip, and which come late."""
    if bench.empty:
        return "There is no batch to put on a bench day."
    late = bench[bench["latest_on"].isna()]
    slack = bench["slack_days"].fillna(0)
    said = f"{number(len(late), 'batch comes', 'batches come')} later than the plan counts on. " if len(late) else ""
    if not slack.any():
        none = "No batch" if late.empty else "None of the others"
        return said.strip() if len(late) == len(bench) else f"{said}{none} can slip: {_LAST}."
    share = f"{number(int((slack > 0).sum()), 'batch', 'batches')} of {len(bench)}"
    free = int((bench["status"].eq("has room") & (slack > 0)).sum())
    rest = "all of them to a day with room" if free == (slack > 0).sum() else f"{free} of them to a day with room"
    how = rest if free else "only in exchange for another, since the later day is full"
    return f"{said}{share} can slip, by {number(int(slack.max()), 'day')} at most: {how}."


_LAST = "each stands on the last bench day that makes it"


def say_markets(packing: pd.DataFrame) -> str:
    """Say what goes to the next market, and of what there will be less than wanted."""
    if packing.empty:
        return "There is no market day to come in calendar.csv, or no past one to learn from."
    own = packing[packing["market"] == packing.loc[packing["day"].idxmin(), "market"]]  # two may fall on one day
    first = own[own["day"] == own["day"].min()]
    scarce = first[first["take"] < first["wanted"]]
    taken, sold = number(int(first["take"].sum()), "bottle"), first["expected_sold"].sum()
    said = f"To {first['market'].iloc[0]} on {day(first['day'].iloc[0])}: {taken}, of which {sold:.0f} sell on average."
    return said + (f" Fewer than wanted of {names(list(scarce['scent']))}." if len(scarce) else "")


def say_worth(worth: pd.DataFrame, settings: Settings) -> str:
    """Say what bottles and materials on hand are worth, and what of it has no worth."""
    if worth.empty:
        return "Nothing is on hand, or nothing was counted."
    parts = worth.groupby("kind")["worth"].sum()
    counts = worth.loc[worth["kind"] == "bottles", "amount"].sum()
    said = (
        f"On {day(worth['date'].iloc[0])} there is {money(parts.sum(), settings)} on hand at cost: "
        f"{money(parts.get('bottles', 0.0), settings)} in {number(counts, 'bottle')}, "
        f"{money(parts.get('materials', 0.0), settings)} in materials."
    )
    old = list(worth.loc[worth["note"].str.contains("use-by"), "what"])
    unknown = list(worth.loc[worth["worth"].isna(), "what"])
    said += f" Past its use-by day and worth nothing: some of {names(old)}." if old else ""
    return said + (f" Not in it, for want of a price or a count: {names(unknown)}." if unknown else "")
