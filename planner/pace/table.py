"""The ranking: bottles a week on the shelf, season-adjusted, with how sure that is."""

import numpy as np
import pandas as pd

from planner.pace.changes import yearly_change
from planner.pace.earning import earnings
from planner.pace.evidence import YEAR_WEEKS, Evidence, latest, weekly_evidence, with_season
from planner.pace.launches import launch_weeks
from planner.pace.places import abc_classes, places
from planner.pace.rates import Rates, chance_faster, draw_rates, exact_interval, posterior
from planner.pace.unevenness import week_unevenness
from planner.pace.window import COMPARED, PACE_WEEKS, pace_window
from planner.settings import Settings
from planner.tables import STEPS, check, empty

DRAWS = 4000  # draws from the joint posterior: chances are good to about one in a hundred
FEWEST_SHELF_WEEKS = 4.0  # on the shelf for less, a scent has hardly left its launch and is not ranked; judgement
ROUNDING = 1e-6  # weeks: seven whole days in each of four weeks are four weeks, however they were added up


def scent_pace(
    demand: pd.DataFrame,
    costs: pd.DataFrame,
    settings: Settings,
    rng: np.random.Generator,
    scents: pd.DataFrame | None = None,
    minutes: pd.DataFrame | None = None,
    weeks: int = PACE_WEEKS,
) -> pd.DataFrame:
    """Return the ranking of scents by pace (table pace), those on the shelf too short to be ranked last.

    Pace is bottles per shelf week over the latest `weeks`, at the season's average: a week's sales are compared with
    what all scents sold that week. Each pace is a gamma posterior, drawn a little to the average of all scents
    (`raw_pace` is not, `average_pace` is that average); its range holds 90 of 100 cases. `rank` and `rank_to` are the
    places a scent may hold, and `chance_fastest` is shared out among the ranked ones. Trends compare the latest 52
    weeks with the 52 before. A scent that was not on the shelf in these weeks, or only ever sold to order, is left out.
    `scents` and `minutes` (see losses.learn_minutes) give launches and bench time; without them those are not known.
    """
    history = weekly_evidence(demand)
    if history.bottles.empty:
        return empty(STEPS["pace"])
    year = latest(history, max(YEAR_WEEKS, weeks))
    year = with_season(year.bottles, year.on_shelf)
    window = pace_window(year, weeks)
    pace = _figures(latest(year, weeks), posterior(*window))
    compared = _ranked_only(posterior(*window._replace(unseen=COMPARED * window.unseen)), pace["shelf_weeks"])
    pace["chance_fastest"] = _chance_fastest(compared, rng).reindex(pace.index)
    launched = launch_weeks(demand, scents)
    pace = pace.join(yearly_change(history, launched, week_unevenness(year.bottles, year.fair), rng))
    pace["weeks_since_launch"] = ((history.bottles.index[-1] - launched).dt.days // 7 + 1).reindex(pace.index)
    pace = pace.join(earnings(costs, scents, minutes))
    earned = pace["bottles"] * pace["contribution_per_bottle"]
    pace["abc"] = abc_classes(earned if earned.notna().any() else pace["bottles"])
    return check(_ranked(pace, compared, settings).rename_axis("scent").reset_index(), STEPS["pace"])


def _figures(recent: Evidence, rates: Rates) -> pd.DataFrame:
    """Pace with its range, pace from its own counts alone, and what both rest on."""
    names = rates.shape.index
    sold, fair = recent.bottles[names].sum(), recent.fair[names].sum()
    low, high = rates.interval()
    raw_low, raw_high = exact_interval(sold, fair)
    columns = {
        "pace": rates.shape / rates.rate,
        "pace_low": low,
        "pace_high": high,
        "raw_pace": sold / fair,
        "raw_low": raw_low,
        "raw_high": raw_high,
        "share": sold / max(sold.sum(), 1),
        "bottles": sold,
        "shelf_weeks": recent.on_shelf[names].sum(),
        "average_pace": rates.average,
    }
    return pd.DataFrame(columns, index=names)


def _ranked_only(rates: Rates, shelf_weeks: pd.Series) -> Rates:
    """Leave out the scents that were on the shelf too short to be ranked."""
    known = shelf_weeks >= FEWEST_SHELF_WEEKS - ROUNDING
    return Rates(rates.shape[known], rates.rate[known], rates.average)


def _chance_fastest(rates: Rates, rng: np.random.Generator) -> pd.Series:
    """Share of the draws in which each scent is the fastest of all of them; they add to one."""
    names = rates.shape.index
    if names.empty:
        return pd.Series(index=names, dtype="float64")
    return pd.Series(np.bincount(draw_rates(rates, DRAWS, rng).argmax(axis=1), minlength=len(names)) / DRAWS, names)


def _ranked(pace: pd.DataFrame, rates: Rates, settings: Settings) -> pd.DataFrame:
    """Fastest first, with the places each may hold; those on the shelf too short (not in rates) come last, without."""
    known = pace.index.isin(rates.shape.index)
    order = pace["pace"].where(known).sort_values(ascending=False, kind="stable").index
    ranked = order[order.isin(rates.shape.index)]
    faster = chance_faster(Rates(rates.shape[ranked], rates.rate[ranked], rates.average))
    first, last = places(faster, settings.ranking.told_apart_pct / 100)
    placed = pd.DataFrame({"rank": first, "rank_to": last}, index=ranked, dtype="Int64")
    return pace.join(placed).loc[order]
