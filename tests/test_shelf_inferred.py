from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from shelf_tables import WEB, WEB_AND_MARKET, sales_of, shelf_of
from simulated_shops import simulate

from planner.settings import Channel, Settings, Shelf
from planner.shelf import inferred, weekly_demand
from planner.shelf.inferred import chance_sold_out, worth_by_scent

NOBODY_LOOKS = replace(WEB, shelf=Shelf(infer=False))
DAYS = pd.date_range("2025-01-06", "2025-12-28")


def steady(*scents, gone=(), each=2, days=DAYS, channel="web"):
    """Lines of scents that sell as much on each day, the first one not on the days it was gone."""
    return [
        (day, scent, each, "sale", channel) for scent in scents for day in days if scent != scents[0] or day not in gone
    ]


def taken(book, scent="Fig", channel="web"):
    shelf = book.shelf[(book.shelf["scent"] == scent) & (book.shelf["channel"] == channel)]
    return shelf.loc[(shelf["on_shelf"] == 0) & (shelf["known"] == "inferred"), "day"].dt.strftime("%m-%d").tolist()


def test_a_run_of_days_is_found_within_weeks_and_the_day_it_ran_out_is_half():
    gone = pd.date_range("2025-06-04", "2025-06-13")  # Wednesday to Friday: no whole week but one
    book = shelf_of(sales_of(*steady("Fig", "Rose", gone=gone)), ("Fig", "Rose"))
    assert taken(book) == list(gone.strftime("%m-%d"))
    assert taken(book, "Rose") == []
    fig = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")
    assert fig.loc["2025-06-03", ["on_shelf", "known"]].tolist() == [0.5, "inferred"]
    assert fig.loc["2025-06-14", ["on_shelf", "known"]].tolist() == [1.0, "assumed"]


def test_the_switch_leaves_everything_on_the_shelf():
    sales = sales_of(*steady("Fig", "Rose", gone=DAYS[100:140]))
    book = shelf_of(sales, ("Fig", "Rose"), settings=NOBODY_LOOKS)
    assert set(book.shelf["known"]) == {"assumed"}
    assert book.shelf["on_shelf"].eq(1).all()


def test_a_higher_chance_asked_for_finds_fewer_days_and_only_such_that_a_lower_one_finds():
    rng = np.random.default_rng(4)
    sold = {scent: rng.poisson(0.4, len(DAYS)) for scent in ("Fig", "Rose", "Oud")}
    sold["Fig"][100:125] = 0
    lines = [(day, s, int(n), "sale", "web") for s, of in sold.items() for day, n in zip(DAYS, of, strict=True) if n]
    sets = []
    for chance in (0.05, 0.5, 0.99):
        settings = replace(WEB, shelf=Shelf(sold_out_chance=chance))
        shelf = shelf_of(sales_of(*lines), tuple(sold), settings=settings).shelf
        sets.append({*map(tuple, shelf.loc[shelf["on_shelf"] == 0, ["day", "scent"]].to_numpy())})
    assert sets[0] > sets[1] > sets[2]
    assert (DAYS[110], "Fig") in sets[1]


def test_what_was_counted_is_not_guessed():
    gone = DAYS[200:230]
    sales = sales_of(*steady("Fig", "Rose", gone=gone))
    book = shelf_of(sales, ("Fig", "Rose"), stock=[(DAYS[0], "Fig", 9999)])
    assert set(book.shelf.loc[book.shelf["scent"] == "Fig", "known"]) == {"rolled forward"}
    assert taken(book) == []


def test_days_on_which_nothing_sells_at_all_are_no_sign():
    # nobody buys for two weeks after Christmas, and the shop is closed in August: no scent was sold out
    days = DAYS[(DAYS.month != 8) & ~((DAYS >= "2025-11-01") & (DAYS <= "2025-11-14"))]
    closed = {"first_day": "2025-08-01", "last_day": pd.Timestamp("2025-08-31"), "what": "Away", "kind": "closed"}
    scents = ("Fig", "Rose", "Oud", "Fern", "Moss", "Plum")
    book = shelf_of(sales_of(*steady(*scents, days=days)), scents, calendar=[closed])
    assert "inferred" not in set(book.shelf["known"])


def test_a_scent_that_sells_at_markets_only_is_not_sold_out_between_them():
    markets = DAYS[DAYS.day_of_week == 5]
    calendar = [{"first_day": day, "what": f"M{n}", "kind": "market"} for n, day in enumerate(markets)]
    lines = steady("Fig", each=6, days=markets, channel="market") + steady("Rose", each=1)
    lines += steady("Rose", each=6, days=markets, channel="market")
    book = shelf_of(sales_of(*lines), ("Fig", "Rose"), calendar=calendar, settings=WEB_AND_MARKET)
    assert taken(book, channel="market") == []
    gone = markets[20:24]
    lines = [line for line in lines if line[1] != "Fig" or line[0] not in gone]
    book = shelf_of(sales_of(*lines), ("Fig", "Rose"), calendar=calendar, settings=WEB_AND_MARKET)
    assert set(gone.strftime("%m-%d")) <= set(taken(book, channel="market"))


