"""Small tables of the ranking for reading and drawing; nothing here is decided or fitted."""

import pandas as pd


def pace_and_chance(pace: pd.DataFrame) -> pd.DataFrame:
    """Return the columns of pace that rank the scents, with `place`: from the first to the last each may hold."""
    columns = [
        "place",
        "scent",
        "pace",
        "pace_low",
        "pace_high",
        "raw_pace",
        "chance_fastest",
        "bottles",
        "shelf_weeks",
    ]
    return with_places(pace)[columns]


def with_places(pace: pd.DataFrame) -> pd.DataFrame:
    """Return pace with `place` as people write it: 3, or 3–5 where it is not certain; empty where not ranked."""
    first, last = pace["rank"].astype("str"), pace["rank_to"].astype("str")
    place = first.where(first == last, first + "–" + last).where(pace["rank"].notna(), "")
    return pace.assign(place=place.astype("str"))


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
