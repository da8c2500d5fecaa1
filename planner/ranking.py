"""Small tables of the ranking for reading and drawing; nothing here is decided or fitted."""

import pandas as pd

from planner.pace import only_to_order, ranked_weeks

NO_LONGER_SOLD = "no longer sold"


def with_notes(pace: pd.DataFrame, scents: pd.DataFrame, today: pd.Timestamp) -> pd.DataFrame:
    """Return pace with `place` as people write it, and `note`: what to know of a scent before its place.

    A place is 3, or 3–5 where it is not certain, and empty where not ranked. A scent whose last_sold has passed is
    noted as no longer sold.
    """
    first, last = pace["rank"].astype("str"), pace["rank_to"].astype("str")
    place = first.where(first == last, first + "–" + last).where(pace["rank"].notna(), "")
    gone = scents.loc[scents["last_sold"] < today, "scent"]
    note = pd.Series("", index=pace.index).mask(pace["scent"].isin(gone), NO_LONGER_SOLD)
    return pace.assign(place=place.astype("str"), note=note.astype("str"))


def pace_and_chance(placed: pd.DataFrame) -> pd.DataFrame:
    """Return the columns that rank the scents (see with_notes); the note only where there is one."""
    figures = ["pace", "pace_low", "pace_high", "raw_pace", "chance_fastest", "bottles", "shelf_weeks"]
    return placed[["place", "scent", *figures, *(["note"] if (placed["note"] != "").any() else [])]]


def weeks_ranked(demand: pd.DataFrame, last_day: pd.Timestamp) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Return the first and the last day of the weeks that the ranking is made of, as far as the sales go."""
    first, last = ranked_weeks(demand)
    return first, min(last + pd.Timedelta(days=6), last_day)


def to_order_only(demand: pd.DataFrame) -> pd.DataFrame:
    """Return the scents that shoppers never chose, since they only ever sold to order: scent, bottles."""
    some = demand[demand["scent"].isin(only_to_order(demand))]
    return some.groupby("scent")["bottles"].sum().reset_index()


HEADINGS = {  # where a column's name is too short to be understood
    "abc": "class",
    "on_hand": "counted",
    "since": "rolled from",
    "ratio_trend": "against all scents",
    "ratio_trend_low": "low end",
    "ratio_trend_high": "high end",
    "trend_low": "low end",
    "trend_high": "high end",
    "share": "share of bottles",
    "contribution_per_bottle": "contribution a bottle",
    "contribution_per_week": "a week on the shelf",
    "contribution_per_hour": "an hour at the bench",
    "contribution_per_fragrance_g": "a gram of fragrance oil",
    "contribution_a_year": "contribution given up",
    "materials_a_year": "materials",
    "fragrance_g": "fragrance oil",
}


def trends(pace: pd.DataFrame) -> pd.DataFrame:
    """Return growth on the year before of each scent, and against all scents."""
    against = ["ratio_trend", "ratio_trend_low", "ratio_trend_high", "chance_fading"]
    return pace[["scent", "weeks_since_launch", "trend", "trend_low", "trend_high", *against]]


def earning(pace: pd.DataFrame) -> pd.DataFrame:
    """Return what each scent earns: its class, and contribution by week on the shelf, bottle, hour and gram."""
    table = pace[["scent", "abc", "share", "contribution_per_bottle"]]
    table = table.assign(contribution_per_week=pace["pace"] * pace["contribution_per_bottle"])
    return table.join(pace[["contribution_per_hour", "contribution_per_fragrance_g"]])


MOST_NEW = 6  # launches drawn side by side


def newest(launches: pd.DataFrame, pace: pd.DataFrame) -> pd.DataFrame:
    """Return the first seasons of the scents launched last, the newest first, with the middle week of each block."""
    age = pace.set_index("scent")["weeks_since_launch"]
    single = launches[launches["scent"].isin(age.index)]
    order = age[single["scent"].unique()].sort_values(kind="stable").index[:MOST_NEW]
    parts = [single[single["scent"] == scent] for scent in order]
    table = pd.concat(parts, ignore_index=True) if parts else single
    return table.assign(middle_week=(table["first_week"] + table["last_week"]) / 2)
