"""What was sold, what was wanted and what is foreseen, in sentences."""

import pandas as pd

from planner.sentences.wording import day, money, names, number
from planner.settings import Settings
from planner.tables import listed


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


ORDINALS = "first second third fourth fifth sixth seventh eighth ninth tenth".split()  # noqa: SIM905


def say_fastest(pace: pd.DataFrame) -> str:
    """Say which scents sell fastest, who comes next, which cannot be told apart, and which are too new to say.

    Every scent is named or counted once, in the order of the places they may hold. A `note` is said behind the name.
    """
    if pace.empty:
        return "No scent has sold yet, so none can be ranked."
    called = (
        pace["scent"] + (" (" + pace["note"] + ")").where(pace["note"] != "", "") if "note" in pace else pace["scent"]
    )
    pace = pace.assign(called=called, row=range(1, len(pace) + 1))
    ranked = pace[pace["rank"].notna()]
    if ranked.empty:
        return "No scent has been on the shelf long enough in the latest weeks to be ranked."
    groups = [part for _, part in ranked.groupby("rank")]
    parts = [_lead(groups[0])] + ([_next(groups[1], len(groups[0]))] if len(groups) > 1 else [])
    if len(groups) > 2:
        behind = list(pd.concat(groups[2:])["called"])
        parts.append(f"then {'comes' if len(behind) == 1 else 'come'} {names(behind)}")
    short = list(pace.loc[pace["rank"].isna(), "scent"])
    if short:
        parts.append(f"{names(short)} {'has' if len(short) == 1 else 'have'} been on the shelf too short to say")
    top = ranked.iloc[0]
    ends = f"between {top['pace_low']:.1f} and {top['pace_high']:.1f} in nine cases of ten"
    return f"{'; '.join(parts)}. {top['scent']} goes at {top['pace']:.1f} bottles a week on the shelf, {ends}."


def _alike(group: pd.DataFrame) -> bool:
    """Say whether each of the group may hold the row of each other one, so that no two can be told apart."""
    return bool((group["rank"] <= group["row"].min()).all() and (group["rank_to"] >= group["row"].max()).all())


def _lead(first: pd.DataFrame) -> str:
    some = names(list(first["called"]))
    if len(first) == 1:
        return f"{some} sells fastest"
    return f"{some} sell fastest and cannot be told apart" if _alike(first) else f"Each of {some} may sell fastest"


def _next(group: pd.DataFrame, before: int) -> str:
    """Say who comes after so many others; a scent that may belong to those before it is not said to be behind them."""
    some, one = names(list(group["called"])), len(group) == 1
    nth = ORDINALS[before] if before < len(ORDINALS) else f"number {before + 1}"
    if (group["rank"] <= before).any():
        return f"{some} {'comes' if one else 'come'} next, but cannot be told apart from all of those"
    if one:
        return f"{some} is {nth}"
    alike = f"{some} share the {nth} place and cannot be told apart"
    return alike if _alike(group) else f"each of {some} may be {nth}"


def say_launches(launches: pd.DataFrame) -> str:
    """Say how the newest scent began (see ranking.newest)."""
    if launches.empty:
        return "No scent was launched within the sales, so no first season can be shown."
    newest = launches[launches["scent"] == launches["scent"].iloc[0]]
    begun, now = newest.iloc[0], newest.iloc[-1]
    said = (
        f"{begun['scent']} is the newest: in weeks {begun['first_week']} to {begun['last_week']} after its launch it "
    )
    said += f"sold {begun['ratio']:.1f} times as fast as the average scent in the same weeks"
    if len(newest) == 1:
        return f"{said}."
    later = f"in weeks {now['first_week']} to {now['last_week']} {now['ratio']:.1f} times as fast"
    return f"{said}, and {later} (between {now['ratio_low']:.1f} and {now['ratio_high']:.1f} in nine cases of ten)."


def say_tail(pace: pd.DataFrame, tail: pd.DataFrame, settings: Settings) -> str:
    """Say which scents are fading for certain, and what a year without the first of them would free and cost."""
    if pace["chance_fading"].isna().all():
        return "Whether a scent is fading cannot be said yet: that takes half a year on the shelf in each of two years."
    fading = tail[tail["fading"]]
    if fading.empty:
        return "No scent is fading for certain."
    parts = [
        f"{row.scent} ({-row.ratio_trend:.0%} less than a year ago, measured against all scents)"
        for row in fading.itertuples()
    ]
    first = fading.iloc[0]
    amounts = {
        "bench_hours": lambda value: f"{number(value, 'hour')} at the bench",
        "fragrance_g": lambda value: f"{value:,.0f} g of fragrance oil",
        "materials_a_year": lambda value: f"{money(value, settings)} in materials",
    }
    freed = [write(first[name]) for name, write in amounts.items() if pd.notna(first[name])]
    said = f"Fading: {names(parts)}."
    if freed:
        said += f" A year without {first['scent']} would free {listed(freed)}"
        given = first["contribution_a_year"]
        said += f", and give up {money(given, settings)} of contribution." if pd.notna(given) else "."
    return said
