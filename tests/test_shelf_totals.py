from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from scipy import stats
from shelf_tables import WEB, sales_of, shelf_of

from planner import flow
from planner.files import load_folder
from planner.settings import WEEKDAYS, Export, Shelf
from planner.shelf import week_totals, weekly_demand
from planner.shelf.hidden import FEWEST_FOR_SIZE, hidden_demand

COLUMNS = {"day": "Week of", "item": "Item", "bottles": "Sold"}
WEEKLY = replace(WEB, exports=(Export("web*", "sheet", "web", COLUMNS, totals="week"),))
MONTHLY = replace(WEB, exports=(Export("web*", "sheet", "web", {"item": "Item"}, months_across=True),))
MONDAYS = pd.date_range("2025-09-01", periods=16, freq="7D")
TODAY = pd.Timestamp("2025-12-22")


def weekly_book(sold, settings=WEEKLY, **files):
    """Book and demand of sales in weekly totals, by scent: a number for each Monday."""
    lines = [
        (day, scent, n, "sale", "web") for scent, of in sold.items() for day, n in zip(MONDAYS, of, strict=False) if n
    ]
    sales = sales_of(*lines)
    book = shelf_of(sales, tuple(sold), settings=settings, today=TODAY, **files)
    return book, weekly_demand(sales, book.shelf, settings).set_index(["scent", "week"])


def test_a_weekly_total_sells_through_the_week_and_only_its_end_is_known():
    # 30 counted on Sunday; 10 a week are sold; in the third week the last 10 go, nobody knows on which day
    counts = [("2025-08-31", "Fig", 30), ("2025-08-31", "Rose", 500)]
    book, demand = weekly_book({"Fig": [10, 10, 10], "Rose": [12] * 16}, stock=counts)
    fig = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")
    assert fig.loc["2025-09-01":"2025-09-14", "known"].eq("rolled forward").all()
    assert fig.loc["2025-09-15":"2025-09-21", "known"].eq("end only").all()
    assert fig.loc["2025-09-01":"2025-09-21", "on_shelf"].eq(1).all()
    assert fig.loc["2025-09-22":, "on_shelf"].eq(0).all()
    weeks = demand.loc["Fig"]
    assert weeks["known"].tolist()[:4] == ["rolled forward", "rolled forward", "end only", "rolled forward"]
    assert weeks["bottles"].isna().tolist()[:4] == [False, False, False, True]
    hidden = weeks.loc["2025-09-15", "hidden"]
    assert hidden > 0
    assert weeks["hidden"].notna().sum() == 1
    # exposure and hidden are two ways to say the same: sold is that share of what was wanted
    assert weeks.loc["2025-09-15", "exposure"] == pytest.approx(10 / (10 + hidden))
    assert weeks.loc["2025-09-01", "exposure"] == pytest.approx(1.0)


def test_a_week_that_ends_with_some_left_is_a_whole_week_on_the_shelf():
    book, demand = weekly_book({"Fig": [10, 10], "Rose": [12] * 16}, stock=[("2025-08-31", "Fig", 21)])
    assert demand.loc["Fig", "known"].tolist()[:2] == ["rolled forward"] * 2
    assert demand.loc["Fig", "exposure"].tolist()[:2] == pytest.approx([1.0, 1.0])
    assert demand["hidden"].isna().all()
    assert book.on_hand["on_hand"].iloc[0] == 1


def test_hidden_demand_is_the_tail_of_the_likeliest_poisson():
    # even weeks of 10 and one of "10 or more": the mean m solves 2 (10 - m) + E(D | D >= 10) - m = 0
    bottles = np.array([[10.0, 50], [10, 50], [10, 50]])
    end_only = np.array([[False, False], [False, False], [True, False]])
    found = hidden_demand(bottles, np.ones((3, 2)), end_only)

    def tail(m):
        return m * stats.poisson.sf(8, m) / stats.poisson.sf(9, m)

    m = 10.0
    for _ in range(200):
        m = (20 + tail(m)) / 3
    assert found[2, 0] == pytest.approx(tail(m) - 10, rel=1e-6)
    assert np.isnan(found).sum() == 5


