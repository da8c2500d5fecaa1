"""What the season will ask for, how that was found, and what such forecasts were worth before, in sentences."""

import pandas as pd

from planner.sentences.wording import SHORT_LIST, day, names, number
from planner.summaries import ALL_SCENTS
from planner.tables import Paths

MIDDLE = ("p10", "p90")  # the range that is spoken of: 8 of 10
SHOULD_HOLD = 0.8
FAR_OFF = 25  # past seasons so far off on one side are more than a stronger or weaker Christmas [%]
STALE_WEEKS = 3  # sales that end so long before today leave a gap worth saying
SURE = 0.8  # a scent is said to be wanted most where so many draws say so, as many as the ranges hold
ALIKE = 0.5  # whose chance is half that of one that is named is named as well: where to stop would be luck
ASLEEP_WEEKS = 13  # a scent unsold for a quarter of a year is asked about...
ASLEEP_BOTTLES = 8  # ...where so many bottles would have sold at its own pace: none by chance is one in 3,000
THERE = "there and not wanted"
COUNTED = ("counted", "rolled forward")  # how a week is known whose stock is known (see words.COLUMNS)
MONTH_WEEKS = 365.25 / 12 / 7


def say_season(forecast: pd.DataFrame, first_day: pd.Timestamp, last_day: pd.Timestamp, paths: Paths) -> str:
    """Say what the season will ask for, and which scent most, or which cannot be told apart."""
    totals = forecast[forecast["week"].isna()].set_index("scent")
    family = totals.loc[ALL_SCENTS]
    if family["p95"] == 0:
        return (
            f"Nothing is foreseen to be wanted from {day(first_day)} to {day(last_day)}: no scent is for sale then, or "
            "the calendar says the shop is closed."
        )
    return (
        f"From {day(first_day)} to {day(last_day)} we expect about {number(family['p50'], 'bottle')} to be wanted; "
        f"in 8 of 10 ways it may go it is between {family['p10']:,.0f} and {family['p90']:,.0f}. "
        f"{_most_wanted(totals, paths)}"
    )


def _most_wanted(totals: pd.DataFrame, paths: Paths) -> str:
    """Say which scent is wanted most in as many draws as make it sure, or which share that place."""
    bottles = paths.bottles.sum(axis=2)
    best = bottles == bottles.max(axis=1, keepdims=True)
    chance = pd.Series((best / best.sum(axis=1, keepdims=True)).mean(axis=0), index=list(paths.scents))
    chance = chance.sort_values(ascending=False, kind="stable")
    last = chance.iloc[int((chance.cumsum() < SURE - 1e-9).sum())]
    first = list(chance.index[chance >= (last if last >= SURE - 1e-9 else ALIKE * last)])
    if len(first) == len(chance) > 1 or len(first) > SHORT_LIST:
        return "Which scent is wanted most cannot be told yet."
    if len(first) > 1:
        each = (f"{scent} about {totals.loc[scent, 'p50']:,.0f}" for scent in first)
        return f"Wanted most is one of these, which cannot be told apart: {names(list(each))}."
    top = totals.loc[first[0]]
    middle, low, high = (f"{top[name]:,.0f}" for name in ("p50", *MIDDLE))
    return f"{first[0]} is wanted most: about {middle}, between {low} and {high}."


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


def say_history(level: pd.DataFrame, today: pd.Timestamp, by_month: bool) -> str:
    """Say on how many known weeks of sales it rests (season.drivers.shop_level), and how long ago they end."""
    known = level.loc[level["known"] > 0, "week"]
    if known.empty:
        return (
            "There is no whole week of sales to learn from yet: what stands here is a rule of thumb, and your own "
            "guesses."
        )
    last = min(known.max() + pd.Timedelta(days=6), today - pd.Timedelta(days=1))
    weeks, between = len(known), len(level)
    rests = f"about {number(weeks / MONTH_WEEKS, 'month')}" if by_month else number(weeks, "week")
    said = f"It rests on {rests} of sales up to {day(last)}."
    if not by_month and between > weeks:
        unknown = number(between - weeks, "week")
        said += f" Of {unknown} more between them nothing is known: sold out, closed, or missing from the files."
    ago = (today - last).days // 7
    if ago >= STALE_WEEKS:
        said += f" That is {number(ago, 'week')} ago; what happened since is unknown, so the ranges are wider."
    return said


def say_asleep(
    demand: pd.DataFrame, left_out: pd.DataFrame, scents: pd.DataFrame, today: pd.Timestamp, by_month: bool
) -> str:
    """Say which scents have not sold for long though they are foreseen, what that is taken for, and what to write.

    `left_out` are weeks nothing was learned from (season.weeks_left_out). Scents that end by `last_sold` are not named.
    """
    rows = demand[demand["channel"].eq("all") & (demand["week"] + pd.Timedelta(days=7) <= today)]
    ended = scents.loc[scents["last_sold"] < today, "scent"]
    sold = rows[rows["bottles"].gt(0).fillna(False) & ~rows["scent"].isin(ended)]
    told = []
    for scent, last in sold.groupby("scent", sort=True)["week"].max().items():
        weeks = (sold["week"].max() - last).days // 7
        own = rows[rows["scent"].eq(scent) & rows["bottles"].notna()]
        before = own.loc[own["week"].between(last - pd.Timedelta(weeks=51), last), "bottles"].astype("float64")
        if weeks >= ASLEEP_WEEKS and before.mean() * weeks >= ASLEEP_BOTTLES:
            since = rows[rows["scent"].eq(scent) & (rows["week"] > last)]
            doubted = (left_out["scent"].eq(scent) & (left_out["week"] > last)).sum()
            taken = THERE if by_month else _taken_for(since, int(doubted), weeks)
            told.append(f"**{scent} has not sold since the week of {day(last)}**: taken for {taken}.")
    if sold.empty:
        return "No scent has sold yet, so none has stopped selling."
    if not told:
        return "No scent has stopped selling, as far as can be told: each sold of late, is new, or sells too slowly."
    return (
        f"{' '.join(told)} If a scent is over, write `last_sold` into scents.csv: then nothing is foreseen of it, "
        "nor counted below as wanted and not there. If it was sold out, or there all the time, a line in stock.csv "
        "says so."
    )


def _taken_for(since: pd.DataFrame, doubted: int, weeks: int) -> str:
    """Return what the weeks since a scent's last sale are taken for; `doubted` of them are not believed."""
    there = (since["bottles"].notna() & (since["shelf_days"] > 0)).sum()
    if there - doubted > weeks / 2:
        return THERE
    counted = since["known"].isin(COUNTED).any()
    return "sold out, as counted, and foreseen as if it were back" if counted else "sold out, and perhaps over"


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


def say_scaled(summary: pd.DataFrame) -> str:
    """Say which methods missed weeks by more than the time of the year before usually does (scaled error above one)."""
    known = summary.dropna(subset=["mase"])
    if known.empty:
        return "The scaled error is not known: it takes a year and a quarter of sales before a season."
    above = list(known.loc[known["mase"] > 1, "method"])
    if not above:
        return "In these seasons every scaled error is one or less: no method missed by more than that."
    if len(above) == len(known):
        return "In these seasons every scaled error lies above one: every method missed by more than that."
    return f"In these seasons {names(above)} missed by more than that (above one), and the others did not."


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
