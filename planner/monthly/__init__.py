"""Sales known only by month: forecasts of the months to come, as sample paths."""

from planner.monthly.assuming import month_assumptions
from planner.monthly.foresee import foresee_months
from planner.monthly.months import Months, as_if_open, grain, month_lines, month_totals, months_left_out
from planner.monthly.past import MonthsCheck, check_months
from planner.monthly.weeks import split_over_weeks, spread_sales

__all__ = [
    "Months",
    "MonthsCheck",
    "as_if_open",
    "check_months",
    "foresee_months",
    "grain",
    "month_assumptions",
    "month_lines",
    "month_totals",
    "months_left_out",
    "split_over_weeks",
    "spread_sales",
]