def test_hidden_demand_follows_the_season_of_the_others():
    # all scents sell three times as much in the last weeks, when Fig runs out each week after 14
    rng = np.random.default_rng(5)
    season = np.r_[np.ones(30), np.full(6, 3.0)]
    wanted = rng.poisson(10 * season[:, None], (36, 7)).astype(float)
    end_only = np.zeros(wanted.shape, bool)
    end_only[-6:, 0] = wanted[-6:, 0] >= 14
    sold = np.where(end_only, 14.0, wanted)
    assert end_only[-6:, 0].all()
    found = hidden_demand(sold, np.ones(wanted.shape), end_only)[-6:, 0]
    assert 14 + found.mean() == pytest.approx(30, rel=0.12)


def test_a_scent_that_sold_out_every_week_is_left_unknown():
    bottles, end_only = np.full((8, 2), 6.0), np.zeros((8, 2), bool)
    end_only[:, 1] = True
    assert np.isnan(hidden_demand(bottles, np.ones((8, 2)), end_only)).all()


def test_a_week_that_sold_nothing_says_nothing_of_what_was_wanted():
    bottles, end_only = np.array([[5.0], [6], [0], [4]]), np.array([[False], [False], [True], [True]])
    found = hidden_demand(bottles, np.ones((4, 1)), end_only)
    without = hidden_demand(bottles[[0, 1, 3]], np.ones((3, 1)), end_only[[0, 1, 3]])
    assert np.isnan(found[2, 0])
    assert found[3, 0] == pytest.approx(without[2, 0], rel=0.15)  # but for the season of that week


def test_hidden_demand_brings_back_what_weekly_sheets_left_out():
    # scents with batches of 24 a fortnight are wanted 14 a week; raw sales are short, sold and hidden are not
    rng = np.random.default_rng(8)
    wanted = rng.negative_binomial(6, 6 / 20, (150, 12)).astype(float)
    left, sold, end_only = np.zeros(12), np.zeros(wanted.shape), np.zeros(wanted.shape, bool)
    exposure = np.ones(wanted.shape)
    for week in range(len(wanted)):
        left = left + 24 * (week % 2 == 0)
        exposure[week] = left > 0
        sold[week] = np.minimum(wanted[week], left)
        end_only[week] = (left > 0) & (wanted[week] >= left)
        left = left - sold[week]
    sold[exposure == 0] = np.nan
    found = hidden_demand(sold, exposure, end_only)
    known = exposure > 0
    truth = wanted[known].sum()
    assert np.nansum(sold) < 0.92 * truth
    assert np.nansum(sold) + np.nansum(found) == pytest.approx(truth, rel=0.02)
    assert (~end_only & known).sum(axis=0).min() >= FEWEST_FOR_SIZE


def test_a_batch_in_the_week_counts_from_its_day():
    run = {"lot": "L", "date": "2025-09-11", "scent": "Fig", "bottles_filled": 8}
    counts = [("2025-08-31", "Fig", 10), ("2025-08-31", "Rose", 500)]
    book, demand = weekly_book({"Fig": [10, 8], "Rose": [12] * 16}, stock=counts, runs=[run])
    fig = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")["on_shelf"]
    assert fig.loc["2025-09-08":"2025-09-14"].tolist() == [0, 0, 0, 1, 1, 1, 1]
    week = demand.loc[("Fig", "2025-09-08")]
    assert week["known"] == "end only"
    assert week["shelf_days"] == 4
    # a total says nothing of weekdays, so they are worth the same: four days of seven
    assert week["exposure"] == pytest.approx(4 / 7, abs=0.005)
    assert pd.isna(week["hidden"])  # both weeks of Fig sold out: nothing tells how much more was wanted
    assert book.contradictions.empty


def test_a_total_of_more_than_there_was_is_named_and_believed():
    counts = [("2025-08-31", "Fig", 10), ("2025-09-14", "Fig", 3), ("2025-08-31", "Rose", 500)]
    book, _ = weekly_book({"Fig": [14], "Rose": [12] * 16}, stock=counts)
    assert book.contradictions[["row", "bottles"]].to_numpy().tolist() == [[2, 4]]
    fig = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")["on_shelf"]
    assert fig.loc["2025-09-01":"2025-09-13"].eq(1).all()


