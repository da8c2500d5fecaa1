"""The whole way, as the notebooks go it: each function hands tables of the folder to the next steps."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from planner.by_month import (
    assumed_by_month,
    check_by_month,
    known_by_month,
    paths_by_month,
    read_week_totals,
    sales_by_day,
)
from planner.files import Folder
from planner.formula import Blends, Costs, blends, bottle_costs
from planner.losses import Losses, learn_minutes, learn_overage, run_losses
from planner.monthly import months_left_out
from planner.pace import first_season, leaving_frees, scent_pace
from planner.plausible import look_over
from planner.problems import Problem
from planner.restock import (
    Buying,
    Restock,
    bench_calendar,
    bottle_account,
    buy,
    market_packing,
    plan_batches,
    worth_on_hand,
)
from planner.restock.bench import leave_free
from planner.restock.calendar_file import bench_file
from planner.restock.gift_sets import set_needs, sets_wanted
from planner.restock.month_page import month_page
from planner.sales import Books, read_sales
from planner.season import (
    PastCheck,
    Season,
    check_on_past,
    draw_paths,
    fit_season,
    season_shape,
    summarise,
    weeks_left_out,
)
from planner.season.assuming import assumptions
from planner.season.drivers import as_if_on_shelf, scent_departures, shop_level, unsold_demand, yearly_growth
from planner.season.pricing import price_changes
from planner.season.silence import silent_weeks
from planner.season.what_if import what_newest_would_change, what_would_change
from planner.season.widening import Widening, learn_widening, widen_paths
from planner.shelf import ShelfBook, shelf_days, weekly_demand
from planner.tables import Paths
from planner.weighout import WeighOut, refused_scents, weigh_out

WIDENED = 1  # the stream of chance for wider ranges: what is drawn before does not change with it
SEASON_DAYS = 84  # twelve weeks, where shop.toml names no season that is still to come


class Past(NamedTuple):
    """What really sold, what was on the shelf, and what people wanted.

    `everywhere` is demand as if every channel had every scent: weeks to come are foreseen whole, so the forecast learns
    from whole weeks, in which a scent for markets sold nothing where there was none.
    """

    books: Books
    shelf: ShelfBook
    demand: pd.DataFrame
    everywhere: pd.DataFrame


class Oils(NamedTuple):
    """What a gram and a bottle of each formula weigh and cost."""

    blend: Blends
    costs: Costs


class Runs(NamedTuple):
    """What past runs lost, and what they teach the next one."""

    lost: Losses
    overage: pd.DataFrame
    minutes: pd.DataFrame


class Reasons(NamedTuple):
    """What drove the forecast (season.drivers, pricing, assuming, what_if say which columns), empty where not known.

    left_out: weeks, or months, nothing was learned from (scent, week, bottles, why).
    """

    departures: pd.DataFrame
    level: pd.DataFrame
    growth: pd.DataFrame
    unsold: pd.DataFrame
    prices: pd.DataFrame
    left_out: pd.DataFrame
    assumed: pd.DataFrame
    changes: pd.DataFrame


class Ahead(NamedTuple):
    """What the season will ask for; `check` says what such forecasts were worth before, `widening` what it led to.

    `by_month`: sales are known by month only, so that the paths come from months and `model` only shows the season.
    """

    model: Season
    paths: Paths
    forecast: pd.DataFrame
    first_day: pd.Timestamp
    last_day: pd.Timestamp
    check: PastCheck
    widening: Widening
    by_month: bool


def _tables(shop: Folder, *names: str) -> dict[str, pd.DataFrame]:
    """Return the maker's tables that a step takes by their own names."""
    return {name: shop[name] for name in names}


def read_past(shop: Folder) -> Past:
    """Read the sales and work out the shelf and weekly demand."""
    books = read_sales(shop.exports, shop.settings, shop["scents"], shop["sets"], shop.today)
    files = _tables(shop, "scents", "stock", "runs", "moves", "calendar")
    told = read_week_totals(shop, books.sales)
    by_day = sales_by_day(shop, told.sales)
    shelf = shelf_days(by_day, settings=told.settings, today=shop.today, **files)
    demand = weekly_demand(by_day, shelf.shelf, told.settings)
    same = shelf.everywhere is shelf.shelf
    everywhere = demand if same else weekly_demand(by_day, shelf.everywhere, told.settings)
    return Past(books, shelf._replace(problems=[*told.problems, *shelf.problems]), demand, everywhere)


def look_over_sales(shop: Folder, past: Past) -> pd.DataFrame:
    """List what does not look right in the sales, and what it would change."""
    books = past.books
    return look_over(books.sales, books.accounts, shop["scents"], shop["calendar"], shop.settings, shop.today)


