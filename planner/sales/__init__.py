"""Exports of any shape become one table of sales; what is not counted is set aside with its reason."""

from planner.sales.books import Books, read_sales

__all__ = ["Books", "read_sales"]
