"""Restock: how many whole batches of each scent to make in which week, on which bench day, and what to buy for them."""

from planner.restock.buying import Buying, buy
from planner.restock.plan import Restock, plan_batches

__all__ = ["Buying", "Restock", "buy", "plan_batches"]
