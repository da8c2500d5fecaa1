"""Findings as sentences and figures, computed from the tables so that they cannot go stale."""

from planner.sentences.figures import fastest_figure, loss_figure, plan_figure, season_figure
from planner.sentences.folder import say_folder, say_next
from planner.sentences.foreseeing import (
    say_asleep,
    say_check,
    say_history,
    say_left_out,
    say_method,
    say_scaled,
    say_season,
    say_year,
)
from planner.sentences.making import say_buying, say_learned, say_losses, say_plan, say_risk, say_weigh_out
from planner.sentences.reasons import say_changes, say_departures, say_growth, say_prices, say_unsold
from planner.sentences.selling import (
    say_beside,
    say_fastest,
    say_launches,
    say_sales,
    say_steps,
    say_tail,
    say_unknown,
    say_weeks,
)
from planner.sentences.shelved import say_counts, say_hidden
from planner.sentences.supplying import say_markets, say_slack, say_worth

__all__ = [
    "fastest_figure",
    "loss_figure",
    "plan_figure",
    "say_asleep",
    "say_beside",
    "say_buying",
    "say_changes",
    "say_check",
    "say_counts",
    "say_departures",
    "say_fastest",
    "say_folder",
    "say_growth",
    "say_hidden",
    "say_history",
    "say_launches",
    "say_learned",
    "say_left_out",
    "say_losses",
    "say_markets",
    "say_method",
    "say_next",
    "say_plan",
    "say_prices",
    "say_risk",
    "say_sales",
    "say_scaled",
    "say_season",
    "say_slack",
    "say_steps",
    "say_tail",
    "say_unknown",
    "say_unsold",
    "say_weeks",
    "say_weigh_out",
    "say_worth",
    "say_year",
    "season_figure",
]
