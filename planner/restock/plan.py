"""The plan: whole batches of each scent in each week, worth most over the sample paths, within what limits it."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import MakerError, Problem
from planner.restock.bench import arrivals, bench_days, bench_periods, bench_table
from planner.restock.cases import WEEK, Case, gather, plan_weeks
from planner.restock.choose import Choice, Offer, Options, choose
from planner.restock.look import Limits, Look, batch_range, contribution, look_at
from planner.restock.report import fact_table, plan_table, step_table
from planner.restock.timelines import MOST_NODES, Found, chosen, few_paths, near_best, play_through
from planner.restock.wishes import Wish, allows, clash_problem, promised, read_wishes, smallest_clash
from planner.settings import Settings
from planner.tables import Paths

EARLIER = (
    1e-5  # taken off for each bench period a batch waits, so that of equal timelines the earlier is chosen [money]
)


class Restock(NamedTuple):
    """The plan by scent, its batches on bench days, figures about it, what other numbers of batches would bring."""

    plan: pd.DataFrame
    bench: pd.DataFrame
    facts: pd.DataFrame  # what, value, unit
    steps: pd.DataFrame  # scent, batches, bottles, contribution, chance_sold_out
    problems: list[Problem]


def plan_batches(
    paths: Paths,
    costs: pd.DataFrame,
    scents: pd.DataFrame,
    on_hand: pd.DataFrame,
    minutes: pd.DataFrame,
    wishes: pd.DataFrame,
    orders: pd.DataFrame,
    settings: Settings,
    today: pd.Timestamp,
    refused: pd.DataFrame | None = None,
) -> Restock:
    """Choose how many whole batches of each scent to make in which week.

    Every sensible timeline of each scent is played through on all sample paths: bottles sell week by week from what
    is there, a lost sale does not come back, a batch counts from the first Monday after its rest. Then one timeline
    for each scent is chosen, together worth most, within bench days (whole batches on whole days), money_available
    (materials of the batches made, as if none were on hand), wishes and promises.

    Contribution of a scent = bottles sold × contribution_per_bottle − bottles left over × material_cost × (1 − keeps)
    − material cost of the bottles retained. Bottles already on hand count like those made now: what they cost is
    spent either way and changes no choice. Promised bottles count as sold at the usual contribution. In the table
    plan `bottles` are those for sale (all filled less retained); in bench they are all that are filled. A scent is
    sold out on a path when it loses a sale there. Keeping bottles from week to week costs nothing.

    Scents in `refused` (scent, reason) must not be made: they get no batch, and what is on hand of them still sells.

    Wishes that cannot be kept are named in a problem and left out. Without prices all bottles count the same.
    Without material costs a bottle earns its price less fees.
    """
    weeks = plan_weeks(paths, today)
    if not len(weeks):
        raise MakerError(Problem("shop.toml", 0, "[season]", "there is no week left to plan for.", "Change last_day."))
    cases, problems = gather(paths, costs, scents, on_hand, minutes, settings, weeks, refused)
    wanted, wrong = read_wishes(wishes, orders, [case.scent for case in cases], weeks)
    limits = _limits(cases, wanted, weeks, settings, today)
    problems += wrong + [_too_long(case, limits) for case in cases if case.minutes > limits.day_minutes]
    looks, choice, kept, clashes = _best_plan(cases, wanted, limits, len(weeks))
    bench, vessels = bench_table(_made(looks, choice, limits), settings)
    unit = settings.currency if any(case.priced for case in cases) else "bottles"
    return Restock(
        plan_table(looks, choice, kept, limits, unit),
        bench,
        fact_table(looks, choice, limits, unit, settings.currency),
        step_table(looks, choice),
        problems + clashes + vessels,
    )


def _limits(
    cases: list[Case], wishes: list[Wish], weeks: pd.DatetimeIndex, settings: Settings, today: pd.Timestamp
) -> Limits:
    """Bench days on which some batch still comes in time, put together in periods, and the money there is."""
    last_day = weeks[-1] + WEEK - pd.Timedelta(days=1)
    if settings.season is not None:
        last_day = min(last_day, pd.Timestamp(settings.season.last_day))
    days = bench_days(settings, today, last_day)
    arrival = arrivals(days, np.array([case.rest_days for case in cases], int), weeks[0])
    useful = (arrival < len(weeks)).any(axis=0)
    days, arrival = days[useful], arrival[:, useful]
    first = [_first_wanted(case.wanted.any(axis=0) | (promised(wishes, case.scent, len(weeks)) > 0)) for case in cases]
    period = bench_periods(days, np.maximum(arrival, np.array(first, int)[:, None]))
    last_of_period = np.flatnonzero(np.diff(period, append=-1))
    money = np.inf if settings.money_available is None else settings.money_available
    return Limits(days, period, arrival[:, last_of_period], settings.bench.hours_per_day * 60, money)


def _first_wanted(wanted: np.ndarray) -> int:
    return int(wanted.argmax()) if wanted.any() else len(wanted)


def _best_plan(
    cases: list[Case], wishes: list[Wish], limits: Limits, weeks: int
) -> tuple[list[Look], Choice, list[Wish], list[Problem]]:
    """Choose a timeline for each scent; wishes that clash are left out, said, and the rest is chosen again."""
    kept, problems = list(wishes), list[Problem]()
    while True:
        looks = [
            look_at(case, kept, arrival, limits, weeks) for case, arrival in zip(cases, limits.arrival, strict=True)
        ]
        choice = _choose(looks, kept, limits)
        if choice is not None:
            return looks, choice, kept, problems
        clash = smallest_clash(kept, lambda some: _choose(looks, some, limits) is not None)  # noqa: B023
        problems.append(clash_problem(clash, {case.scent: case.hindrance for case in cases}))
        kept = [wish for wish in kept if wish not in clash]


def _choose(looks: list[Look], wishes: list[Wish], limits: Limits) -> Choice | None:
    """Choose among the timelines that keep the wishes."""
    offers = [_offer(look, [wish for wish in wishes if wish.scent == look.case.scent]) for look in looks]
    return choose(offers, limits.counts, limits.day_minutes, limits.money)


def _offer(look: Look, wishes: list[Wish]) -> Offer:
    """Return the scent as the choice sees it: its value is its contribution, less a trifle for making batches late."""
    due = promised(wishes, look.case.scent, len(look.due))
    fewest, most = batch_range(look, wishes)
    late = EARLIER * np.arange(len(look.play.room))

    def keeps(found: Found) -> np.ndarray:
        kept = [allows(wish, look.case, found.counts, found.sold_out, look.arrival, due) for wish in wishes]
        return np.logical_and.reduce(kept) if kept else np.ones(len(found.worth), bool)

    base = contribution(look, look.best)[0] - look.best.worth[0]

    def near(price: np.ndarray, slack: float, known: float, wide: int) -> Options:
        numbers = range(fewest, most + 1)
        if wide == MOST_NODES:
            found = near_best(look.play, price + late, numbers, keeps, slack, known - base)
        else:
            rough = near_best(few_paths(look.play), price + late, numbers, keeps, slack, -np.inf, wide)
            found = play_through(look.play, rough.counts)
            found = chosen(found, keeps(found))
        return Options(found.counts, found.worth + base - found.counts @ late, found.complete)

    return Offer(look.case.minutes, look.case.spend, look.play.per_batch * look.play.per_lost, near)


def _made(looks: list[Look], choice: Choice, limits: Limits) -> pd.DataFrame:
    """Return the batches of the plan, one row each, with the day each is made."""
    columns = ["scent", "mix_on", "minutes", "rest_days", "batch_bottles", "batch_ml"]
    rows = []
    for number, period, day in choice.placed:
        case = looks[number].case
        mix_on = limits.days[limits.period == period][day]
        rows.append([case.scent, mix_on, case.minutes, case.rest_days, case.batch_bottles, case.batch_ml])
    return pd.DataFrame(rows, columns=columns)


def _too_long(case: Case, limits: Limits) -> Problem:
    takes = f"a batch of {case.scent} takes {case.minutes:.0f} minutes"
    what = f"{takes}, a bench day has {limits.day_minutes:.0f}: none is planned."
    todo = "Make smaller batches, or longer bench days in shop.toml."
    return Problem("scents.csv", case.row, "batch_bottles", what, todo)
