"""The few figures that matter most, for the index page."""

import pandas as pd

from planner.sentences.wording import day, number
from planner.summaries import ALL_SCENTS

Figure = dict[str, str]


def fastest_figure(pace: pd.DataFrame) -> list[Figure]:
    """Return the fastest scent, or those that share the place."""
    first = pace.loc[pace["rank"] == pace["rank"].min(), "scent"]
    value = " or ".join(first.head(3)) if len(first) else "not known yet"
    return [{"what": "sells fastest", "value": value}]


def season_figure(forecast: pd.DataFrame, last_day: pd.Timestamp) -> list[Figure]:
    """Return how many bottles will be wanted until the season's end, as a range."""
    family = forecast[forecast["week"].isna()].set_index("scent").loc[ALL_SCENTS]
    what = f"will be wanted until {day(last_day)}, in 8 of 10 ways it may go"
    return [{"what": what, "value": f"{family['p10']:,.0f} to {family['p90']:,.0f} bottles"}]


def plan_figure(bench: pd.DataFrame) -> list[Figure]:
    """Return how many batches to make, and when the first is due."""
    value = number(len(bench), "batch", "batches")
    what = f"to make, the first on {day(bench['mix_on'].min())}" if len(bench) else "to make"
    return [{"what": what, "value": value}]


def loss_figure(losses: pd.DataFrame) -> list[Figure]:
    """Return the share of weighed oil that was lost."""
    if losses.empty:
        return [{"what": "of weighed oil lost", "value": "not known yet"}]
    lost = losses[["rejected_g", "residue_g", "unexplained_g"]].sum().sum()
    what = f"of the oil weighed in {number(len(losses), 'run')} was lost"
    return [{"what": what, "value": f"{lost / losses['weighed_g'].sum():.1%}"}]