def test_a_scent_that_never_came_back_is_sold_out_to_the_last_day():
    book = shelf_of(sales_of(*steady("Fig", "Rose", gone=DAYS[-12:])), ("Fig", "Rose"))
    assert taken(book) == list(DAYS[-12:].strftime("%m-%d"))


def test_a_scent_that_sold_out_before_its_last_day_for_sale_did_not_come_back():
    # without a sale to end the run, its last days are as surely sold out as its first
    sold, share = np.full((120, 2), 2.0), np.ones((120, 2))
    sold[80:, 0], share[90:, 0] = 0.0, np.nan
    chance = chance_sold_out(sold, share, np.ones(sold.shape))
    assert chance[80:90, 0].min() > 0.9
    sold[90, 0], share[90:, 0] = 2.0, 1.0  # it sold again: it may have been back on the evening before
    assert chance_sold_out(sold, share, np.ones(sold.shape))[89, 0] < chance[89, 0]


def test_a_scent_that_hardly_sells_is_given_time():
    # a bottle every 20 days or so: 25 days without one are luck
    lines = steady("Rose") + [(day, "Fig", 1, "sale", "web") for day in DAYS[::20]]
    lines = [line for line in lines if line[1] != "Fig" or line[0] != DAYS[200]]
    book = shelf_of(sales_of(*lines), ("Fig", "Rose"))
    assert taken(book) == []


def test_wholesale_is_no_shopper():
    settings = Settings("Test", "EUR", channels=(Channel("web"), Channel("shops", open="to order")))
    gone = DAYS[100:130]
    lines = steady("Fig", "Rose", gone=gone)
    orders = [(day, "Fig", 5, "sale", "shops") for day in gone[::3]]
    book = shelf_of(sales_of(*lines, *orders), ("Fig", "Rose"), settings=settings)
    assert taken(book) == list(gone.strftime("%m-%d"))


def slow_chances(run, sold, expected, rate, shape, ran_out):
    """Chance of each day of one run of days without a sale, by trying every day it may have been back."""
    begin, end = run
    n = sold[begin - 1] if begin and sold[begin - 1] else 1
    gone = 1 - (1 - ran_out) ** n
    ends_in_sale = end < len(sold) and sold[end] > 0

    def none_sold(first, last):
        return (1 + rate * expected[first:last].sum() / shape) ** -shape

    ways = {"luck": (1 - gone) * none_sold(begin, end)}
    stay = 1 - 1 / inferred.DAYS_OUT
    for last in range(begin, end):  # the last day it was out
        waits = none_sold(last + 1, end) / inferred.DAYS_OUT
        ways[last] = gone * stay ** (last - begin) * (waits if ends_in_sale or last < end - 1 else 1.0)
    total = sum(ways.values())
    return [
        sum(way for last, way in ways.items() if last != "luck" and last >= day) / total for day in range(begin, end)
    ]


def test_chances_are_those_of_trying_every_day_it_may_have_been_back(monkeypatch):
    monkeypatch.setattr(inferred, "ROUNDS", 1)
    rng = np.random.default_rng(9)
    sold = rng.poisson([0.3, 0.9, 2.0], (140, 3)).astype(float)
    sold[30:45, 2] = 0
    sold[-9:, 1] = 0
    share, worth = np.ones(sold.shape), np.tile(rng.uniform(0.5, 2, (140, 1)), 3)
    found = chance_sold_out(sold, share, worth)
    expected = inferred._expected(sold, worth, worth)
    at_once = inferred._bottles_at_once(sold, expected, share)
    expected = expected / at_once
    rate, shape = inferred._rate_beside(inferred._runs_without_sale(sold, share), sold / at_once, expected)
    runs = inferred._runs_without_sale(sold, share).T
    assert len(runs) > 60
    for (scent, begin, end), r, s in zip(runs, rate, shape, strict=True):
        slow = slow_chances((begin, end), sold[:, scent], expected[:, scent], r, s, inferred.FIRST_GUESS)
        assert found[begin:end, scent] == pytest.approx(slow, rel=1e-9)
    assert (found[sold > 0] == 0).all()
    assert found[30:43, 2].min() > 0.5


@pytest.mark.parametrize("each", [1.0, 3.0])
def test_how_many_are_bought_together_is_told_by_the_days_without_a_sale(each):
    rng = np.random.default_rng(6)
    purchases = rng.poisson(0.6, (1000, 8))
    sold = purchases + rng.poisson(purchases * (each - 1))
    expected = np.full(sold.shape, 0.6 * each)
    found = inferred._bottles_at_once(sold, expected, np.ones(sold.shape))
    assert found.mean() == pytest.approx(each, rel=0.08)
    # by hand for one scent alone, its own start aside: days with a sale = 1 - exp(-0.6 each / at once) of all days
    share = (sold[:, 0] > 0).mean()
    assert found[0] == pytest.approx(max(-0.6 * each / np.log(1 - share), 1.0), rel=0.05)


