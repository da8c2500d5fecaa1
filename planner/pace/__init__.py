"""Which scent sells fastest, how sure that is, what each earns, how new ones began and which ones fade."""

from planner.pace.evidence import only_to_order, weeks_on_shelf
from planner.pace.launches import first_season
from planner.pace.rates import exact_interval
from planner.pace.table import scent_pace
from planner.pace.tails import leaving_frees
from planner.pace.window import ranked_weeks

__all__ = [
    "exact_interval",
    "first_season",
    "leaving_frees",
    "only_to_order",
    "ranked_weeks",
    "scent_pace",
    "weeks_on_shelf",
]