def test_without_counts_the_week_before_empty_weeks_is_known_at_its_end_only():
    sold = {"Fig": [12] * 8 + [0, 0, 0] + [12] * 5, "Rose": [12] * 16, "Oud": [12] * 16}
    book, demand = weekly_book(sold)
    fig = demand.loc["Fig"]
    gone = slice("2025-10-27", "2025-11-10")
    assert fig.loc[gone, "shelf_days"].sum() <= 2  # it may have been back a day or two before the next total
    assert fig.loc["2025-10-27":"2025-11-03", "bottles"].isna().all()
    assert set(fig.loc[gone, "known"]) == {"inferred"}
    assert fig.loc["2025-10-20", "known"] == "end only"
    assert fig.loc["2025-10-20", "hidden"] > 0
    assert fig["hidden"].notna().sum() == 1
    shelf = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")["on_shelf"]
    assert shelf.loc["2025-09-01":"2025-10-26"].eq(1).all()
    assert demand.loc["Rose", "known"].eq("assumed").all()
    off, _ = weekly_book(sold, settings=replace(WEEKLY, shelf=Shelf(infer=False)))
    assert set(off.shelf["known"]) == {"assumed"}


def test_a_monthly_total_is_not_taken_for_a_month_sold_out():
    lines = [
        (day, scent, 20, "sale", "web")
        for day in pd.date_range("2025-01-01", "2025-12-01", freq="MS")
        for scent in ("Fig", "Rose")
    ]
    sales = sales_of(*lines)
    book = shelf_of(sales, ("Fig", "Rose"), stock=[("2024-12-31", "Fig", 200)], settings=MONTHLY, today=TODAY)
    fig = book.shelf[book.shelf["scent"] == "Fig"].set_index("day")
    assert fig.loc[:"2025-09-30", "on_shelf"].eq(1).all()
    assert fig.loc["2025-10-01":"2025-10-31", "known"].eq("end only").all()  # 200 counted, 20 a month: gone in October
    assert book.contradictions["bottles"].tolist() == [40]
    assert "inferred" not in set(book.shelf.loc[book.shelf["scent"] == "Rose", "known"])
    demand = weekly_demand(sales, book.shelf, MONTHLY)
    assert demand["hidden"].isna().all()  # a month is no week
    assert demand["bottles"].sum() == 480


line = st.tuples(
    st.integers(0, 80), st.sampled_from(["Fig", "Rose", "Oud"]), st.integers(1, 12),
    st.sampled_from(["sale"] * 4 + ["refund", "free", "write-off"]), st.sampled_from(["web", "market", "shops"]),
)  # fmt: skip
counts = st.lists(
    st.tuples(st.integers(0, 80), st.sampled_from(["Fig", "Rose"]), st.integers(0, 20)),
    max_size=6,
    unique_by=lambda one: one[:2],
)


@given(st.lists(line, min_size=1, max_size=40), counts, st.sampled_from([WEB, WEEKLY]), st.booleans())
@hypothesis_settings(max_examples=60, deadline=None)
def test_demand_reconciles_to_sales_to_the_bottle_and_says_one_thing_of_a_week(rows, stock, shop, infer):
    start = pd.Timestamp("2025-09-01")
    lines = [
        (start + pd.Timedelta(days=d), scent, -n if kind in ("refund", "write-off") else n, kind, channel)
        for d, scent, n, kind, channel in rows
    ]
    sales = sales_of(*lines)
    shop = replace(shop, channels=(*shop.channels, WITH_STOCKISTS), shelf=Shelf(infer=infer))
    days = [(start + pd.Timedelta(days=d), scent, n) for d, scent, n in stock]
    book = shelf_of(sales, ("Fig", "Rose", "Oud"), stock=days, settings=shop, today=start + pd.Timedelta(days=90))
    demand = weekly_demand(sales, book.shelf, shop)
    # refunds take back what was sold before them to that scent in that channel, as far as there is any
    taken = 0
    for _, group in sales.groupby(["scent", "channel"]):
        left = 0
        for row in (
            group.assign(first=group["kind"] != "sale").sort_values(["day", "first"], kind="stable").itertuples()
        ):
            if row.kind == "sale":
                left += row.bottles
            elif row.kind == "refund":
                taken += min(left, -row.bottles)
                left -= min(left, -row.bottles)
    assert demand["bottles"].sum() == sales.loc[sales["kind"] == "sale", "bottles"].sum() - taken
    unknown = demand["bottles"].isna()
    assert (demand.loc[unknown, "shelf_days"] == 0).all()  # no day on the shelf: unknown, never zero
    assert (demand.loc[(demand["shelf_days"] == 0) & ~unknown, "bottles"] >= 0).all()
    assert demand["exposure"].between(0, 1).all()
    estimated = demand["hidden"].notna()
    assert (demand.loc[estimated, "known"] == "end only").all()
    assert (demand.loc[estimated, "hidden"] >= 0).all()


