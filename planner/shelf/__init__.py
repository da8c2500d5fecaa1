"""What was for sale when, and so what people wanted: sales on days when the scent was on the shelf."""

from planner.shelf.days import ShelfBook, shelf_days
from planner.shelf.demand import weekly_demand
from planner.shelf.total_weeks import WeekTotals, week_totals

__all__ = ["ShelfBook", "WeekTotals", "shelf_days", "week_totals", "weekly_demand"]
