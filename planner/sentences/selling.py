"""What was sold, what was wanted and what is foreseen, in sentences."""

import pandas as pd

from planner.sentences.wording import day, names, number
from planner.summaries import ALL_SCENTS


def say_sales(accounts: pd.DataFrame, sales: pd.DataFrame) -> str:
    """Say what became of the lines of the exports, and what they amount to."""
    if sales.empty:
        return "No sale was found in any file. Look at what was set aside below, and why."
    lines = accounts[["lines_read", "counted", "merged", "set_aside"]].sum()
    sold = sales.loc[sales["kind"] == "sale", "bottles"].sum()
    back = -sales.loc[sales["kind"] == "refund", "bottles"].sum()
    return (
        f"We read {number(lines['lines_read'], 'line')} from {number(len(accounts), 'file')}: "
        f"{lines['counted']:,} count, {lines['merged']:,} stood in two files and count once, and "
        f"{lines['set_aside']:,} were set aside with a reason. They amount to {number(sold, 'bottle')} sold and "
        f"{number(back, 'bottle')} refunded, from {day(sales['day'].min())} to {day(sales['day'].max())}."
    )


def say_unknown(unknown: pd.DataFrame) -> str:
    """Say how much is at stake in items that are no scent of the shop."""
    if unknown.empty:
        return "Every item is a scent of yours or is known not to be one."
    bottles = number(unknown["bottles"].sum(), "bottle")
    return f"{bottles} do not count because their items are unknown: {names(list(unknown['item']))}."


def say_fastest(pace: pd.DataFrame) -> str:
    """Say which scents sell fastest, and which cannot be told apart."""
    if pace.empty:
        return "No scent has sold yet, so none can be ranked."
    first = pace[pace["rank"] == pace["rank"].min()]
    top = first.iloc[0]
    if len(first) == 1:
        lead = f"{top['scent']} sells fastest"
    else:
        lead = f"{names(list(first['scent']))} sell fastest and cannot be told apart"
    rest = pace[pace["rank"] > pace["rank"].min()]
    then = f"; then comes {rest.iloc[0]['scent']}" if len(rest) else ""
    pace_now = (
        f"{top['pace']:.1f} bottles a week on the shelf, between {top['pace_low']:.1f} and {top['pace_high']:.1f}"
    )
    return f"{lead}{then}. {top['scent']} goes at {pace_now} in nine cases of ten."


def say_hidden(demand: pd.DataFrame, counted: bool = True) -> str:
    """Say which scents were sold out for whole weeks; only probably where no stock was ever `counted`."""
    weeks = demand[(demand["channel"] == "all") & (demand["shelf_days"] == 0)].groupby("scent").size()
    if weeks.empty:
        return "No scent was sold out for a whole week."
    worst = weeks.sort_values(ascending=False, kind="stable")
    some = [f"{scent} ({number(count, 'week')})" for scent, count in worst.items()]
    sure = "Sold out for whole weeks" if counted else "Probably sold out for whole weeks, for want of any sale"
    return f"{sure}: {names(some)}. What was wanted then is unknown, and is not taken for nothing."


def say_season(forecast: pd.DataFrame, first_day: pd.Timestamp, last_day: pd.Timestamp) -> str:
    """Say what the season will ask for, and which scent most."""
    totals = forecast[forecast["week"].isna()].set_index("scent")
    family = totals.loc[ALL_SCENTS]
    top = totals.drop(ALL_SCENTS)["mean"].idxmax()
    return (
        f"From {day(first_day)} to {day(last_day)} we expect about {number(family['p50'], 'bottle')} to be wanted; "
        f"in 8 of 10 ways it may go it is between {family['p10']:,.0f} and {family['p90']:,.0f}. {top} is wanted most: "
        f"about {totals.loc[top, 'p50']:,.0f}, between {totals.loc[top, 'p10']:,.0f} and {totals.loc[top, 'p90']:,.0f}."
    )


def say_year(shape: pd.DataFrame) -> str:
    """Say when in the year most is sold."""
    if shape.empty:
        return "There is not enough history to know the shape of the year."
    top = shape.loc[shape["factor"].idxmax()]
    named = f" ({top['what']})" if top["what"] else ""
    return f"The busiest week begins on {day(top['week'])}{named} and sells {top['factor']:.1f} times a middling week."
