"""The shop's year as the model sees it."""

import numpy as np
import pandas as pd

from planner.season.calendar import DAY, holidays
from planner.season.design import log_season
from planner.season.draws import Season
from planner.season.history import WEEK, days_of

PLANNED = ("market", "promotion")  # events that come when the maker says so, and not with the season
YEAR = 53  # weeks from the origin on, so that every holiday comes once
DRAWS = 400


def season_shape(model: Season, first: pd.Timestamp | None = None) -> pd.DataFrame:
    """Return the season all scents share, for a year from the week of `first`, else after the last known one.

    One row a week. Columns: week; factor, low and high (times the year's middle week, with a range that holds 8 times
    of 10); what (holidays in that week). Market days, promotions and days the shop is closed are left out.
    """
    history, fit = model.history, model.fit
    begin = history.origin if first is None else np.datetime64(first, "D") - first.day_of_week * DAY
    weeks = begin + np.arange(YEAR) * WEEK
    days = days_of(weeks)
    features = history.trade.features(days)
    planned = [name in PLANNED for name in history.trade.events]
    features[..., features.shape[-1] - len(planned) :] *= ~np.array(planned, bool)
    opened = np.ones(days.shape)
    where = fit.weeks.day_effects
    effects, block = fit.mode.shared[where], fit.mode.shared_cov[where, where]
    root = np.linalg.cholesky(block)
    spread = effects + np.random.default_rng(0).standard_normal((DRAWS, len(effects))) @ root.T
    curve = log_season(features, opened, effects)[0]
    curves = np.stack([log_season(features, opened, effect)[0] for effect in spread])
    low, high = np.quantile(curves - np.median(curves, axis=1, keepdims=True), [0.1, 0.9], axis=0)
    table = pd.DataFrame({"week": weeks.astype("datetime64[us]"), "factor": np.exp(curve - np.median(curve))})
    return table.assign(low=np.exp(low), high=np.exp(high), what=_holiday_names(model, table["week"]))


def weeks_left_out(model: Season) -> pd.DataFrame:
    """Return the weeks the forecast was not learned from although they stand in the demand table, and why.

    Columns: scent, week, bottles, why. Weeks that demand itself says were not on the shelf are not named.
    """
    history, names = model.history, np.array(model.scents, dtype=object)
    hidden = (model.fit.on_shelf == 0) & (history.on_shelf > 0)
    parts = []
    for mask, why in (
        (history.giants, "one giant order"),
        (hidden, "no sale, and hard to believe it was on the shelf"),
    ):
        scent, week = np.nonzero(mask)
        parts.append(
            pd.DataFrame(
                {
                    "scent": pd.Series(names[scent], dtype="str"),
                    "week": history.weeks[week].astype("datetime64[us]"),
                    "bottles": history.bottles[scent, week].astype("int64"),
                    "why": pd.Series([why] * len(scent), dtype="str"),
                }
            )
        )
    return pd.concat(parts, ignore_index=True).sort_values(["scent", "week"], ignore_index=True)


def _holiday_names(model: Season, weeks: pd.Series) -> pd.Series:
    trade = model.history.trade
    named = holidays(range(weeks.iloc[0].year, weeks.iloc[-1].year + 2), trade.posting, trade.country)
    named["week"] = named["day"] - pd.to_timedelta(named["day"].dt.day_of_week, unit="D")
    joined = named.groupby("week")["what"].agg(", ".join)
    return weeks.map(joined).fillna("").astype("str")
