from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from planner.files import load_folder
from planner.flow import look_over_sales, read_past
from planner.plausible import look_over
from planner.sales import read_sales
from planner.settings import Channel, Export, Settings
from planner.tables import FILES, STEPS, empty

EXAMPLE = Path(__file__).parent.parent / "data" / "example"
SHOP = Settings(
    name="Test",
    currency="EUR",
    channels=(Channel("web"), Channel("market", open="market days"), Channel("wholesale", open="to order")),
)
START, END = pd.Timestamp("2024-01-01"), pd.Timestamp("2026-03-01")  # a Monday and a Sunday
TODAY = pd.Timestamp("2026-03-02")
SCENTS = {"Fig": 18.0, "Rose": 20.0, "Oud": 15.0}


def shop_of(seed=1, rate=3.0, season=0.6, markets=True):
    """Sales of a shop where nothing is wrong: the web by chance and season, a market every second Saturday."""
    rng = np.random.default_rng(seed)
    days = pd.date_range(START, END)
    wave = np.exp(season * np.cos(2 * np.pi * (days.day_of_year - 350) / 365.25))
    parts = [("web", "web.csv", day, n) for day, n in zip(days, rng.poisson(rate * wave), strict=True)]
    if markets:
        parts += [("market", "market.csv", day, rng.poisson(8) + 1) for day in days[5::14]]
    rows = [(day, channel, file) for channel, file, day, n in parts for _ in range(n)]
    sales = pd.DataFrame(rows, columns=["day", "channel", "file"])
    sales["scent"] = rng.choice(list(SCENTS), len(sales))
    sales["bottles"] = rng.choice([1, 1, 1, 2, 3], len(sales))
    sales["unit_price"] = sales["scent"].map(SCENTS)
    sales["kind"] = "sale"
    sales["row"] = sales.groupby("file").cumcount() + 2
    return sales.assign(line=range(1, len(sales) + 1), order=[f"o{n}" for n in range(len(sales))])


def accounts_of(sales):
    last = sales.groupby("file")["day"].max().astype("datetime64[us]")
    return last.rename("last_day").reset_index().assign(source=lambda table: table["file"].str.removesuffix(".csv"))


def scents_of(**changes):
    scents = empty(FILES["scents"]).reindex(range(len(SCENTS)))
    scents["scent"], scents["price"] = list(SCENTS), list(SCENTS.values())
    scents["first_sold"] = START
    for column, (scent, value) in changes.items():
        scents.loc[scents["scent"] == scent, column] = value
    return scents


def calendar_of(*events):
    markets = [(day, "Harbour", "market", day, "market") for day in pd.date_range(START, END)[5::14]]
    rows = [*markets, *((pd.Timestamp(a), "Holiday", "closed", pd.Timestamp(b), None) for a, b in events)]
    return pd.DataFrame(rows, columns=["first_day", "what", "kind", "last_day", "channel"]).assign(note=None)


def look(sales, scents=None, calendar=None, settings=SHOP, accounts=None, today=TODAY):
    return look_over(
        sales,
        accounts_of(sales) if accounts is None else accounts,
        scents_of() if scents is None else scents,
        calendar_of() if calendar is None else calendar,
        settings,
        today,
    )


def without(sales, channel, first, last):
    return sales[~((sales["channel"] == channel) & sales["day"].between(first, last))]


@pytest.mark.parametrize("season", [0.0, 0.6, 1.5])
@pytest.mark.parametrize("rate", [0.3, 3.0])
def test_a_healthy_shop_gives_an_empty_list(rate, season):
    for seed in range(5):
        sales = shop_of(seed, rate, season)
        accounts = accounts_of(sales).assign(last_day=END)
        assert look(sales, accounts=accounts).to_dict("records") == []


