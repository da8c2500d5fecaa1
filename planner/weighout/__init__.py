"""Grams of each material for a batch: safe on skin, on a scale that can weigh it, in a vessel that holds it."""

from planner.weighout.sheet import WeighOut, weigh_out
from planner.weighout.skin import highest_load, skin_check
from planner.weighout.trial import refused_scents

__all__ = ["WeighOut", "highest_load", "refused_scents", "skin_check", "weigh_out"]
