"""Does it look right? What in the sales is odd enough to ask about, and what it would change."""

from planner.plausible.look import look_over

__all__ = ["look_over"]
