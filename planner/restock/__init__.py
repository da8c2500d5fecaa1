"""Restock: how many whole batches of each scent to make in which week, on which bench day, and what to buy for them."""

from planner.restock.bench_calendar import bench_calendar
from planner.restock.bottle import bottle_account
from planner.restock.buying import Buying, buy
from planner.restock.packing_list import market_packing
from planner.restock.plan import Restock, plan_batches
from planner.restock.worth import worth_on_hand

__all__ = [
    "Buying",
    "Restock",
    "bench_calendar",
    "bottle_account",
    "buy",
    "market_packing",
    "plan_batches",
    "worth_on_hand",
]