WITH_STOCKISTS = replace(WEB.channels[0], name="shops", open="to order")


# on which days of the week the weeks of totals begin, and how they fall on weeks from Monday


def told(rows, export=WEEKLY.exports[0], today="2025-10-06"):
    """Return the week totals of rows (day, bottles) of one scent."""
    sales = sales_of(*[(day, "Fig", n, "refund" if n < 0 else "sale", "web") for day, n in rows])
    return week_totals(sales, replace(WEB, exports=(export,)), pd.Timestamp(today))


def by_day(found):
    return found.sales.groupby(found.sales["day"].dt.strftime("%m-%d"))["bottles"].sum().to_dict()


def start_of(dated, heading="Day", today="2025-10-06", newest=14):
    """Return the weekday on which weeks of 14 bottles are taken to begin, and the notes."""
    days = pd.date_range(end=dated, periods=8, freq="7D")
    export = replace(WEEKLY.exports[0], columns={**COLUMNS, "day": heading})
    found = told([(day, 14) for day in days[:-1]] + [(days[-1], newest)], export, today)
    return found.settings.exports[0].week_starts, [str(one) for one in found.problems]


def test_rows_dated_mondays_are_the_weeks_from_monday_and_nothing_is_said():
    assert start_of("2025-09-29") == ("Mon", [])


@pytest.mark.parametrize(
    ("heading", "dated", "start"),
    [
        ("Week of", "2025-09-28", "Sun"),
        ("Week ending", "2025-09-28", "Mon"),
        ("W/E", "2025-09-26", "Sat"),
        ("Woche bis", "2025-09-27", "Sun"),
        ("Woche ab", "2025-09-24", "Wed"),
        ("Weekend", "2025-09-27", "Sun"),  # no such word: a Saturday ends a week from Sunday
        ("Day", "2025-09-26", "Mon"),
    ],
)
def test_the_heading_says_which_end_of_the_week_its_day_is(heading, dated, start):
    found, notes = start_of(dated, heading)
    assert found == start
    assert len(notes) == 1
    assert "week_starts" in notes[0]


def test_the_newest_row_says_whether_a_sunday_ends_its_week():
    assert start_of("2025-10-05", today="2025-10-06")[0] == "Mon"  # yesterday, and as much as a week
    assert start_of("2025-10-05", today="2025-10-06", newest=2)[0] == "Sun"  # a week that has just begun
    found, notes = start_of("2025-09-28", today="2025-10-06")  # long enough ago for either
    assert found == "Sun"
    assert "nothing says which" in notes[0]


