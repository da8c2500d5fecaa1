"""Pictures: a table in, a chart out. Charts draw and never compute."""

from planner.charts.books import line_flow_chart, unknown_names_chart, weekly_sales_chart
from planner.charts.foreseeing import past_check_chart, season_shape_chart, season_totals_chart, season_weeks_chart
from planner.charts.losing import loss_causes_chart, loss_control_chart, oil_parts_chart
from planner.charts.making import bench_chart, load_chart, plan_chart
from planner.charts.reasons import changes_chart, departures_chart, shop_level_chart, unsold_chart
from planner.charts.selling import launch_chart, pace_chart, scent_weeks_chart

__all__ = [
    "bench_chart",
    "changes_chart",
    "departures_chart",
    "launch_chart",
    "line_flow_chart",
    "load_chart",
    "loss_causes_chart",
    "loss_control_chart",
    "oil_parts_chart",
    "pace_chart",
    "past_check_chart",
    "plan_chart",
    "scent_weeks_chart",
    "season_shape_chart",
    "season_totals_chart",
    "season_weeks_chart",
    "shop_level_chart",
    "unknown_names_chart",
    "unsold_chart",
    "weekly_sales_chart",
]
