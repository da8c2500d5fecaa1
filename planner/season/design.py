"""What multiplies the unknowns of the model, week by week, in the past as in the weeks to come."""

from dataclasses import dataclass

import numpy as np

from planner.season.calendar import DAY, FEATURES, KNOTS
from planner.season.history import History, days_of, weeks_between
from planner.season.priors import BLOCK_WEEKS, FARTHEST_WEEKS, LAUNCH_WEEKS, PEAK

YEAR_WEEKS = 365.25 / 7
SHAPES = ("peak", "valentine", "mother", "sine", "cosine")  # how one scent's year may depart from the shop's


@dataclass(frozen=True)
class Weeks:
    """Some weeks as the model sees them: n scents, T weeks, F day features, J steps of drift, Y Christmases.

    The unknowns stand in this order. Shared by all scents: level, trend, J steps, Y peaks, F day effects, launch.
    Of one scent, as its departure from the shared: level, trend, J steps, Y peaks, then the SHAPES.
    """

    features: np.ndarray  # (T, 7, F)
    opened: np.ndarray  # (T, 7): 1 on days that count
    slow: np.ndarray  # (T, 2 + J): level, trend [years from now], steps of drift between the week and now
    in_year: np.ndarray  # (T, Y): 1 in the year of that Christmas
    launch: np.ndarray  # (n, T): how much of a scent's launch is still felt

    @property
    def steps(self) -> int:
        """Number of steps of drift, J."""
        return self.slow.shape[1] - 2

    @property
    def years(self) -> int:
        """Number of Christmases, Y."""
        return self.in_year.shape[1]

    @property
    def day_effects(self) -> slice:
        """Where the day effects stand among the shared unknowns."""
        first = self.slow.shape[1] + self.years
        return slice(first, first + self.features.shape[-1])


@dataclass(frozen=True)
class Columns:
    """The weeks once day effects are given: a week is the mean of its days, each with its own share of the demand."""

    season: np.ndarray  # (T,) log of the mean day
    means: np.ndarray  # (T, F) features averaged by each day's demand: the slope of `season`
    frame: np.ndarray  # (T, 2 + J + Y): the columns that the shared unknowns and a scent's have in common
    own: np.ndarray  # (T, 2 + J + Y + shapes): the columns of one scent


def log_season(features: np.ndarray, opened: np.ndarray, effects: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the log of each week's mean day and the features averaged with each day's share of the week's demand.

    A week with four big days and three dead ones is the mean of its days, not the mean of their logarithms.
    """
    day = opened * np.exp(features @ effects)
    week = np.maximum(day.sum(axis=1), 1e-300)
    return np.log(week / 7), (day[:, None, :] @ features)[:, 0, :] / week[:, None]


def columns(weeks: Weeks, effects: np.ndarray) -> Columns:
    """Return the columns of the weeks at these day effects."""
    season, means = log_season(weeks.features, weeks.opened, effects)
    shapes = means @ shape_matrix(means.shape[1])
    frame = np.hstack([weeks.slow, weeks.in_year * shapes[:, :1]])
    return Columns(season, means, frame, np.hstack([frame, shapes]))


def past_weeks(history: History) -> tuple[Weeks, np.ndarray]:
    """Return the weeks of the history, and the years whose Christmas it has seen."""
    days = days_of(history.weeks)
    features = history.trade.features(days)
    peak = (features @ shape_matrix(features.shape[-1]))[..., 0].max(axis=1)
    year = christmas_of(history.weeks)
    seen = np.unique(year[(peak > 0) & history.on_shelf.any(axis=0)])
    slow = np.column_stack([_level_and_trend(history, history.weeks), drift_steps(history.weeks, history.origin)])
    launch = launch_shape(history.launched, history.weeks)
    return Weeks(features, history.trade.open(days), slow, year[:, None] == seen, launch), seen


def coming_weeks(history: History, weeks: np.ndarray, inside: np.ndarray, steps: int, seen: np.ndarray) -> Weeks:
    """Return weeks to come, of which only the days `inside` (week, 7) count; the level is that of the origin."""
    days = days_of(weeks)
    slow = np.column_stack([_level_and_trend(history, weeks), np.zeros((len(weeks), steps))])
    in_year = christmas_of(weeks)[:, None] == seen
    launch = launch_shape(history.launched, weeks)
    return Weeks(history.trade.features(days), history.trade.open(days) * inside, slow, in_year, launch)


def _level_and_trend(history: History, weeks: np.ndarray) -> np.ndarray:
    years = np.minimum(weeks_between(weeks, history.origin), FARTHEST_WEEKS) / YEAR_WEEKS
    return np.column_stack([np.ones(len(weeks)), years])


def launch_shape(launched: np.ndarray, weeks: np.ndarray) -> np.ndarray:
    """Return how much of the launch is still felt, 1 falling to 0, shape (scent, week)."""
    age = weeks_between(weeks[None, :], launched[:, None])
    return np.where(np.isnan(age), 0.0, np.exp(-np.maximum(age, 0.0) / LAUNCH_WEEKS))


def drift_steps(weeks: np.ndarray, origin: np.datetime64) -> np.ndarray:
    """Return which steps of the drift lie between each week and now, shape (week, step); none in the last block."""
    block = (weeks_between(origin, weeks) - 1).astype(int) // BLOCK_WEEKS
    return (block[:, None] > np.arange(block.max(initial=0))).astype(float)


def christmas_of(weeks: np.ndarray) -> np.ndarray:
    """Return the year whose Christmas each week belongs to."""
    return (weeks + 6 * DAY).astype("datetime64[Y]").astype(int) + 1970


def shape_matrix(features: int) -> np.ndarray:
    """Return how the SHAPES are made of the day features: shapes = features @ matrix."""
    matrix = np.zeros((features, len(SHAPES)))
    first = FEATURES.index(f"Christmas, {KNOTS[0]} days before posting ends")
    matrix[first : first + len(KNOTS), 0] = PEAK / PEAK[0]
    for column, begin in enumerate(("Valentine's Day", "Mother's Day", "year sine", "year cosine"), 1):
        matrix[[place for place, name in enumerate(FEATURES) if name.startswith(begin)], column] = 1.0
    return matrix