def test_scents_bought_by_the_handful_are_not_sold_out_between_handfuls():
    # four at a time every fortnight or so; taken for single bottles, nearly every gap would be too long for luck
    rng = np.random.default_rng(12)
    wanted = {scent: 4 * rng.poisson(1 / 12, len(DAYS)) for scent in ("Fig", "Rose", "Oud", "Fern")}
    lines = [(day, s, int(n), "sale", "web") for s, of in wanted.items() for day, n in zip(DAYS, of, strict=True) if n]
    shelf = shelf_of(sales_of(*lines), tuple(wanted)).shelf
    assert (shelf["on_shelf"] == 0).mean() < 0.02


def test_the_rate_beside_a_run_is_worked_by_hand(monkeypatch):
    monkeypatch.setattr(inferred, "NEAR_DAYS", 3)
    sold = np.array([[5.0], [1], [2], [3], [0], [0], [4], [5], [6], [9]])
    rate, shape = inferred._rate_beside(np.array([[0], [4], [6]]), sold, np.full((10, 1), 2.0))
    # three days before (1, 2, 3) and after (4, 5, 6) the run sold 21 where 12 were expected
    assert rate.tolist() == [(21 + inferred.OWN_RATE) / (12 + inferred.OWN_RATE)]
    assert shape.tolist() == [pytest.approx(1 / (1 / (21 + inferred.OWN_RATE) + 1 / inferred.RESTLESS))]


def test_a_scent_has_more_of_the_days_of_the_channel_where_it_sells():
    weights = np.array([[1.0, 0.0], [1.0, 2.0]])  # web both days, market on the second; half of all is the market's
    has = np.ones((2, 2))
    worth = worth_by_scent(weights, np.array([[0.0, 100.0], [200.0, 100.0]]), has)
    prior = inferred.CHANNEL_PRIOR
    few, more = prior / (100 + prior), (200 + prior) / (100 + prior)
    assert worth[:, 0].tolist() == pytest.approx([few, few + 2 * more])
    assert worth[:, 1].tolist() == pytest.approx([1.0, 3.0])
    has[0, 0] = 0.0  # the web does not have the first one
    worth = worth_by_scent(weights, np.array([[0.0, 100.0], [200.0, 100.0]]), has)
    assert worth[:, 0].tolist() == pytest.approx([0.0, 2 * more])


def test_sold_out_days_of_simulated_shops_are_found_and_the_chances_hold():
    gone, taken_for, right, near = 0, 0, 0, []
    for seed in range(3):
        world = simulate(np.random.default_rng([56, seed]), horizon=1)
        days = 7 * world.truth["weeks"]
        sold = world.sold[:, :days].T
        live = np.arange(days)[:, None] >= np.where(sold.any(axis=0), (sold > 0).argmax(axis=0), days)
        true = (world.on_shelf[:, :days].T == 0) & live
        worth = np.ones(sold.shape) * np.where(world.truth["markets"][:days], 2.2, 1.0)[:, None]
        chance = chance_sold_out(sold, np.where(live, 1.0, np.nan), worth)
        found = chance >= 0.5
        gone, taken_for, right = gone + true.sum(), taken_for + found.sum(), right + (found & true).sum()
        near.append(np.stack([chance[(chance > 0.1) & live], true[(chance > 0.1) & live]]))
    assert right / gone > 0.5
    assert right / taken_for > 0.8
    said, was = np.concatenate(near, axis=1)
    assert was.mean() == pytest.approx(said.mean(), abs=0.1)


def test_an_inferred_week_is_unknown_and_says_so():
    gone = pd.date_range("2025-06-02", "2025-06-15")
    sales = sales_of(*steady("Fig", "Rose", gone=gone))
    demand = weekly_demand(sales, shelf_of(sales, ("Fig", "Rose")).shelf, WEB)
    fig = demand[demand["scent"] == "Fig"].set_index("week")
    assert fig.loc["2025-06-02":"2025-06-09", "bottles"].isna().all()
    assert fig.loc["2025-06-02":"2025-06-09", "exposure"].eq(0).all()
    assert set(fig.loc["2025-06-02":"2025-06-09", "known"]) == {"inferred"}
    assert fig.loc["2025-05-26", ["shelf_days", "known"]].tolist() == [6.5, "inferred"]
    assert fig.loc["2025-05-19", ["shelf_days", "known"]].tolist() == [7.0, "assumed"]
    assert fig["hidden"].isna().all()


def test_settings_refuse_a_chance_of_nothing():
    with pytest.raises(ValueError, match="sold_out_chance is above 0 and at most 1"):
        Shelf(sold_out_chance=0.0)
