"""Pages: whole in one file, nothing fetched, readable without scripts."""

from html.parser import HTMLParser

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

from planner.pages import CAUTIONS, Shop, add_pictures, page_head, question, write_page
from planner.pictures import V5

SPEC = {
    "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
    "description": 'Bars of "Fig" & Rose',
    "title": "</script><b>bold",
    "data": {"values": [{"scent": "Fig", "bottles": 3}]},
    "mark": {"type": "bar", "clip": True},
    "encoding": {"x": {"field": "bottles", "type": "quantitative"}, "y": {"field": "scent", "type": "nominal"}},
}
FETCHING = {"src", "href", "srcset", "data", "poster", "action", "formaction", "xlink:href", "background"}


class Seen(HTMLParser):
    """Collects tags with their attributes, and the text outside scripts and styles."""

    def __init__(self, text):
        """Read the text at once."""
        super().__init__()
        self.tags, self.words, self.inside = [], [], ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.inside = tag

    def handle_endtag(self, tag):
        self.inside = ""

    def handle_data(self, data):
        if self.inside not in ("script", "style"):
            self.words.append(data)

    def all(self, tag):
        return [attributes for name, attributes in self.tags if name == tag]


def chart_cell():
    return new_code_cell("secret_code()", outputs=[new_output("display_data", {V5: dict(SPEC), "text/plain": "Bars"})])


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    file = tmp_path_factory.mktemp("pages") / "1-fig.html"
    text = new_output("stream", name="stdout", text="Saved.")
    warning = new_output("stream", name="stderr", text="FutureWarning: old")
    cells = [new_markdown_cell("Intro\n\n# Which <one>?\n\nIt is $5 and $6."), chart_cell(), chart_cell()]
    notebook = new_notebook(cells=[*cells, new_code_cell("more_code()", outputs=[text, warning])])
    before = nbformat.writes(notebook)
    shop = Shop("Toy & Co", "Invented shop.", "Monday", {"index.html": "Overview", "1-fig.html": "1-fig"})
    write_page(notebook, file, shop)
    assert nbformat.writes(notebook) == before
    return file.read_text(encoding="utf-8")


def test_nothing_is_fetched(page):
    for tag, attributes in Seen(page).tags:
        assert tag not in ("link", "iframe", "object", "embed", "img", "base"), attributes
        for name in FETCHING & attributes.keys():
            assert attributes[name].startswith("#") or attributes[name] == "index.html", (tag, attributes)
    assert "default-src 'none'" in page  # the browser is told so too
    assert "@import" not in page
    assert "url(http" not in page


def test_charts_are_live_with_a_picture_for_pages_without_scripts(page):
    seen = Seen(page)
    figures = [attributes for attributes in seen.all("figure") if attributes.get("class") == "chart"]
    assert [figure["aria-label"] for figure in figures] == ['Bars of "Fig" & Rose'] * 2
    assert len(seen.all("svg")) == 2
    assert len([1 for script in seen.all("script") if script.get("type") == "application/json"]) == 2
    assert page.count("vegaEmbed(place") == 1
    assert "</script><b>bold" not in page


def test_ids_of_pictures_do_not_clash(page):
    ids = [attributes["id"] for _, attributes in Seen(page).tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    assert any("clip" in name for name in ids)


def test_code_and_warnings_are_left_out_and_text_stays(page):
    words = "".join(Seen(page).words)
    assert "secret_code" not in page
    assert "more_code" not in page
    assert "FutureWarning" not in words
    assert "It is $5 and $6." in words
    assert "Saved." in words


def test_page_says_title_language_shop_note_and_cautions(page):
    seen = Seen(page)
    words = "".join(seen.words)
    assert seen.all("html")[0]["lang"] == "en"
    assert "<title>Which &lt;one&gt;? – Toy &amp; Co</title>" in page
    assert "Invented shop." in words
    assert CAUTIONS in words


def test_a_page_without_charts_carries_no_chart_script(tmp_path):
    write_page(new_notebook(cells=[new_markdown_cell("# One?")]), tmp_path / "one.html", Shop("Toy"))
    assert (tmp_path / "one.html").stat().st_size < 20_000


def test_pictures_are_added_once():
    notebook = new_notebook(cells=[chart_cell()])
    add_pictures(notebook)
    data = notebook.cells[0].outputs[0].data
    assert data["image/png"].startswith("iVBOR")
    data["image/png"] = "kept"
    add_pictures(notebook)
    assert data["image/png"] == "kept"


def test_question_is_the_first_heading():
    assert question(new_notebook(cells=[new_markdown_cell("text\n# Which?\n# Other")])) == "Which?"
    assert question(new_notebook(cells=[new_code_cell("# comment")])) == "Untitled"


def test_the_page_one_is_on_is_marked():
    links = page_head("T", "b.html", Shop("S", pages={"a.html": "A", "b.html": "B"}), charts=False)["links"]
    assert [link["here"] for link in links] == [False, True]