@pytest.mark.parametrize(("back", "start"), [(0, "Sun"), (6, "Mon")])
def test_a_year_of_weeks_says_whether_a_sunday_ends_them(back, start):
    # weeks of a shop whose year peaks in the days before 17 December and falls after
    day = pd.date_range("2024-06-01", "2025-10-31", name="day")
    to_peak = (pd.Timestamp("2024-12-17") - day).days.to_numpy()
    usual = pd.Series(10 * np.where((to_peak >= 0) & (to_peak < 42), np.exp(1.3 - to_peak / 32), 1.0), day)
    sundays = pd.date_range("2024-07-07", periods=60, freq="7D")
    begins = sundays - pd.Timedelta(days=back)
    bottles = np.random.default_rng(2).poisson([usual[one : one + pd.Timedelta(days=6)].sum() for one in begins])
    sales = sales_of(*[(one, "Fig", n, "sale", "web") for one, n in zip(sundays, bottles, strict=True)])
    plain = replace(WEB, exports=(replace(WEEKLY.exports[0], columns={**COLUMNS, "day": "Day"}),))
    today = pd.Timestamp("2025-10-25")
    found = week_totals(sales, plain, today, usual)
    assert found.settings.exports[0].week_starts == start
    assert "usual year" in str(found.problems[0])
    assert "nothing says which" in str(week_totals(sales, plain, today).problems[0])


def test_what_is_stated_is_kept_without_a_word():
    export = replace(WEEKLY.exports[0], week_starts="Mon", columns={**COLUMNS, "day": "Week of"})
    found = told([("2025-09-21", 7), ("2025-09-28", 7)], export)
    assert found.problems == []
    assert by_day(found) == {"09-15": 7, "09-22": 7}
    with pytest.raises(ValueError, match="week_starts"):
        replace(MONTHLY.exports[0], week_starts="Sun")
    with pytest.raises(ValueError, match="week_starts is one of"):
        replace(export, week_starts="Sunday")


def test_a_week_from_sunday_is_cut_where_monday_begins_by_the_share_of_days():
    export = replace(WEEKLY.exports[0], week_starts="Sun")
    found = told([("2025-09-14", 14), ("2025-09-21", 14), ("2025-10-05", 6)], export, "2025-10-08")
    # the last one has three days so far, a Sunday, a Monday and a Tuesday
    assert by_day(found) == {"09-14": 2, "09-15": 12, "09-21": 2, "09-22": 12, "10-05": 2, "10-06": 4}
    # one bottle a week: as many Sundays as one week in seven has
    few = told([(day, 1) for day in pd.date_range("2025-01-05", periods=28, freq="7D")], export)
    assert few.sales.loc[few.sales["day"].dt.day_of_week == 6, "bottles"].sum() == 4
    assert few.sales["bottles"].sum() == 28


@given(
    st.lists(st.tuples(st.integers(0, 300), st.integers(-9, 40)), min_size=1, max_size=30),
    st.sampled_from(["", "Mon", "Wed", "Sun"]),
)
@hypothesis_settings(max_examples=60, deadline=None)
def test_no_bottle_is_lost_where_weeks_are_cut_and_none_moves_out_of_its_week(rows, start):
    first = pd.Timestamp("2025-01-05")
    rows = [(first + pd.Timedelta(days=day), n) for day, n in rows]
    found = told(rows, replace(WEEKLY.exports[0], week_starts=start), "2026-01-05")
    begins = WEEKDAYS.index(found.settings.exports[0].week_starts or "Mon")

    def weeks(days):
        return days - pd.to_timedelta((days.dt.day_of_week - begins) % 7, unit="D")

    before = pd.DataFrame(rows, columns=["day", "bottles"])
    before = before.groupby([weeks(before["day"]), before["bottles"] < 0])["bottles"].sum()
    after = found.sales
    after = after.groupby([weeks(after["day"]), after["kind"] == "refund"])["bottles"].sum()
    assert after.to_dict() == before.to_dict()
    assert found.sales["line"].tolist() == list(range(1, len(found.sales) + 1))


