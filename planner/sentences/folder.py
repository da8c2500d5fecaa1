"""What the maker should look at first, in sentences."""

from collections.abc import Sequence

from planner.problems import Problem
from planner.sentences.wording import number


def say_folder(problems: Sequence[Problem], absent: Sequence[str]) -> str:
    """Say what to do first in this folder."""
    stops = [problem for problem in problems if problem.stops]
    if stops:
        count = f"{'is' if len(stops) == 1 else 'are'} {number(len(stops), 'thing')}"
        return f"Put right first: {stops[0]} There {count} like that in the list; what is wrong is left out."
    if absent:
        more = f"{number(len(absent), 'file')} could still be started"
        return f"Every row could be read. {more}; go on with the sales check."
    return "Every row could be read and no file is missing: go on with the sales check."


def say_next(problems: Sequence[Problem]) -> str:
    """Say what to put right in the sales first; problems come with the most at stake first."""
    stops = [problem for problem in problems if problem.stops]
    if not stops:
        return "Nothing needs putting right in the sales files."
    return f"Put right first: {stops[0]}"
