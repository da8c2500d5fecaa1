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


def say_fastest(pace: pd.DataFrame, weeks: str = "") -> str:
    """Say which scents sell fastest, who comes next, which cannot be told apart, and which are too new to say.

    Every scent is named or counted once, in the order of the places they may hold. A `note` is said behind the name;
    `weeks` says which they are (see say_weeks).
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
    pace_said = f"{top['scent']} goes at {top['pace']:.1f} bottles a week on the shelf{weeks and ' ' + weeks}, {ends}"
    return f"{'; '.join(parts)}. {pace_said}."


def say_weeks(first_day: pd.Timestamp, last_day: pd.Timestamp) -> str:
    """Say from when to when: from Mon 30 Mar 2026 to Sun 27 Sep 2026; empty where there are no days."""
    return "" if pd.isna(first_day) else f"from {day(first_day)} to {day(last_day)}"


LONG_AGO_DAYS = 56  # weeks that ended longer ago say little of what sells now; judgement


def say_beside(pace: pd.DataFrame, ordered: pd.DataFrame, last_day: pd.Timestamp, today: pd.Timestamp) -> str:
    """Say what to know beside the ranking: how old it is, who sells to order only, and what paces are drawn to.

    `ordered`: see ranking.to_order_only; `last_day`: the last one of the weeks ranked.
    """
    said = []
    if pd.notna(last_day) and (today - last_day).days > LONG_AGO_DAYS:
        ago = number((today - last_day).days / 7, "week")
        said.append(f"These weeks ended {ago} ago: no newer sale is in the files, so what sells now is not known.")
    if len(ordered):
        some = [f"{row.scent} ({number(row.bottles, 'bottle')})" for row in ordered.itertuples()]
        said.append(f"Sold to order only, so chosen by no shopper and not ranked: {names(some)}.")
    if len(pace):
        average = pace["average_pace"].iloc[0]
        said.append(f"The less was sold, the more a pace is drawn to the average scent's {average:.1f} bottles a week.")
    return " ".join(said) or "Nothing yet."


def say_steps(steps: pd.DataFrame, lost: pd.DataFrame, sales: pd.DataFrame) -> str:
    """Say whether bottles sold lead to those ranked, to the unit, and which are in no pace (see planner.wanted)."""
    bottles = steps.set_index("what")["bottles"]
    gap = bottles.get("not explained", 0)
    said = ["These add up to the bottle." if not gap else f"{number(abs(gap), 'bottle')} cannot be explained: tell us."]
    back = -int(sales.loc[sales["kind"] == "refund", "bottles"].sum()) + int(bottles["taken back by refunds"])
    if back:
        said.append(
            f"{number(back, 'bottle')} more {_were(back)} refunded without a sale before, which changes nothing."
        )
    if len(lost):
        some = [f"{scent} ({number(count, 'bottle')})" for scent, count in _most(lost).items()]
        said.append(f"In no pace, for the reasons below: {names(some)}.")
    return " ".join(said)


def _were(amount: float) -> str:
    return "was" if round(amount) == 1 else "were"


def _most(lost: pd.DataFrame) -> pd.Series:
    return lost.groupby("scent")["bottles"].sum().sort_values(ascending=False, kind="stable")


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
        return "No scent was launched within the sales and a week on the shelf, so no first season can be shown."
    newest = launches[launches["scent"] == launches["scent"].iloc[0]]
    begun, now = newest.iloc[0], newest.iloc[-1]
    said = (
        f"{begun['scent']} is the newest: it sold {begun['ratio']:.1f} times as fast as the average scent in weeks "
        f"{begun['first_week']} to {begun['last_week']} after its launch"
    )
    if len(newest) == 1:
        return f"{said}."
    ends = f"between {now['ratio_low']:.1f} and {now['ratio_high']:.1f} in nine cases of ten"
    return f"{said}, and {now['ratio']:.1f} times ({ends}) in weeks {now['first_week']} to {now['last_week']}."


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
