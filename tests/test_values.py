from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.values import days, month_heading, numbers, without_time

# text, decimal sign, what it means (None: cannot be read); worked by hand
AMOUNTS = [
    ("12", ".", 12),
    ("12.5", ".", 12.5),
    ("12,5", ",", 12.5),
    (".5", ".", 0.5),
    ("5.", ".", 5),
    ("1,234.50", ".", 1234.5),
    ("1.234,50", ",", 1234.5),
    ("1 234,50", ",", 1234.5),
    ("1\u00a0234,50", ",", 1234.5),
    ("1\u202f234\u202f567,5", ",", 1234567.5),
    ("1'234.50", ".", 1234.5),
    ("1’234.50", ".", 1234.5),
    ("1,500", ".", 1500),
    ("1.500", ".", 1.5),
    ("1.500", ",", 1500),
    ("12,50", ".", None),  # a decimal comma where a dot was stated is not 1250
    ("1,5", ".", None),
    ("12.50", ",", None),
    ("1,23,456", ".", None),
    ("1,234 567", ".", None),
    ("-3", ".", -3),
    ("+3", ".", 3),
    ("3-", ".", -3),
    ("\u22123", ".", -3),
    ("–3", ".", -3),
    ("(3.20)", ".", -3.2),
    ("(3.20", ".", None),
    ("3.20)", ".", None),
    ("-(3)", ".", None),
    ("--3", ".", None),
    ("- 3", ".", -3),
    ("€12.50", ".", 12.5),
    ("12,50 €", ",", 12.5),
    ("-£3", ".", -3),
    ("£-3", ".", -3),
    ("£3-", ".", -3),
    ("($3.00)", ".", -3),
    ("US$ 12.00", ".", 12),
    ("EUR 12", ".", 12),
    ("12 CHF", ".", 12),
    ("129 kr", ",", 129),
    ("1E+05", ".", 100000),
    (" 7 ", ".", 7),
    ("CHF 12.–", ".", 12),  # a dash in place of the cents
    ("12.-", ".", 12),
    ("12,—", ",", 12),
    ("12,-- €", ",", 12),
    ("1'200.—", ".", 1200),
    ("-12.–", ".", -12),
    ("(12.-)", ".", -12),
    ("12.5-", ".", -12.5),
    ("12-", ".", -12),
    ("12.-", ",", None),
    ("12—", ".", None),
    ("1e-5", ".", 1e-5),
    ("2 doz", ".", None),
    ("November", ".", None),
    ("-", ".", None),
    ("", ".", None),
    ("1e999", ".", None),
    ("0x10", ".", None),
    ("١٢", ".", None),
    ("12%", ".", None),
    ("3 4", ".", None),
    ("9" * 400, ".", None),
    ("1" + " " * 10_000 + "x", ".", None),
]


@pytest.mark.parametrize(("text", "decimal", "meaning"), AMOUNTS)
def test_amounts(text, decimal, meaning):
    values, bad = numbers(pd.Series([text]), decimal)
    assert bad[0] == (meaning is None and text != "")
    assert np.isnan(values[0]) if meaning is None else values[0] == meaning


# text, stated order, ISO day (None: cannot be read)
DAYS = [
    ("2025-11-03", "year-first", "2025-11-03"),
    ("2025-11-03", "day-first", "2025-11-03"),
    ("2025-02-05", "day-first", "2025-02-05"),  # ISO is never turned round
    ("2025-2-5", "month-first", "2025-02-05"),
    ("2025/11/03", "year-first", "2025-11-03"),
    ("2025.11.03", "year-first", "2025-11-03"),
    ("20251103", "year-first", "2025-11-03"),
    ("2025.12.03.", "year-first", "2025-12-03"),  # with the dots that order numbers have in some languages
    ("2025. 12. 04.", "year-first", "2025-12-04"),
    ("2025. 12. 04. 14:05", "day-first", "2025-12-04"),
    ("2025. 12.04", "day-first", "2025-12-04"),
    ("2025. 13. 04.", "day-first", None),
    ("04.12.2025.", "day-first", "2025-12-04"),
    ("4. 12. 2025.", "day-first", "2025-12-04"),
    ("2025-11-03 14:05:06", "year-first", "2025-11-03"),
    ("2025-11-03T14:05:06Z", "year-first", "2025-11-03"),
    ("2025-11-03T23:55:06.123+01:00", "year-first", "2025-11-03"),
    ("2025-11-03 14:05:06 +0000", "year-first", "2025-11-03"),
    ("2025-11-03 14:05:06 UTC", "year-first", "2025-11-03"),
    ("05/02/2025", "day-first", "2025-02-05"),
    ("05/02/2025", "month-first", "2025-05-02"),
    ("05/02/2025", "year-first", None),
    ("5.2.2025", "day-first", "2025-02-05"),
    ("5. 2. 2025", "day-first", "2025-02-05"),
    ("05-02-25", "day-first", "2025-02-05"),
    ("05-02-25", "year-first", "2005-02-25"),
    ("05/02/68", "day-first", "2068-02-05"),
    ("05/02/69", "day-first", "1969-02-05"),
    ("12/25/2025 2:05 PM", "month-first", "2025-12-25"),
    ("25/12/2025 14:05", "day-first", "2025-12-25"),
    ("25/12/2025, 14:05", "day-first", "2025-12-25"),
    ("25/12/2025", "month-first", None),
    ("12/25/2025", "day-first", None),
    ("5/2-2025", "day-first", None),
    ("29/02/2024", "day-first", "2024-02-29"),
    ("29/02/2025", "day-first", None),
    ("2025-02-30", "year-first", None),
    ("2025-13-01", "year-first", None),
    ("2025-00-10", "year-first", None),
    ("0025-11-03", "year-first", None),
    ("3 Nov 2025", "year-first", "2025-11-03"),
    ("3 Nov 2025", "month-first", "2025-11-03"),
    ("3-Nov-25", "day-first", "2025-11-03"),
    ("3-Nov-25", "year-first", None),
    ("03 November 2025", "day-first", "2025-11-03"),
    ("3rd november 2025", "day-first", "2025-11-03"),
    ("Nov 3, 2025", "month-first", "2025-11-03"),
    ("November 3 2025", "day-first", "2025-11-03"),
    ("Nov 3, 2025 at 2:05 pm", "month-first", "2025-11-03"),
    ("Mon, 3 Nov 2025 14:05", "day-first", "2025-11-03"),
    ("Sept 3, 2025", "month-first", "2025-09-03"),
    ("2025-Nov-03", "year-first", "2025-11-03"),
    ("November", "day-first", None),
    ("Nov 2025", "day-first", None),
    ("2025-11", "year-first", None),
    ("45234", "year-first", None),
    ("2025-11-03 25:00", "year-first", None),
    ("2025-11-03 and later", "year-first", None),
    ("3" + " " * 10_000 + "Nov 2025", "day-first", None),
    ("Mon Nov 03 2025 14:05:06 GMT+0100 (Central European Standard Time)", "month-first", "2025-11-03"),
    ("", "year-first", None),
]