def test_weeks_without_a_sale_are_found_with_what_may_be_missing():
    sales = shop_of(season=0.0)
    [found] = look(without(sales, "web", "2025-06-02", "2025-06-29")).to_dict("records")
    assert found["what"] == "no sales for weeks"
    last = sales[(sales["channel"] == "web") & (sales["day"] < "2025-06-02")].iloc[-1]
    assert found["where"] == f"web.csv, after row {last['row']}; web, Mon 2 Jun 2025 to Sun 29 Jun 2025"
    sold = sales[(sales["channel"] == "market") & sales["day"].between("2025-06-02", "2025-06-29")]["bottles"].sum()
    assert "no line on 28 open days" in found["finding"]
    assert f"market {sold} bottles" in found["finding"]
    missing = int(found["would_change"].split("about ")[1].split(" bottles")[0])
    assert missing == pytest.approx(28 * 3 * 1.6, rel=0.15)  # 3 lines a day of 1.6 bottles on average


def test_days_the_calendar_says_closed_are_no_gap():
    sales = without(shop_of(), "web", "2025-06-02", "2025-06-29")
    assert look(sales, calendar=calendar_of(("2025-06-01", "2025-06-30"))).empty
    assert list(look(sales, calendar=calendar_of(("2025-06-02", "2025-06-04")))["what"]) == ["no sales for weeks"]


def test_days_closed_for_all_channels_by_name_are_no_gap_either():
    sales = without(shop_of(markets=False), "web", "2025-06-02", "2025-06-29")
    holiday = calendar_of().iloc[:0]
    closed = calendar_of(("2025-06-02", "2025-06-29"))
    closed = closed[closed["kind"] == "closed"]
    assert "no sales for weeks" in list(look(sales, calendar=holiday)["what"])
    for channel in (None, "all"):
        assert "no sales for weeks" not in list(look(sales, calendar=closed.assign(channel=channel))["what"])


def test_two_weeks_without_a_sale_are_left_alone():
    assert look(without(shop_of(), "web", "2025-06-02", "2025-06-15")).empty


def test_a_shop_that_sells_at_christmas_only_has_no_gap_in_summer():
    sales = shop_of()
    sales = sales[(sales["channel"] != "web") | (sales["day"].dt.month >= 11)]
    assert look(sales, accounts=accounts_of(sales).assign(last_day=END)).empty


def test_a_channel_that_ends_weeks_before_the_others_is_named_with_its_last_row():
    sales = without(shop_of(), "web", "2026-01-26", "2026-03-01")
    found = look(sales, accounts=accounts_of(sales).assign(last_day=[END, pd.Timestamp("2026-01-25")]))
    assert list(found["what"]) == ["sales end early"]
    assert found["where"][0].startswith(f"web.csv, after row {sales.loc[sales['file'] == 'web.csv', 'row'].max()};")


def test_a_market_without_sales_is_named_where_nearly_all_have_some():
    day = pd.Timestamp("2025-05-10")
    [found] = look(without(shop_of(), "market", day, day)).to_dict("records")
    assert found["what"] == "market without sales"
    assert found["finding"].startswith("1 of 57 markets in calendar.csv sold nothing: Harbour (Sat 10 May 2025).")


def test_exports_that_end_weeks_before_today_are_said():
    assert list(look(shop_of(), today=END + pd.Timedelta(days=14))["what"]) == []
    found = look(shop_of(), today=END + pd.Timedelta(days=15))
    assert list(found["what"]) == ["exports end before today"]
    assert "15 days before Mon 16 Mar 2026" in found["finding"][0]


def test_a_last_week_that_is_cut_off_is_said_with_its_days():
    sales = shop_of()
    [found] = look(sales[sales["day"] <= "2026-02-25"]).to_dict("records")
    assert found["what"] == "cut-off last week"
    assert "end on Wed 25 Feb 2026: the week of Mon 23 Feb 2026 has 3 of 7 days" in found["finding"]


