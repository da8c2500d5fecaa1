"""Holidays against published dates, and what a day is."""

from datetime import date

import numpy as np
import pytest

from planner.season.calendar import (
    FEATURES,
    MOTHERS,
    SECOND_OF_MAY,
    black_friday,
    day_features,
    easter,
    holidays,
    mothers_day,
    mothers_day_rule,
)

# Easter, Mothering Sunday, Mother's Day (US), Thanksgiving: rules from memory (36 USC 117, 5 USC 6103, Gregorian
# computus), the dates recomputed independently.
DATES = [
    (2020, "04-12", "03-22", "05-10", "11-26"),
    (2021, "04-04", "03-14", "05-09", "11-25"),
    (2022, "04-17", "03-27", "05-08", "11-24"),
    (2023, "04-09", "03-19", "05-14", "11-23"),
    (2024, "03-31", "03-10", "05-12", "11-28"),
    (2025, "04-20", "03-30", "05-11", "11-27"),
    (2026, "04-05", "03-15", "05-10", "11-26"),
]


@pytest.mark.parametrize(("year", "sunday", "mothering", "mother", "thanks"), DATES)
def test_holidays_of_published_years(year, sunday, mothering, mother, thanks):
    assert easter(year) == date.fromisoformat(f"{year}-{sunday}")
    assert mothers_day(year, "GB") == mothers_day(year, "IE") == date.fromisoformat(f"{year}-{mothering}")
    assert mothers_day(year, "US") == mothers_day(year) == date.fromisoformat(f"{year}-{mother}")
    assert black_friday(year).toordinal() - 1 == date.fromisoformat(f"{year}-{thanks}").toordinal()


# days from Thanksgiving to 25 December, recomputed independently: the shopping season moves by up to six days
@pytest.mark.parametrize(
    ("year", "days"), [(2020, 29), (2021, 30), (2022, 31), (2023, 32), (2024, 27), (2025, 28), (2026, 29)]
)
def test_days_from_thanksgiving_to_christmas(year, days):
    table = holidays([year]).set_index("what")["day"]
    assert (table["Christmas Day"] - table["Black Friday"]).days == days - 1
    assert min((date(y, 12, 25) - black_friday(y)).days for y in range(1970, 2100)) >= 26
    assert max((date(y, 12, 25) - black_friday(y)).days for y in range(1970, 2100)) <= 32


@pytest.mark.parametrize(("year", "day"), [(2027, "03-28"), (2028, "04-16"), (2029, "04-01"), (2030, "04-21")])
def test_later_easters(year, day):
    assert easter(year) == date.fromisoformat(f"{year}-{day}")


def test_mothering_sunday_stays_between_1_march_and_4_april():
    days = [mothers_day(year, "GB") for year in range(1900, 2100)]
    assert all((3, 1) <= (day.month, day.day) <= (4, 4) and day.weekday() == 6 for day in days)


# Mother's Day as it was kept, from memory: France 2020 and 2023 made way for Whitsun (31 May and 28 May)
@pytest.mark.parametrize(
    ("country", "day"),
    [
        *(("FR", day) for day in ("2020-06-07", "2021-05-30", "2022-05-29", "2023-06-04", "2024-05-26", "2025-05-25")),
        *(("SE", day) for day in ("2020-05-31", "2023-05-28", "2024-05-26", "2025-05-25")),
        *((country, "2024-05-05") for country in ("ES", "PT", "HU", "RO", "LT")),
        *((country, "2026-05-03") for country in ("ES", "PT", "HU", "RO", "LT")),
        *(("NO", day) for day in ("2023-02-12", "2024-02-11", "2025-02-09", "2026-02-08")),
        *(("AR", day) for day in ("2023-10-15", "2024-10-20", "2025-10-19")),
        *(("PL", "2025-05-26"), ("MX", "2025-05-10"), ("LU", "2024-06-09"), ("TH", "2023-08-12"), ("NI", "2026-05-30")),
        *((country, "2025-05-11") for country in ("DE", "US", "AU", "JP", "XX", "", "de")),
    ],
)
def test_mothers_day_is_that_of_the_country(country, day):
    assert mothers_day(int(day[:4]), country) == date.fromisoformat(day)


