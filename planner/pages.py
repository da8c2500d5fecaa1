"""One self-contained page from an executed notebook: code hidden, charts live, and no request to any network."""

import html
import json
import re
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from planner.pictures import V5, VEGA_LITE, as_png, as_svg

PARTS = Path(__file__).with_name("page_parts")
V6_SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"  # a label that vega reads, never fetched
ERROR_TAGS = {"papermill-error-cell-tag", "papermill-error-message-cell-tag"}
INDEX = "index.html"
_BUNDLE = (
    f"import sys, vl_convert; sys.stdout.buffer.write(vl_convert.javascript_bundle(vl_version='{VEGA_LITE}').encode())"
)
CAUTIONS = (
    "The supplier's certificate gives a ceiling for skin, not a recipe; it covers the fragrance oil and not the "
    "finished product, and papers on an old and a new basis must not be mixed. Neat fragrance oil never goes on skin. "
    "Follow the supplier's safety data sheet: fragrance oils can be flammable and harm water life. Keep records by "
    "lot. Local law decides what may be sold; in the EU and the UK a qualified safety assessor signs the product's "
    "report before it is sold. This planner replaces none of them."
)


@dataclass(frozen=True)
class Shop:
    """What stands at the top of every page: the shop's name and note, the day taken for today, the other pages."""

    name: str
    note: str = ""
    today: str = ""
    pages: Mapping[str, str] = field(default_factory=dict)  # file: name


def write_page(notebook: Any, page: Path, shop: Shop, failure: str = "") -> None:
    """Write an executed notebook (an nbformat node) as one HTML file; with a `failure`, up to it, then its sentence."""
    shown = _shown(notebook)
    charts = any(V5 in output.get("data", {}) for cell in shown.cells for output in cell.get("outputs", []))
    for number, output in enumerate(output for cell in shown.cells for output in cell.get("outputs", [])):
        if V5 in output.get("data", {}):
            output["data"] = {"text/html": _figure(output["data"][V5], f"c{number}-")}
    head = page_head(question(notebook), page.name, shop, charts)
    text, _ = _exporter().from_notebook_node(shown, resources={"head": head, "failure": failure})
    page.write_text(text, encoding="utf-8")


def add_pictures(notebook: Any) -> None:
    """Give every live chart of an executed notebook its picture, for programs that cannot draw the live one."""
    for cell in notebook.cells:
        for output in cell.get("outputs", []):
            data = output.get("data", {})
            if V5 in data and "image/png" not in data:
                data["image/png"] = as_png(_drawn(_text(data[V5])))


def question(notebook: Any) -> str:
    """Return the title of a notebook: its first heading."""
    lines = (line for cell in notebook.cells if cell.cell_type == "markdown" for line in cell.source.splitlines())
    return next((line.lstrip("# ").strip() for line in lines if line.startswith("# ")), "Untitled")


def page_head(title: str, file: str, shop: Shop, charts: bool) -> dict[str, Any]:
    """Return what the frame of a page needs; the script that draws charts is left out where there are none."""
    return {
        "title": title,
        "shop": shop.name,
        "note": shop.note,
        "today": shop.today,
        "links": [{"file": name, "name": text, "here": name == file} for name, text in shop.pages.items()],
        "style": _part("style.css"),
        "cautions": CAUTIONS,
        "script": chart_script() if charts else "",
        "starter": _part("starter.js"),
    }


@cache
def chart_script() -> str:
    """Return the script that draws live charts, whole, so that a page asks nobody for it (0.9 MB, takes a second).

    It is put together in a process of its own, which gives the 100 MB that this takes back at once.
    """
    done = subprocess.run([sys.executable, "-c", _BUNDLE], capture_output=True, check=True)
    return re.sub(r"</(script)", r"<\\/\1", done.stdout.decode("utf-8"), flags=re.IGNORECASE)


@cache
def _part(name: str) -> str:
    return (PARTS / name).read_text(encoding="utf-8")


@cache
def _exporter() -> Any:
    from jinja2 import FileSystemLoader
    from nbconvert.exporters.html import HTMLExporter

    return HTMLExporter(
        extra_loaders=[FileSystemLoader(PARTS)],
        template_name="basic",
        template_file="page.html.j2",
        exclude_input=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
    )


def _shown(notebook: Any) -> Any:
    """Return a copy of the notebook with what a reader of the page wants: no code, warnings, errors or widgets."""
    from nbformat.v4 import new_notebook

    cells = []
    for cell in notebook.cells:
        if ERROR_TAGS & set(cell.metadata.get("tags", [])):
            continue
        outputs = [_copied(output) for output in cell.get("outputs", []) if _wanted(output)]
        if cell.cell_type == "markdown" or outputs:
            cells.append(type(cell)({**cell, **({"outputs": outputs} if outputs else {})}))
        if any(output.output_type == "error" for output in cell.get("outputs", [])):
            break
    return new_notebook(cells=cells)


def _wanted(output: Any) -> bool:
    return output.output_type != "error" and output.get("name") != "stderr"


def _copied(output: Any) -> Any:
    return type(output)({**output, **({"data": type(output)(output["data"])} if "data" in output else {})})


def _figure(spec: Mapping[str, Any], prefix: str) -> str:
    """Return one chart: its picture as SVG, and the live chart that a script puts in its place."""
    text = _text(spec)
    svg = re.sub(r'(\bid="|url\(#|href="#)', rf"\g<1>{prefix}", _drawn(text))  # ids must differ within a page
    label = html.escape(str(spec.get("description") or "A chart"), quote=True)
    script = text.replace("</", "<\\/")
    return (
        f'<figure class="chart" role="group" aria-label="{label}"><div class="picture">{svg}</div>'
        f'<script type="application/json" class="spec">{script}</script></figure>'
    )


def _text(spec: Mapping[str, Any]) -> str:
    return json.dumps({**spec, "$schema": V6_SCHEMA}, ensure_ascii=False)


@cache
def _drawn(text: str) -> str:
    return as_svg(json.loads(text))
