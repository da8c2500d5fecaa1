"""Which channels have which scents: stated, and else as sales say."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import nbinom
from shelf_tables import WEB_AND_MARKET, sales_of, shelf_of

from planner.settings import Channel, Settings
from planner.shelf import outlets, weekly_demand

DAYS = pd.date_range("2025-01-06", periods=7 * 30)  # Mondays first; a market on every second Saturday
MARKETS = DAYS[5::14]
CALENDAR = [{"first_day": day, "what": "Stall", "kind": "market", "channel": "market"} for day in MARKETS]
SHOP = Settings(
    "T", "EUR", channels=(Channel("web"), Channel("market", open="market days"), Channel("trade", open="to order"))
)


def lines(stall=5, web=0):
    """Fig sells one a day on the web and 14 at each market; Stall sells at markets, and `web` bottles on the web."""
    fig = [(day, "Fig", 1, "sale", "web") for day in DAYS] + [(day, "Fig", 14, "sale", "market") for day in MARKETS]
    at_market = [(day, "Stall", stall, "sale", "market") for day in MARKETS]
    return [*fig, *at_market, *[(DAYS[8 + 9 * n], "Stall", 1, "sale", "web") for n in range(web)]]


def book_of(rows, settings=WEB_AND_MARKET, **stated):
    return shelf_of(sales_of(*rows), ("Fig", "Stall"), calendar=CALENDAR, settings=settings, **stated)


def stall(rows, **stated):
    sales = sales_of(*rows)
    demand = weekly_demand(sales, book_of(rows, **stated).shelf, WEB_AND_MARKET)
    return demand[demand["scent"] == "Stall"].set_index("week")


def test_a_scent_for_markets_is_on_the_shelf_on_market_days_only_and_other_weeks_are_unknown():
    # Fig is in both channels, so 75 of the web were to be expected of Stall; in a week with a market half is the web's
    week = stall(lines())
    market, other = week.iloc[2:-2:2], week.iloc[1:-2:2]
    assert market["shelf_days"].eq(1).all()
    assert market["open_days"].eq(1).all()
    assert market["exposure"].between(0.6, 0.8).all()  # the market sells 19 that week and the web 7
    assert other["bottles"].isna().all()
    assert other[["shelf_days", "open_days", "exposure"]].eq(0).all().all()
    shelf = book_of(lines()).shelf
    assert set(shelf.loc[shelf["scent"] == "Stall", "channel"]) == {"market"}


def test_the_scents_channels_may_be_stated_and_are_kept_to():
    rows = lines(stall=1)  # too few to tell by themselves
    assert stall(rows)["bottles"].notna().all()

    def channels_of_stall(stated):
        shelf = book_of(rows, channels=stated).shelf  # the same for Fig, which sells in both
        return set(shelf.loc[shelf["scent"] == "Stall", "channel"])

    assert channels_of_stall(" Market ; web") == {"web", "market"}
    assert channels_of_stall("Market") == {"market"}
    assert channels_of_stall("web") == {"web", "market"}  # it sold at markets all the same, and sales are believed


def test_one_bottle_more_moves_the_exposure_a_little():
    mean = [stall(lines(web=n))["exposure"].mean() for n in range(12)]
    steps = np.diff(mean)
    assert (steps >= -0.01).all()
    assert steps.max() < 0.35 * (mean[-1] - mean[0])
    assert steps[0] < 0.2 * (mean[-1] - mean[0])  # one bottle on the web is no proof
    assert mean[-1] == pytest.approx(1.0, abs=0.05)


def test_the_chance_is_that_of_the_two_explanations():
    # 30 sold at markets, 2 on the web; all others sold half of theirs on the web, so 30 were to be expected there
    sold, others = np.array([[2.0, 30.0]]), np.array([[500.0, 500.0]])
    there = 0.97 * nbinom.pmf(2, 2, 2 / (2 + 30))
    not_there = 0.03 * nbinom.pmf(2, 1, 1 / (1 + 0.02 * 30))
    assert outlets._chance(sold, others)[0].tolist() == pytest.approx([there / (there + not_there), 1.0])


@pytest.mark.parametrize("sold", [[0.0, 1.0], [0.0, 0.0], [9.0, 9.0], [40.0, 30.0]])
def test_few_sales_prove_nothing(sold):
    assert outlets._chance(np.array([sold]), np.array([[500.0, 500.0]])).tolist() == [[1.0, 1.0]]


def test_a_channel_that_nobody_else_uses_proves_nothing():
    assert outlets._chance(np.array([[60.0, 0.0]]), np.array([[80.0, 0.0]])).tolist() == [[1.0, 1.0]]


def test_sales_in_a_channel_that_is_not_stated_are_named_and_believed_unless_they_are_few():
    many = book_of(lines(web=9), channels="market")
    said = [str(problem) for problem in many.problems]
    assert said[1] == (
        "scents.csv, row 3, channels: Stall: 9 bottles sold in web, which is not among its channels. It counts as for "
        "sale there; add web or put the sales right."
    )
    assert set(many.shelf.loc[many.shelf["scent"] == "Stall", "channel"]) == {"web", "market"}
    one = book_of(lines(web=1), channels="market")
    assert str(one.problems[1]).endswith(
        "1 bottle sold in web, which is not among its channels. So few change nothing."
    )
    assert set(one.shelf.loc[one.shelf["scent"] == "Stall", "channel"]) == {"market"}


def test_a_channel_that_is_not_known_is_named():
    book = book_of(lines(), channels="web; markte")
    assert str(book.problems[0]) == (
        "scents.csv, row 2, channels: 'markte' is no channel in shop.toml. Did you mean market?"
    )


def test_what_sells_to_order_may_have_any_scent():
    rows = [*lines(), (DAYS[3], "Stall", 24, "sale", "trade")]
    shelf = book_of(rows, settings=SHOP).shelf
    assert set(shelf.loc[shelf["scent"] == "Stall", "channel"]) == {"market", "trade"}


def test_whole_weeks_for_the_forecast_have_every_scent_everywhere():
    book = book_of(lines())
    whole = weekly_demand(sales_of(*lines()), book.everywhere, WEB_AND_MARKET)
    week = whole[whole["scent"] == "Stall"]
    assert week["exposure"].iloc[1:-1].eq(1).all()
    assert week["bottles"].notna().all()
    same = book_of([line for line in lines() if line[1] == "Fig"])
    assert same.everywhere is same.shelf


def test_a_channel_that_opened_after_a_scent_was_gone_says_nothing_of_it():
    # Old sold 60 on the web and was gone before there were markets
    late = MARKETS[8:]
    rows = [(day, "Fig", 1, "sale", "web") for day in DAYS] + [(day, "Fig", 14, "sale", "market") for day in late]
    rows += [(day, "Stall", 1, "sale", "web") for day in DAYS[:60]]
    book = shelf_of(sales_of(*rows), ("Fig", "Stall"), calendar=CALENDAR[8:], settings=WEB_AND_MARKET)
    assert set(book.shelf.loc[book.shelf["scent"] == "Stall", "channel"]) == {"web", "market"}