def test_a_week_between_whitsun_and_the_french_mothers_day_or_none_at_all():
    for year in range(1951, 2100):  # Whitsun is seven weeks after Easter
        day, whitsun = mothers_day(year, "FR"), date.fromordinal(easter(year).toordinal() + 49)
        assert day != whitsun
        assert day.weekday() == 6
        assert (5, 25) <= (day.month, day.day) <= (6, 7)
        assert (day.month == 6) == (whitsun == mothers_day(year, "SE"))


def test_the_rule_of_mothers_day_says_where_it_comes_from():
    assert mothers_day_rule("FR").startswith("last Sunday of May, a week later when that is Whitsun (the rule of FR")
    assert mothers_day_rule("DE") == "second Sunday of May (the rule of DE, from memory)"
    assert mothers_day_rule("US") == "second Sunday of May (the US law 36 USC 117)"
    assert mothers_day_rule("XX") == "second Sunday of May (the rule of XX is not known here)"
    assert mothers_day_rule("") == "second Sunday of May (no country in shop.toml)"


def test_no_country_has_two_rules():
    named = [country for *_, where in (*MOTHERS, (SECOND_OF_MAY,)) for country in where]
    assert len(named) == len(set(named))


def feature(name, days, **said):
    return day_features(np.array(days, dtype="datetime64[D]"), **said)[..., FEATURES.index(name)]


def test_christmas_lines_add_up_to_one_between_the_knots_and_end_with_the_last_posting_day():
    days = np.arange("2025-11-01", "2025-12-31", dtype="datetime64[D]")
    hats = day_features(days, (12, 18))[:, 4:9]
    posted = days <= np.datetime64("2025-12-18")
    assert hats[posted].sum(axis=1) == pytest.approx(1.0)
    assert not hats[~posted].any()
    assert hats[days == np.datetime64("2025-12-18")][0] == pytest.approx([1, 0, 0, 0, 0])
    # 11 December is 7 days before: the second knot. 6 December: 12 days, 4 of 9 from knot 16 to knot 7.
    assert hats[days == np.datetime64("2025-12-11")][0] == pytest.approx([0, 1, 0, 0, 0])
    assert hats[days == np.datetime64("2025-12-06")][0] == pytest.approx([0, 4 / 9, 5 / 9, 0, 0])


def test_dead_days_follow_the_shops_own_last_posting_day():
    days = np.arange("2025-12-12", "2025-12-30", dtype="datetime64[D]")
    for posting in (15, 20):
        dead = days[feature("after the last posting day", days, posting=(12, posting)) > 0]
        assert list(dead) == list(np.arange(f"2025-12-{posting + 1}", "2025-12-27", dtype="datetime64[D]"))


def test_black_friday_lasts_four_days():
    days = np.arange("2024-11-25", "2024-12-05", dtype="datetime64[D]")
    assert list(days[feature("Black Friday", days) > 0]) == list(
        np.arange("2024-11-29", "2024-12-03", dtype="datetime64[D]")
    )


def test_presents_are_bought_from_sixteen_days_before_early_or_late():
    days = np.arange("2024-01-29", "2024-02-16", dtype="datetime64[D]")
    late, early = (feature(f"Valentine's Day, {knot} days before", days) for knot in (0, 7))
    assert late[-3:] == pytest.approx([6 / 7, 1, 0])  # 13, 14 and 15 February
    assert early[-3:] == pytest.approx([1 / 7, 0, 0])
    assert early[days == np.datetime64("2024-02-07")] == 1
    assert early[days == np.datetime64("2024-01-31")] == pytest.approx(2 / 9)  # 14 days before: 2 of the 9 from 16 to 7
    assert not early[days <= np.datetime64("2024-01-29")].any()
    assert not late[days <= np.datetime64("2024-02-07")].any()


def test_29_february_and_week_53_have_features():
    days = np.array(["2024-02-29", "2020-12-28", "2021-01-03"], dtype="datetime64[D]")
    assert np.isfinite(day_features(days)).all()


def test_holiday_table_is_sorted_and_named():
    table = holidays([2025, 2026], country="GB")
    assert table["day"].is_monotonic_increasing
    assert table.loc[table["what"] == "Mother's Day", "day"].dt.strftime("%Y-%m-%d").tolist() == [
        "2025-03-30",
        "2026-03-15",
    ]
