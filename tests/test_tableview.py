"""Tables as people read them."""

import pandas as pd
import pytest

from planner.tableview import ROWS_SHOWN, as_html


@pytest.fixture
def table():
    return pd.DataFrame(
        {
            "scent": ["Fig & Rose", "Oud"],
            "ready_on": pd.to_datetime(["2026-10-12", None]),
            "bottles": pd.array([1234, None], dtype="Int64"),
            "loss_share": [0.0421, -0.5],
            "cost": [3.5, 4.0],
            "filled_g": [100.25, 7.0],
        }
    )


def test_cells_are_written_out(table):
    html = as_html(table, "Runs", {"cost": "EUR"}).html
    for cell in ("Mon 12 Oct 2026", "1,234", ">4.2<", ">−50.0<", ">3.50<", ">100.25<", ">7.00<", ">–<"):
        assert cell in html
    assert "Fig &amp; Rose" in html


def test_headings_have_scope_unit_and_meaning(table):
    html = as_html(table, "Runs", {"cost": "EUR"}, {"scent": "which <one>"}).html
    assert html.count('<th scope="col"') == 6
    assert html.count('<th scope="row"') == 2
    assert '<th scope="col">which' not in html  # its meaning stands in the title
    assert "which &lt;one&gt;" in html
    assert 'title="oil in the bottles filled">filled<br><span class="unit">g</span>' in html
    assert '>cost<br><span class="unit">EUR</span>' in html
    assert '>loss share<br><span class="unit">%</span>' in html
    assert ">bottles</th>" in html  # a unit that only repeats the heading is left out


def test_caption_names_the_region_for_screen_readers(table):
    html = as_html(table, "Runs <2026>").html
    assert "<caption>Runs &lt;2026&gt;</caption>" in html
    assert 'role="region" tabindex="0" aria-label="Runs &lt;2026&gt;"' in html


def test_money_has_two_digits_and_flags_are_words():
    html = as_html(pd.DataFrame({"price": [3.0], "stops": [True]}), "x").html
    assert ">3.00<" in html
    assert ">yes<" in html


def test_long_tables_say_how_much_is_left():
    html = as_html(pd.DataFrame({"bottles": range(ROWS_SHOWN + 1500)}), "x").html
    assert html.count("<tr>") == ROWS_SHOWN + 1
    assert "1,500 more rows are in the CSV file." in html


def test_a_table_without_rows_says_so_in_a_line(table):
    view = as_html(table.head(0), "Runs")
    assert view.html == '<p class="quiet">Runs: none.</p>'
    assert view.text == "Runs: none."


def test_notebooks_get_html_and_text(table):
    bundle = as_html(table, "Runs")._repr_mimebundle_()
    assert bundle["text/html"].startswith('<div class="wide"')
    assert bundle["text/plain"].splitlines()[0] == "Runs"


def test_nothing_is_not_written_as_less_than_nothing():
    assert ">0</td>" in as_html(pd.DataFrame({"scent": ["Fig"], "bottles": [-0.2]}), "x").html