def test_a_month_across_that_is_not_over_is_said():
    export = Export("sheet*.csv", "sheet", "wholesale", {"item": "Scent"}, months_across=True)
    settings = Settings(name="Test", currency="EUR", channels=SHOP.channels, exports=(export,))
    sales = shop_of()
    accounts = accounts_of(sales)
    accounts.loc[len(accounts)] = ["sheet 2026.csv", pd.Timestamp("2026-03-01"), "sheet"]
    [found] = look(sales, settings=settings, accounts=accounts).to_dict("records")
    assert (found["what"], found["where"]) == ("cut-off last month", "sheet 2026.csv, Mar 2026")


def test_a_weekly_total_is_no_week_of_one_day():
    sales = shop_of()
    sales = sales[sales["day"] <= "2026-02-25"]
    columns = {"day": "Day", "item": "Scent", "bottles": "Bottles"}
    for totals, what in (("", ["cut-off last week"]), ("week", []), ("month", ["cut-off last month"])):
        export = Export("*", "all", "web", columns, totals=totals)
        settings = Settings(name="Test", currency="EUR", channels=SHOP.channels, exports=(export,))
        found = look(sales, settings=settings, today=pd.Timestamp("2026-02-26"))
        assert [one for one in found["what"].unique() if one.startswith("cut-off")] == what


def test_a_line_far_larger_than_usual_is_named_by_file_and_row():
    sales = shop_of()
    line = sales.index[500]
    sales.loc[line, "bottles"] = 100
    [found] = look(sales).to_dict("records")
    assert found["what"] == "far larger than usual"
    assert found["where"] == f"{sales.loc[line, 'file']}, row {sales.loc[line, 'row']}"
    assert f"100 bottles of {sales.loc[line, 'scent']}, 100 times" in found["finding"]


def test_a_large_line_that_was_taken_back_is_not_listed():
    sales = shop_of()
    sales.loc[sales.index[500], "bottles"] = 100
    back = sales.loc[[sales.index[500]]].assign(kind="refund", bottles=-100)
    assert look(pd.concat([sales, back], ignore_index=True)).empty


def test_where_one_line_in_ten_is_large_only_what_is_far_beyond_those_is_odd():
    sales = shop_of()
    sales.loc[sales.index[::10], "bottles"] = 30
    assert look(sales).empty
    sales.loc[sales.index[5], "bottles"] = 400
    assert look(sales)["finding"].str.contains("400 bottles").tolist() == [True]


def test_a_kind_that_comes_often_is_shown_four_times_and_counted():
    sales = shop_of()
    sales.loc[sales.index[100:110], "bottles"] = range(100, 110)
    found = look(sales)
    assert list(found["what"]) == ["far larger than usual"] * 4
    assert found["finding"].str.contains("109 bottles")[0]
    assert found["finding"][3].endswith("And 6 more like it.")


def test_sales_before_the_launch_and_after_the_last_day_are_added_up_by_scent():
    sales = shop_of()
    day = pd.Timestamp("2024-02-01")
    fig = sales[(sales["scent"] == "Fig") & (sales["day"] < day)]
    oud = sales[(sales["scent"] == "Oud") & (sales["day"] > "2026-02-01")]
    scents = scents_of(first_sold=("Fig", day), last_sold=("Oud", pd.Timestamp("2026-02-01")))
    found = look(sales, scents).set_index("what")["finding"]
    assert set(found.index) == {"sold before its launch", "sold after its last day"}
    assert f"Fig sold {fig['bottles'].sum()} bottles on {len(fig)} lines" in found["sold before its launch"]
    assert f"Oud sold {oud['bottles'].sum()} bottles on {len(oud)} lines" in found["sold after its last day"]


def test_a_day_decades_before_the_others_is_one_finding_and_spoils_no_other():
    sales = shop_of()
    sales.loc[sales.index[7], "day"] = pd.Timestamp("1970-01-01")
    [found] = look(sales).to_dict("records")
    assert found["what"] == "far in the past"
    assert "all others begin on Mon 1 Jan 2024" in found["finding"]


