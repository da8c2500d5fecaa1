"""What the season will ask for: a model of all scents learned from the past, and sample paths of the weeks to come."""

from planner.season.draws import Season, draw_paths, fit_season, summarise
from planner.season.past import PastCheck, check_on_past
from planner.season.shape import season_shape, weeks_left_out

__all__ = [
    "PastCheck",
    "Season",
    "check_on_past",
    "draw_paths",
    "fit_season",
    "season_shape",
    "summarise",
    "weeks_left_out",
]
