"""The index page: the figures that matter, a link to every page with its question, every table, and what failed."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from planner.pages import INDEX, PARTS, Shop, page_head
from planner.tables import STEPS


@dataclass(frozen=True)
class Entry:
    """One notebook on the index page: its question, and why it stopped if it did."""

    name: str
    question: str
    failure: str = ""


def write_index(results: Path, shop: Shop, entries: Sequence[Entry]) -> Path:
    """Write results/index.html from the pages, tables and key figures that lie in results/, and return its path."""
    from jinja2 import Environment, FileSystemLoader

    template = Environment(loader=FileSystemLoader(PARTS), trim_blocks=False).get_template("index.html.j2")
    text = template.render(
        head=page_head("What to make, and what was lost", INDEX, shop, charts=False),
        figures=[figure for entry in entries for figure in _figures(results, entry.name)],
        failures=[entry.failure for entry in entries if entry.failure],
        pages=[_page(results, entry) for entry in entries],
        tables=_tables(results),
    )
    page = results / INDEX
    page.write_text(text, encoding="utf-8")
    return page


def _page(results: Path, entry: Entry) -> Mapping[str, str]:
    file = f"{entry.name}.html"
    there = (results / file).is_file()
    return {"file": file if there else "", "question": entry.question, "name": entry.name, "failure": entry.failure}


def _figures(results: Path, name: str) -> list[dict[str, Any]]:
    file = results / "figures" / f"{name}.json"
    found = json.loads(file.read_text(encoding="utf-8")) if file.is_file() else []
    return [{**figure, "name": name, "file": f"{name}.html"} for figure in found]


def _tables(results: Path) -> list[dict[str, str]]:
    """Return the CSV files, those of the steps in the order of the flow, then any other, then calendar files."""
    order = list(STEPS)
    files = sorted(file.stem for file in results.glob("*.csv"))
    known = sorted((name for name in files if name in STEPS), key=order.index)
    others = [name for name in files if name not in STEPS]
    tables = [
        {"file": f"{name}.csv", "row": f"a row is {STEPS[name].row}" if name in STEPS else ""}
        for name in known + others
    ]
    calendars = sorted(file.name for file in results.glob("*.ics"))
    return tables + [{"file": name, "row": "bench days, to import into any calendar"} for name in calendars]