def test_a_day_after_today_is_said():
    sales = shop_of()
    sales.loc[sales.index[7], "day"] = pd.Timestamp("2027-01-01")
    [found] = look(sales).to_dict("records")
    assert (found["what"], found["where"]) == ("after today", f"web.csv, row {sales.loc[sales.index[7], 'row']}")


def test_a_price_that_moved_and_stayed_is_dated_with_old_and_new_price():
    sales = shop_of()
    sales.loc[(sales["scent"] == "Fig") & (sales["day"] < "2025-03-01"), "unit_price"] = 16.0
    [found] = look(sales).to_dict("records")
    assert (found["what"], found["where"]) == ("price change", "market and web, from Mar 2025")
    assert "12 % higher: Fig from 16.00 to 18.00" in found["finding"]


def test_a_promotion_of_a_month_a_small_step_and_gift_sets_are_no_price_change():
    sales = shop_of()
    month = sales["day"].dt.to_period("M") == "2025-11"
    sales.loc[month, "unit_price"] *= 0.8
    sales.loc[(sales["scent"] == "Oud") & (sales["day"] < "2025-03-01"), "unit_price"] = 14.5
    two = sales.iloc[::3].assign(scent="Rose", unit_price=9.0)  # Fig and Rose of a set: two rows of one line
    sets = pd.concat([sales.iloc[::3].assign(scent="Fig", unit_price=9.0), two]).sort_index(kind="stable")
    sets["order"] = "g" + sets["order"]
    sets["file"], sets["row"] = "sets.csv", np.repeat(np.arange(2, 2 + len(two)), 2)
    assert look(pd.concat([sales, sets], ignore_index=True)).empty


def test_a_price_in_scents_that_nobody_paid_lately_is_said():
    [found] = look(shop_of(), scents_of(price=("Rose", 25.0))).to_dict("records")
    assert found["what"] == "price in scents.csv"
    assert "Rose 25.00, paid 20.00" in found["finding"]
    assert look(shop_of(), scents_of(price=("Rose", np.nan))).empty


def test_the_same_sales_under_two_sources_are_found_and_two_of_one_source_are_not_asked_about():
    sales = shop_of(markets=False)
    copy = sales[sales["day"] >= "2025-06-01"].assign(file="till.csv", channel="market")
    both = pd.concat([sales, copy.sample(frac=1, random_state=1)], ignore_index=True)
    calendar = calendar_of().iloc[:0]
    [found] = look(both, calendar=calendar).to_dict("records")
    assert found["what"] == "the same in two sources"
    per_day = copy.groupby("day")["bottles"].agg(["size", "sum"])
    assert f"On {len(per_day)} of {len(per_day)} days on which till and web" in found["finding"]
    assert f"{per_day['sum'].sum():,} bottles count twice" in found["would_change"]
    assert look(both, calendar=calendar, accounts=accounts_of(both).assign(source="web")).empty


def test_a_small_shop_exported_twice_under_two_sources_is_found():
    sales = shop_of(rate=0.5, markets=False)
    again = sales.assign(file="backup.csv", order=None)
    sales = pd.concat([sales.assign(order=None), again], ignore_index=True)
    found = look(sales, calendar=calendar_of().iloc[:0])
    assert found["what"].iloc[0] == "the same in two sources"
    other = shop_of(seed=2, rate=0.5, markets=False).assign(file="other.csv", order=None)
    both = pd.concat([shop_of(rate=0.5, markets=False).assign(order=None), other], ignore_index=True)
    assert "the same in two sources" not in list(look(both, calendar=calendar_of().iloc[:0])["what"])


