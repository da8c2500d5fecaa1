"""What was for sale when, and so what people wanted: sales on days when the scent was on the shelf."""

from planner.shelf.days import ShelfBook, shelf_days
from planner.shelf.demand import weekly_demand

__all__ = ["ShelfBook", "shelf_days", "weekly_demand"]