@pytest.mark.parametrize(("start", "shift"), [("Mon", 0), ("Mon", 6), ("Sun", -1), ("Sun", 5)])
def test_the_last_week_of_totals_is_a_whole_one_however_it_is_dated(start, shift):
    export = replace(WEEKLY.exports[0], week_starts=start)
    rows = [(day + pd.Timedelta(days=shift), 14) for day in pd.date_range("2025-08-04", "2025-09-22", freq="7D")]
    found = told(rows, export, "2025-09-29")
    book = shelf_of(found.sales, settings=found.settings, today=pd.Timestamp("2025-09-29"))
    demand = weekly_demand(found.sales, book.shelf, found.settings).set_index("week")
    last = demand.loc["2025-09-22"]
    days = 7 if start == "Mon" else 6  # what begins on Sunday ends on Saturday
    assert last["shelf_days"] == days
    assert last["bottles"] / last["exposure"] == pytest.approx(14, rel=0.01)
    assert (
        demand.loc["2025-08-04":"2025-09-15", "bottles"] / demand.loc["2025-08-04":"2025-09-15", "exposure"]
    ).to_numpy() == pytest.approx(14, rel=0.01)


def test_a_week_that_is_not_over_covers_the_days_gone():
    found = told([("2025-09-15", 14), ("2025-09-22", 14), ("2025-09-29", 6)], today="2025-10-02")
    book = shelf_of(found.sales, settings=found.settings, today=pd.Timestamp("2025-10-02"))
    demand = weekly_demand(found.sales, book.shelf, found.settings).set_index("week")
    assert demand["shelf_days"].tolist() == [7, 7, 3]
    assert demand["bottles"].tolist() == [14, 14, 6]


# the whole folder

TOML = """
name = "Totals"
currency = "EUR"
today = 2025-10-06
[season]
first_day = 2025-10-20
last_day = 2025-12-17
[bench]
days = ["Sat"]
hours_per_day = 4
[[export]]
files = "list*.csv"
source = "list"
channel = "web"
columns = { day = "Day", item = "Item", bottles = "Bottles" }
"""


def season_mean(path, sales, totals):
    """Return the mean of the season of all scents, of a folder with these sales (Day, Item, Bottles)."""
    (path / "sales").mkdir(parents=True)
    sales = sales.groupby(["Day", "Item"], as_index=False)["Bottles"].sum()
    sales[sales["Bottles"] > 0].to_csv(path / "sales" / "list.csv", index=False)
    names = "".join(f"{name},18,24\n" for name in sales["Item"].unique())
    (path / "scents.csv").write_text(f"scent,price,batch_bottles\n{names}", encoding="utf-8")
    (path / "shop.toml").write_text(TOML + totals, encoding="utf-8")
    shop = load_folder(path)
    forecast = flow.foresee(shop, flow.read_past(shop), 300).forecast
    return forecast.loc[forecast["week"].isna() & forecast["scent"].eq("all scents"), "mean"].item()


def test_however_totals_are_dated_the_season_is_that_of_the_days(tmp_path):
    rng, day = np.random.default_rng(4), pd.date_range("2023-10-02", "2025-10-05")
    posting = pd.to_datetime(["2023-12-17", "2024-12-17", "2025-12-17"])
    to_post = (posting[posting.searchsorted(day)] - day).days.to_numpy()
    lift = np.exp(1.3 * np.clip(1 - to_post / 42, 0, 1))  # up to 3.7 times as much on the last posting day
    rates = {"Fig": 2.5, "Rose": 1.2, "Oud": 0.5}
    each = [pd.DataFrame({"Day": day, "Item": one, "Bottles": rng.poisson(n * lift)}) for one, n in rates.items()]
    sold = pd.concat(each)
    weekday = pd.to_timedelta(sold["Day"].dt.day_of_week, unit="D")
    days = pd.Timedelta(days=1)
    dated = {
        "Mondays": (sold["Day"] - weekday, "week"),
        "to Sundays": (sold["Day"] - weekday + 6 * days, "week"),
        "from Sundays": (sold["Day"] - (weekday + days) % (7 * days), "week"),
        "last days": (sold["Day"] + pd.offsets.MonthEnd(0), "month"),
    }
    ahead = pd.date_range("2025-10-06", "2025-12-17")
    to_post = (ahead[-1] - ahead).days.to_numpy()
    truth = sum(rates.values()) * np.exp(1.3 * np.clip(1 - to_post / 42, 0, 1)).sum()
    for name, (shown, totals) in dated.items():
        found = season_mean(tmp_path / name, sold.assign(Day=shown), f'totals = "{totals}"\n')
        assert found == pytest.approx(truth, rel=0.1), name