@pytest.mark.parametrize(("text", "order", "iso"), DAYS)
def test_days(text, order, iso):
    values, bad = days(pd.Series([text]), order)
    assert bad[0] == (iso is None and text != "")
    assert values[0] is pd.NaT if iso is None else values[0] == pd.Timestamp(iso)


def test_a_day_with_blanks_inside_keeps_its_end():
    assert without_time(["2025. 12.04", "2025. 12. 04. 14:05", "5.2.25 14.05"]) == [
        "2025. 12.04",
        "2025. 12. 04. 14:05",
        "5.2.25",
    ]


@pytest.mark.parametrize(
    ("heading", "month"),
    [
        ("2026-01-31", date(2026, 1, 1)),
        ("28.02.2026", date(2026, 2, 1)),
        ("29/02/2024", date(2024, 2, 1)),
        ("01/31/2026", date(2026, 1, 1)),
        ("30 Apr 2026", date(2026, 4, 1)),
        ("2026-02-28 00:00:00", date(2026, 2, 1)),
        ("2024-02-28", None),  # a leap year
        ("2026-01-30", None),
        ("15.02.2026", None),
        ("46082", None),
        ("", None),
    ],
)
def test_the_last_day_of_a_month_stands_for_it_and_no_day_inside_it(heading, month):
    assert month_heading(heading) == month


@pytest.mark.parametrize("kind", ["str", "category"])
def test_missing_text_is_missing_and_not_bad(kind):
    text = pd.Series(["3", None, "", "3", "x"], index=[9, 4, 4, 7, 1], dtype=kind)
    values, bad = numbers(text, ".")
    assert values.index.tolist() == bad.index.tolist() == [9, 4, 4, 7, 1]
    assert values.fillna(-1).tolist() == [3, -1, -1, 3, -1]
    assert bad.tolist() == [False, False, False, False, True]
    assert days(text, "day-first")[1].tolist() == [True, False, False, True, True]


def test_no_text_at_all():
    values, bad = days(pd.Series([], dtype="str"), "day-first")
    assert values.dtype == "datetime64[us]"
    assert bad.dtype == bool
    assert numbers(pd.Series([], dtype="str"), ".")[0].dtype == "float64"


@given(
    st.integers(-(10**9), 10**9), st.sampled_from([".", ","]), st.sampled_from(["", " ", "other", "'"]), st.booleans()
)
def test_money_written_any_way_reads_back(cents, decimal, group, brackets):
    group = {".": ",", ",": "."}[decimal] if group == "other" else group
    whole, part = divmod(abs(cents), 100)
    text = f"{whole:,}".replace(",", group) + f"{decimal}{part:02d}"
    if cents < 0:
        text = f"({text})" if brackets else f"-{text}"
    values, bad = numbers(pd.Series([text]), decimal)
    assert not bad[0]
    assert values[0] == pytest.approx(cents / 100, abs=1e-9)


@given(
    st.dates(pd.Timestamp("1969-01-01").date(), pd.Timestamp("2068-12-31").date()),
    st.sampled_from("-/."),
    st.booleans(),
)
def test_a_day_written_in_its_stated_order_reads_back(day, sep, two_digits):
    year = f"{day:%y}" if two_digits else f"{day.year}"
    written = {
        "year-first": sep.join([year, f"{day:%m}", f"{day:%d}"]),
        "day-first": sep.join([f"{day.day}", f"{day.month}", year]),
        "month-first": sep.join([f"{day:%m}", f"{day:%d}", year]),
    }
    for order, text in written.items():
        values, bad = days(pd.Series([text]), order)
        assert not bad[0]
        assert values[0] == pd.Timestamp(day)