def cost_oils(shop: Folder) -> Oils:
    """Work out the blends and what a bottle of each scent costs and earns."""
    blend = blends(shop["formulas"], shop["materials"])
    files = _tables(shop, "scents", "formulas", "packing", "packs", "materials")
    return Oils(blend, bottle_costs(blends=blend.blends, settings=shop.settings, **files))


def rank_scents(shop: Folder, past: Past, oils: Oils, seed: int = 1) -> pd.DataFrame:
    """Rank the scents by pace (table pace)."""
    minutes = learn_minutes(shop["runs"], shop.settings)
    rng = np.random.default_rng(seed)
    return scent_pace(past.demand, oils.costs.costs, shop.settings, rng, shop["scents"], minutes)


def compare_launches(shop: Folder, past: Past) -> pd.DataFrame:
    """Put the first seasons of new scents side by side, by weeks since launch."""
    return first_season(past.demand, shop["scents"])


def look_at_tail(shop: Folder, pace: pd.DataFrame, oils: Oils) -> pd.DataFrame:
    """Say what a year without each scent at the tail of the range would free."""
    return leaving_frees(pace, oils.costs.costs, shop["scents"], learn_minutes(shop["runs"], shop.settings))


def foresee(shop: Folder, past: Past, count: int = 1000, seed: int = 1) -> Ahead:
    """Fit the season on past demand and draw `count` sample paths from today to the season's last day.

    The weeks before the season begins count too: what sells in them is not there any more when it does. Where sales
    are known by month only, the paths are drawn by month and split over weeks. Ranges that did not hold in past seasons
    are made wider (season.widening).
    """
    first, last = season_window(shop)
    check = check_past(shop, past, seed=seed)
    widening = learn_widening(check.ranges)
    model = fit_season(past.everywhere, shop["scents"], shop["calendar"], shop.settings, shop.today)
    by_month = known_by_month(shop, past.books.sales)
    if by_month:
        paths = paths_by_month(shop, past.books.sales, (first, last), count, seed)
    else:
        paths = draw_paths(model, first, last, count, np.random.default_rng(seed))
    paths = widen_paths(paths, widening.factor, np.random.default_rng([seed, WIDENED]))
    return Ahead(model, paths, summarise(paths), first, last, check, widening, by_month)


def season_window(shop: Folder) -> tuple[pd.Timestamp, pd.Timestamp]:
    """First and last day to plan for: from today to the end of the season in shop.toml, else the next twelve weeks."""
    season = shop.settings.season
    if season and pd.Timestamp(season.last_day) >= shop.today:
        return shop.today, pd.Timestamp(season.last_day)
    return shop.today, shop.today + pd.Timedelta(days=SEASON_DAYS - 1)


def check_past(shop: Folder, past: Past, count: int = 400, seed: int = 1) -> PastCheck:
    """Forecast past seasons from before them and compare with what happened."""
    if known_by_month(shop, past.books.sales):
        return PastCheck(*check_by_month(shop, past.books.sales, count, seed))
    return check_on_past(
        past.everywhere, shop["scents"], shop["calendar"], shop.settings, np.random.default_rng(seed), count=count
    )


def year_shape(ahead: Ahead) -> pd.DataFrame:
    """Return the season all scents share, week by week for a year."""
    return season_shape(ahead.model, ahead.first_day)


def explain_season(shop: Folder, past: Past, ahead: Ahead, seed: int = 1) -> Reasons:
    """Show what drove the forecast, what is assumed, and what would change it most.

    Where sales are known by month only, what was sold out is not known, and the season is not drawn again.
    """
    model, window, demand = ahead.model, (ahead.first_day, ahead.last_day), past.everywhere
    known = (scent_departures(model), shop_level(model), yearly_growth(model))
    unsold, prices = unsold_demand(model, demand), price_changes(demand)
    silent = silent_weeks(demand[demand["channel"].eq("all")])
    assumed = assumptions(model, shop.settings, *window, silent, ahead.by_month)
    if ahead.by_month:
        assumed = pd.concat([assumed, assumed_by_month(shop, past.books.sales, window)], ignore_index=True)
        left_out = months_left_out(past.books.sales, shop["scents"], shop.settings, shop.today)
        newest = what_newest_would_change(model, ahead.paths)
        return Reasons(*known, unsold.iloc[:0], prices, left_out, assumed, newest)
    unaware = fit_season(as_if_on_shelf(demand), shop["scents"], shop["calendar"], shop.settings, shop.today)
    others = {"had sold-out days been taken for days without demand": unaware}
    changes = what_would_change(model, ahead.paths, *window, seed, others)
    return Reasons(*known, unsold, prices, weeks_left_out(model), assumed, changes)


