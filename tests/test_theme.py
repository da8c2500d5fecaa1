"""How charts look and get into a notebook."""

import altair as alt
import pandas as pd
import pytest
import vl_convert

from planner.charts import theme
from planner.pictures import LATER, V5, as_svg


@pytest.fixture
def chart():
    theme.enable()
    table = pd.DataFrame({"week": pd.to_datetime(["2026-01-05", "2026-01-12"]), "bottles": [1, 2]})
    return alt.Chart(table).mark_line().encode(x="week:T", y="bottles:Q").properties(description="One, two")


def test_output_is_a_live_chart_of_a_type_notebooks_may_hold_with_picture_and_words(chart):
    output = theme.show(chart.to_dict())
    assert set(output) == {V5, "image/png", "text/plain"}
    assert output[V5]["$schema"].endswith("/v5.json")
    assert output["text/plain"] == "One, two"


def test_the_picture_can_be_left_to_the_caller(chart, monkeypatch):
    monkeypatch.setenv(LATER, "0")
    assert set(theme.show(chart.to_dict())) == {V5, "text/plain"}


def test_look_is_one_that_older_drawing_programs_know(chart):
    assert as_svg(chart.to_dict()).startswith("<svg")
    assert vl_convert.vegalite_to_svg(chart.to_dict(), vl_version="5.8").startswith("<svg")


def test_theme_is_in_every_chart(chart):
    assert chart.to_dict()["config"]["range"]["category"] == list(theme.SERIES)


def brightness(colour):
    """Relative luminance as the web's accessibility guidelines (WCAG 2.2) define it, from memory."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def test_colours_of_words_and_limits_stand_out_from_white():
    for colour in (theme.MUTED, theme.LIMIT):
        assert 1.05 / (brightness(colour) + 0.05) >= 4.5


def test_colours_by_meaning_differ():
    assert len(set(theme.SERIES)) == len(theme.SERIES)