def test_orders_that_stand_in_two_sources_are_found_even_where_they_are_few():
    sales = shop_of()
    sales["order"] = [f"S{number}" for number in range(len(sales))]
    few = sales[sales["channel"] == "web"].tail(3).assign(file="again.csv")
    accounts = accounts_of(pd.concat([sales, few]))
    accounts.loc[accounts["file"] == "again.csv", "source"] = "another"
    [found] = look(pd.concat([sales, few], ignore_index=True), accounts=accounts).to_dict("records")
    assert found["what"] == "the same in two sources"
    assert "3 orders stand in " in found["finding"]
    accounts["source"] = "one"
    assert look(pd.concat([sales, few], ignore_index=True), accounts=accounts).empty
    other = few.assign(order=["A1", "A2", "A3"])
    assert look(pd.concat([sales, other], ignore_index=True), accounts=accounts).empty


def test_receipts_of_two_tills_that_begin_with_one_each_day_are_no_finding():
    sales = shop_of()
    sales["order"] = (sales.groupby(["file", "day"]).cumcount() + 1).astype("str")
    assert look(sales).empty


def test_a_price_ten_times_the_usual_is_named_by_file_and_row():
    sales = shop_of()
    at = sales.index[sales["scent"] == "Fig"][40]
    sales.loc[at, "unit_price"] *= 10
    [found] = look(sales).to_dict("records")
    assert found["what"] == "price far from usual"
    assert found["where"].endswith(f", row {sales.loc[at, 'row']:.0f}")
    sales.loc[at, "unit_price"] /= 4  # a large bottle, a sum for two: odd, but no slip of the decimal sign
    assert look(sales).empty


def test_the_most_serious_comes_first_and_the_input_stays_as_it_was():
    sales = without(shop_of(), "web", "2025-06-02", "2025-06-29")
    sales = sales[sales["day"] <= "2026-02-25"]
    sales.loc[sales.index[500], "bottles"] = 100
    before = sales.copy()
    found = look(sales)
    assert list(found["what"]) == ["far larger than usual", "no sales for weeks", "cut-off last week"]
    pd.testing.assert_frame_equal(sales, before)


def test_empty_tables_one_line_and_lines_without_a_price_are_looked_over_in_peace():
    sales = empty(STEPS["sales"])
    accounts = pd.DataFrame(columns=["file", "source", "last_day"])
    scents, calendar = empty(FILES["scents"]), empty(FILES["calendar"])
    assert list(look(sales, scents, calendar, accounts=accounts).columns) == [
        "what",
        "where",
        "finding",
        "would_change",
    ]
    assert look(sales, scents, calendar, accounts=accounts).empty
    assert look(shop_of().iloc[[-1]].assign(day=END), scents, calendar).empty
    assert look(shop_of().assign(unit_price=np.nan), scents, calendar).empty
    missing = shop_of()
    missing["bottles"] = missing["bottles"].astype("Int64").mask(missing.index == 3)
    assert look(missing).empty


def test_the_example_shop_raised_its_prices_once_and_nothing_else_is_odd():
    shop = load_folder(EXAMPLE)
    found = look_over_sales(shop, read_past(shop))
    assert list(found["what"]) == ["price change"]
    assert found["where"][0] == "market and web, from Feb 2025"


def test_weeks_taken_out_of_the_example_shop_are_found():
    shop = load_folder(EXAMPLE)
    books = read_sales(shop.exports, shop.settings, shop["scents"], shop["sets"], shop.today)
    sales = without(books.sales, "web", "2026-05-04", "2026-06-07")
    found = look_over(sales, books.accounts, shop["scents"], shop["calendar"], shop.settings, shop.today)
    assert list(found["what"]) == ["no sales for weeks", "price change"]
    lost = books.sales[(books.sales["channel"] == "web") & books.sales["day"].between("2026-05-04", "2026-06-07")]
    said = int(found["would_change"][0].split("about ")[1].split(" bottles")[0])
    assert said == pytest.approx(lost.loc[lost["kind"] == "sale", "bottles"].sum(), rel=0.35)
