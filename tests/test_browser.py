"""Every page of the example in a real browser, headless and without a network."""

import re
import shutil
import subprocess
from html.parser import HTMLParser

import pytest

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
ALONE = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND",
    "--virtual-time-budget=10000",
]
FEWEST_CHARTS = 8  # of the example: each question but the first is answered with at least one, most with two

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium found: install it to test the pages in a browser"),
]


class Drawn(HTMLParser):
    """Counts charts, and those that a script drew."""

    def __init__(self, text):
        """Read the text at once."""
        super().__init__()
        self.charts, self.live = 0, 0
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        attributes = dict(attrs)
        if tag == "figure" and attributes.get("class") == "chart":
            self.charts += 1
            self.live += attributes.get("data-drawn") == "live"


def browse(place, page, *arguments):
    """Open the page and return what the browser printed and the addresses that the page asked for.

    The browser's own requests, which it makes at every start, have no page as their initiator.
    """
    log = place / "net.json"
    command = [CHROMIUM, *ALONE, f"--user-data-dir={place / 'profile'}", f"--log-net-log={log}", *arguments]
    done = subprocess.run([*command, page.as_uri()], capture_output=True, text=True, timeout=120, check=True)
    asked = re.findall(r'"initiator":"(?!not an origin").*?"url":"([^"]+)"', log.read_text(errors="replace"))
    return done.stdout, {address for address in asked if not address.startswith("data:")}


@pytest.fixture(scope="module")
def pages(example_run):
    return sorted(example_run.results.glob("*.html"))


def test_every_chart_is_drawn_and_nothing_but_the_page_is_asked_for(pages, tmp_path):
    charts = 0
    for page in pages:
        dom, asked = browse(tmp_path, page, "--dump-dom")
        drawn = Drawn(dom)
        assert drawn.live == drawn.charts, page.name
        assert not asked, page.name
        charts += drawn.charts
    assert charts >= FEWEST_CHARTS


def test_pages_print(pages, tmp_path):
    for page in pages:
        target = tmp_path / "page.pdf"
        browse(tmp_path, page, f"--print-to-pdf={target}", "--no-pdf-header-footer")
        sheets = len(re.findall(rb"/Type\s*/Page\b", target.read_bytes()))
        assert 1 <= sheets <= 20, page.name


def test_pages_fit_a_phone(pages, tmp_path):
    code = "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
    for page in pages:
        probe = tmp_path / page.name
        before, end, after = page.read_text(encoding="utf-8").rpartition("</body>")
        report = f"addEventListener('load', () => setTimeout(() => {{ document.title = {code} }}, 3000))"
        probe.write_text(f"{before}<script>{report}</script>{end}{after}", encoding="utf-8")
        dom, _ = browse(tmp_path, probe, "--dump-dom", "--window-size=500,800")
        assert "<title>true</title>" in dom, page.name


def test_the_log_of_addresses_is_read_at_all(pages, tmp_path):
    page = tmp_path / "asks.html"
    page.write_text('<img src="http://example.invalid/picture.png">')
    _, asked = browse(tmp_path, page, "--dump-dom")
    assert asked == {"http://example.invalid/picture.png"}
