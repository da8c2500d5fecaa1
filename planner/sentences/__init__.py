"""Findings as sentences and figures, computed from the tables so that they cannot go stale."""

from planner.sentences.figures import fastest_figure, loss_figure, plan_figure, season_figure
from planner.sentences.folder import say_folder, say_next
from planner.sentences.making import say_buying, say_learned, say_losses, say_plan, say_risk, say_weigh_out
from planner.sentences.selling import (
    say_counts,
    say_fastest,
    say_hidden,
    say_launches,
    say_sales,
    say_season,
    say_tail,
    say_unknown,
    say_year,
)

__all__ = [
    "fastest_figure",
    "loss_figure",
    "plan_figure",
    "say_buying",
    "say_counts",
    "say_fastest",
    "say_folder",
    "say_hidden",
    "say_launches",
    "say_learned",
    "say_losses",
    "say_next",
    "say_plan",
    "say_risk",
    "say_sales",
    "say_season",
    "say_tail",
    "say_unknown",
    "say_weigh_out",
    "say_year",
    "season_figure",
]
