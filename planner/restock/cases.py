"""Cases: what the plan has to know of each scent, gathered from the tables, with what is missing said."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.problems import Problem
from planner.restock.bench import MIXING_ROOM
from planner.settings import Settings
from planner.tables import Paths, listed

KEEPS = 0.5  # share of its material cost a left-over bottle is worth where scents.csv does not say; our choice
LEFT_OVER_COST = 0.2  # of what a sold bottle earns, lost by one left over, where material cost is not known; our choice
WEEK = pd.Timedelta(days=7)


class Case(NamedTuple):
    """One scent as the plan sees it."""

    scent: str
    row: int  # in scents.csv
    wanted: np.ndarray  # [path, week] bottles customers want
    on_hand: int  # [bottles]
    per_batch: int  # for sale from one batch: all filled less those retained [bottles]
    batch_bottles: int  # filled from one batch [bottles]
    batch_ml: float  # oil in one batch, overage included [ml]
    rest_days: int  # [days]
    minutes: float  # bench time of one batch [minutes]
    earns: float  # one bottle sold: price less fees and materials [money]
    left_over: float  # one bottle left over: material cost that is gone [money]
    retained: float  # materials of the bottles retained from one batch [money]
    spend: float  # materials of one batch, 0 where not known [money]
    hindrance: str  # why no batch can be planned, else ""
    priced: bool  # what it earns follows from its own price; where no case is, [money] above means bottles


def plan_weeks(paths: Paths, today: pd.Timestamp) -> pd.DatetimeIndex:
    """Return the weeks of the plan: from this week (by its Monday) to the last week of the paths."""
    monday = today.normalize() - pd.Timedelta(days=today.day_of_week)
    return pd.date_range(monday, paths.weeks[-1], freq=WEEK) if len(paths.weeks) else pd.DatetimeIndex([])


def gather(
    paths: Paths,
    costs: pd.DataFrame,
    scents: pd.DataFrame,
    on_hand: pd.DataFrame,
    minutes: pd.DataFrame,
    settings: Settings,
    weeks: pd.DatetimeIndex,
    refused: pd.DataFrame | None = None,
) -> tuple[list[Case], list[Problem]]:
    """Return a case for each scent of the paths, in the order of scents.csv, and what was missing.

    Weeks before the paths begin count as weeks in which nothing is wanted; paths of weeks gone by are left out.
    """
    known = scents.drop_duplicates("scent").set_index("scent")
    known = known[known.index.isin(paths.scents)]
    money, problems = _money(costs, known, settings)
    stock = on_hand.drop_duplicates("scent").set_index("scent")["on_hand"].astype("float64").reindex(known.index)
    problems += _uncounted(list(known.index[stock.isna()]))
    setup, each = _minutes(minutes, settings)
    cases, barred = [], _barred(refused)
    for scent, line in known.iterrows():
        case = _case(
            str(scent), line, money.loc[scent], _wanted(paths, str(scent), line["last_sold"], weeks), stock[scent]
        )
        hindrance = barred.get(case.scent, case.hindrance)
        cases.append(case._replace(minutes=setup + each * case.batch_bottles, hindrance=hindrance))
    problems += [_refused(case) for case in cases if case.scent in barred]
    return cases, problems + [_hindered(case) for case in cases if case.hindrance and case.scent not in barred]


def _barred(refused: pd.DataFrame | None) -> dict[str, str]:
    """Return for each scent that must not be made the hindrance, all reasons together."""
    if refused is None:
        return {}
    reasons = refused["reason"].astype(str).str.strip().str.rstrip(".").groupby(refused["scent"], sort=False)
    return {str(scent): f"it must not be made as it stands: {'; '.join(texts.unique())}" for scent, texts in reasons}


def _wanted(paths: Paths, scent: str, last_sold: pd.Timestamp, weeks: pd.DatetimeIndex) -> np.ndarray:
    """Bottles wanted in the weeks of the plan; none after the week it is sold for the last time."""
    wanted = np.zeros((len(paths.bottles), len(weeks)), paths.bottles.dtype)
    inside = paths.weeks.isin(weeks)
    wanted[:, weeks.get_indexer(paths.weeks[inside])] = paths.of(scent)[:, inside]
    if pd.notna(last_sold):
        wanted[:, weeks > last_sold] = 0
    return wanted


def _case(scent: str, line: pd.Series, money: pd.Series, wanted: np.ndarray, stock: float) -> Case:
    def whole(name: str, absent: int = 0) -> int:
        return absent if pd.isna(line[name]) else max(int(line[name]), 0)

    bottles, retained = whole("batch_bottles"), whole("retained")
    hindrance = (
        "batch_bottles is empty"
        if bottles == 0
        else "a batch is no larger than what is retained of it"
        if bottles <= retained
        else ""
    )
    cost = 0.0 if pd.isna(money["material_cost"]) else float(money["material_cost"])
    return Case(
        scent=scent,
        row=int(line["row"]) if "row" in line.index else 0,
        wanted=wanted,
        on_hand=0 if pd.isna(stock) else max(int(stock), 0),
        per_batch=max(bottles - retained, 0),
        batch_bottles=bottles,
        batch_ml=bottles * float(money["label_ml"]) * MIXING_ROOM,
        rest_days=whole("rest_days"),
        minutes=0.0,
        earns=float(money["earns"]),
        left_over=float(money["left_over"]),
        retained=retained * float(money["gone"]),
        spend=bottles * cost,
        hindrance=hindrance,
        priced=bool(money["priced"]),
    )


def _money(costs: pd.DataFrame, known: pd.DataFrame, settings: Settings) -> tuple[pd.DataFrame, list[Problem]]:
    """Return for each scent what a sold bottle earns and a left-over one loses, with stand-ins where not known."""
    table = costs.drop_duplicates("scent").set_index("scent").reindex(known.index)
    table["label_ml"] = table["label_ml"].fillna(known["label_ml"])
    earns = table["contribution_per_bottle"].fillna(
        table["price"] - table["fees"].fillna(0) - table["material_cost"].fillna(0)
    )
    unpriced = earns.isna()
    table["priced"] = ~unpriced
    table["earns"] = earns.fillna(earns.median()).fillna(1.0)
    keeps = known["keeps"].fillna(KEEPS).clip(0, 1)
    loses = (table["material_cost"] * (1 - keeps)).where(~unpriced)
    table["left_over"] = loses.fillna(table["earns"].clip(lower=0) * LEFT_OVER_COST)
    table["gone"] = table["left_over"] if unpriced.all() else table["material_cost"].fillna(0)
    uncosted = ~unpriced & table["contribution_per_bottle"].isna() & table["material_cost"].isna()
    problems = _uncosted(list(known.index[uncosted]), bool(uncosted.all()), settings)
    return table, _unpriced(list(known.index[unpriced]), bool(unpriced.all())) + problems


def _uncosted(scents: list[str], every: bool, settings: Settings) -> list[Problem]:
    """Say what stands in for material costs, which also leave money_available without anything to count."""
    if not scents:
        return []
    whose = "" if every else f" of {listed(scents)}"
    what = (
        f"material costs{whose} are not known: a bottle is taken to earn its price less fees, and one left over to "
        f"lose {LEFT_OVER_COST:.0%} of that"
    )
    unlimited = "" if settings.money_available is None else "; money_available does not limit how many are made"
    todo = "Fill in formulas.csv and what the packs cost, then run again."
    return [Problem("packs.csv", 0, "pack_cost", f"{what}{unlimited}.", todo, stops=False)]


def _unpriced(scents: list[str], every: bool) -> list[Problem]:
    if not scents:
        return []
    todo = "Fill in price, then run again."
    if every:
        what = "no scent has a price, so every bottle counts the same: contribution is in bottles, not in money."
        return [Problem("scents.csv", 0, "price", what, todo, stops=False)]
    what = f"no price for {listed(scents)}: planned as if a bottle earned the middle of what the others earn."
    return [Problem("scents.csv", 0, "price", what, todo, stops=False)]


def _uncounted(scents: list[str]) -> list[Problem]:
    if not scents:
        return []
    what = f"does not say how many bottles of {listed(scents)} are on hand; planned as if there were none."
    return [Problem("stock.csv", 0, "on_hand", what, "Count them, add the lines, then run again.", stops=False)]


def _hindered(case: Case) -> Problem:
    what = f"{case.scent} cannot be planned: {case.hindrance}."
    return Problem("scents.csv", case.row, "batch_bottles", what, "Write how many bottles are filled from one batch.")


def _refused(case: Case) -> Problem:
    what = f"no batch of {case.scent} is planned, since {case.hindrance}."
    return Problem("", 0, "", what, "Put that right, then run again.")


def _minutes(minutes: pd.DataFrame, settings: Settings) -> tuple[float, float]:
    bench = settings.bench
    setup, each = (
        minutes[name].iloc[0] if len(minutes) else np.nan for name in ("setup_minutes", "minutes_per_bottle")
    )
    return (
        bench.setup_minutes if pd.isna(setup) else float(setup),
        bench.minutes_per_bottle if pd.isna(each) else float(each),
    )