def study_runs(shop: Folder, oils: Oils) -> Runs:
    """Balance the past runs and learn overage and minutes from them."""
    files = _tables(shop, "runs", "weighed", "fills", "scents")
    lost = run_losses(blends=oils.blend.blends, costs=oils.costs.costs, **files)
    return Runs(lost, learn_overage(lost.losses, shop.settings), learn_minutes(shop["runs"], shop.settings))


def plan_restock(shop: Folder, past: Past, ahead: Ahead, oils: Oils, runs: Runs) -> Restock:
    """Plan whole batches of each scent and put them on bench days; market and closed days are left free."""
    settings = leave_free(shop.settings, shop["calendar"])
    restock = plan_batches(
        ahead.paths,
        oils.costs.costs,
        shop["scents"],
        past.shelf.on_hand,
        runs.minutes,
        shop["wishes"],
        shop["orders"],
        settings,
        shop.today,
        scents_refused(shop, oils),
    )
    on_days = bench_calendar(restock.bench, shop["scents"], runs.minutes, settings, shop.today)
    return restock._replace(bench=on_days.bench, problems=restock.problems + on_days.problems)


def buy_materials(
    shop: Folder, restock: Restock, oils: Oils, runs: Runs, past: Past | None = None, ahead: Ahead | None = None
) -> Buying:
    """List what the planned batches need, net of what is there, in whole packs.

    With the past and the season ahead, what goes with gift sets (their boxes) is bought too.
    """
    files = _tables(shop, "scents", "formulas", "packing", "packs", "materials", "material_lots")
    facts = {"blends": oils.blend.blends, "overage": runs.overage}
    more, wrong = None, list[Problem]()
    if past is not None and ahead is not None:
        sales, sets = past.books.sales, shop["sets"]
        wanted = sets_wanted(sales, sets, ahead.forecast, restock.plan, ahead.first_day, ahead.last_day)
        density = shop["materials"].drop_duplicates("material").set_index("material")["density_g_per_ml"]
        more, wrong = set_needs(wanted, shop["packing"], density, shop.today)
    bought = buy(restock.bench, settings=shop.settings, today=shop.today, more=more, **facts, **files)
    return bought._replace(problems=bought.problems + wrong)


def account_bottles(shop: Folder, past: Past, oils: Oils, runs: Runs) -> pd.DataFrame:
    """Say what a bottle of each scent costs and earns in each channel (table bottle-costs)."""
    facts = {"overage": runs.overage, "minutes": runs.minutes, "settings": shop.settings, "today": shop.today}
    return bottle_account(oils.costs.costs, shop["scents"], past.books.sales, **facts)


def value_stock(shop: Folder, past: Past, oils: Oils) -> pd.DataFrame:
    """Say what bottles and materials on hand are worth today (table worth)."""
    files = _tables(shop, "material_lots", "packs", "materials")
    return worth_on_hand(past.shelf.on_hand, oils.costs.costs, date=shop.today, **files)


def pack_for_markets(shop: Folder, past: Past, ahead: Ahead, restock: Restock) -> pd.DataFrame:
    """Say what to take to each market day to come (table packing-list)."""
    facts = {"on_hand": past.shelf.on_hand, "bench": restock.bench, "scents": shop["scents"]}
    return market_packing(
        past.books.sales, shop["calendar"], ahead.paths, settings=shop.settings, today=shop.today, **facts
    )


def print_month(shop: Folder, restock: Restock, buying: Buying) -> pd.DataFrame:
    """Return the weeks of the plan as a page to print, a row for each week and a column for each day."""
    orders = buying.orders.supplier_orders
    return month_page(restock.bench, shop["calendar"], orders, shop.settings, shop.today)


def write_bench_file(shop: Folder, restock: Restock) -> str:
    """Return the text of bench.ics, to import into any calendar."""
    return bench_file(restock.bench, shop.settings.name, shop.today)


def weigh_batches(shop: Folder, bench: pd.DataFrame, oils: Oils, runs: Runs) -> WeighOut:
    """Turn batches (table bench) into grams, and refuse what must not be made."""
    names = ("scents", "formulas", "materials", "packing", "material_lots", "overrides")
    facts = {"blends": oils.blend.blends, "overage": runs.overage}
    return weigh_out(bench, settings=shop.settings, today=shop.today, **facts, **_tables(shop, *names))


def scents_refused(shop: Folder, oils: Oils) -> pd.DataFrame:
    """Return the scents of which no batch must be made as they stand: scent, reason."""
    files = _tables(shop, "scents", "formulas", "materials", "packing", "material_lots", "overrides")
    return refused_scents(blends=oils.blend.blends, settings=shop.settings, today=shop.today, **files)
