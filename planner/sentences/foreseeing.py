"""What the season will ask for, how that was found, and what such forecasts were worth before, in sentences."""

import pandas as pd

from planner.sentences.wording import day, names, number
from planner.summaries import ALL_SCENTS

MIDDLE = ("p10", "p90")  # the range that is spoken of: 8 of 10
SHOULD_HOLD = 0.8
FAR_OFF = 25  # past seasons so far off on one side are more than a stronger or weaker Christmas [%]
STALE_WEEKS = 3  # sales that end so long before today leave a gap worth saying


def say_season(forecast: pd.DataFrame, first_day: pd.Timestamp, last_day: pd.Timestamp) -> str:
    """Say what the season will ask for, and which scent most."""
    totals = forecast[forecast["week"].isna()].set_index("scent")
    family = totals.loc[ALL_SCENTS]
    if family["p95"] == 0:
        return (
            f"Nothing is foreseen to be wanted from {day(first_day)} to {day(last_day)}: no scent is for sale then, or "
            "the calendar says the shop is closed."
        )
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


def say_method(by_month: bool) -> str:
    """Say how the season was foreseen: by week, or by month where nothing else is known."""
    if by_month:
        return (
            "**Your sales are known by month only, so the season was foreseen by month**: each scent's months are "
            "smoothed, set beside last year's and mixed, all scents of the shop together, and what comes out is split "
            "over the weeks as the days of a usual gift trade are. Markets and promotions are not learned, a month in "
            "which a scent was sold out counts as it was sold, and how a month falls on its weeks is a rule of thumb. "
            "The pictures of what drove it are those of months spread over their days in the same way. "
            "One export with a day on each line would make all of that better."
        )
    return (
        "All scents are fitted together: a season they share, each scent's own level and departures from it, and the "
        "holidays, markets and last posting day of your shop. Days without stock make a week shorter and do not count "
        "as zero."
    )


def say_history(demand: pd.DataFrame, today: pd.Timestamp) -> str:
    """Say how many weeks of sales the forecast rests on, and how long ago they end."""
    known = demand.loc[demand["bottles"].notna() & (demand["shelf_days"] > 0), "week"]
    if known.empty:
        return "There are no sales to learn from yet: what stands here is a rule of thumb, and your own guesses."
    last = known.max() + pd.Timedelta(days=6)
    said = f"It rests on {number(known.nunique(), 'week')} of sales up to {day(last)}."
    weeks = (today - last).days // 7
    if weeks >= STALE_WEEKS:
        said += f" That is {number(weeks, 'week')} ago; what happened since is unknown, so the ranges are wider."
    return said


def say_check(check: tuple, widening: tuple) -> str:
    """Say what forecasts of past seasons were worth, what that cannot tell, and whether ranges are wider for it.

    `check` is a season.PastCheck and `widening` a season.widening.Widening.
    """
    _, ranges, summary, sentence = check
    factor, _, of, seasons = widening
    if ranges.empty:
        return f"{sentence} The ranges rest on what is usual in gift trades and on nothing that was tried on your shop."
    family = ranges[ranges["scent"] == ALL_SCENTS]
    inside = int(family["bottles"].between(*(family[name] for name in MIDDLE)).sum())
    told = f"{sentence}{_leaning(summary)}{_against(summary)} All scents together lay"
    if seasons == 1:
        return (
            f"{told} {'inside' if inside else _side(family)} their range. One season is one throw of the dice for all "
            "scents at once: whether ranges hold from one Christmas to the next, and whether they should be wider, "
            "cannot be checked before a second one."
        )
    said = f"{told} inside their range in {inside} of {seasons} seasons."
    if factor > 1:
        due = SHOULD_HOLD * of
        return (
            f"{said} Fewer held than the {due:,.0f} that should, so every range on this page, and what the plan is "
            f"made from, is drawn {factor:.2f} times as wide."
        )
    return f"{said} That is about as it should be, so the ranges are left as they are."


def _leaning(summary: pd.DataFrame) -> str:
    """Say which end of the ranges to lean to where past seasons were far off on one side."""
    bias = summary["bias_pct"].iloc[0]
    if pd.isna(bias) or abs(bias) < FAR_OFF:
        return ""
    end = "upper" if bias < 0 else "lower"
    return f" The middle is not moved for that: lean to the {end} end of the ranges until you know why."


def _against(summary: pd.DataFrame) -> str:
    """Say how much closer than last year's numbers it was, where a last year is known."""
    ratio = summary["ratio_to_last_year"].iloc[0]
    if pd.isna(ratio):
        return ""
    better = "less" if ratio < 1 else "more"
    return f" Scent by scent it missed by {100 * abs(1 - ratio):.0f} % {better} than last year's numbers would have."


def _side(family: pd.DataFrame) -> str:
    return "above" if family["bottles"].iloc[0] > family["p90"].iloc[0] else "below"


def say_left_out(left_out: pd.DataFrame, by_month: bool) -> str:
    """Say which weeks or months taught nothing although they were sold in, and why."""
    if left_out.empty:
        return f"No {'month' if by_month else 'week'} was left out for being out of all proportion."
    what = "month" if by_month else "week"
    weeks = [
        f"{row.scent}, {number(row.bottles, 'bottle')} in the {what} of {day(row.week)} ({row.why})"
        for row in left_out.itertuples()
    ]
    told = f"Nothing was learned from {number(len(left_out), what)}: {names(weeks)}."
    return f"{told} If one like it will come, write it into orders.csv."
