"""Small notebooks to run and to make pages from, and a shop with one scent for them."""

from pathlib import Path

import nbformat
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

KERNEL = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
PARAMETERS = 'folder: str = ""  # folder of the shop\ntoday: str = ""  # ISO date'
LOAD = """
import altair as alt
import pandas as pd
from planner.charts.theme import enable
from planner.files import load_folder, save_figures, save_tables
from planner.problems import MakerError, Problem
from planner.tableview import as_html
enable()
shop = load_folder(folder, today)
table = pd.DataFrame({"scent": ["Fig", "Rose & Oud"], "bottles": [3, 1200]})
"""
CHART = """
bars = alt.Chart(table).mark_bar().encode(x="bottles:Q", y="scent:N", tooltip=["bottles:Q"])
bars.properties(title="Bottles </script> of each scent", description="Fig 3, Rose 1,200 bottles")
"""
SAVE = """
print(save_tables(shop, plan=table))
save_figures(shop, "1-good", [{"what": "Bottles in all", "value": "1,203"}])
"""


def write_shop(folder: Path, note: str = "Invented shop.") -> Path:
    (folder / "sales").mkdir(parents=True)
    (folder / "shop.toml").write_text(f'name = "Toy & Co"\ncurrency = "EUR"\nnote = "{note}"\n')
    (folder / "scents.csv").write_text("scent\nFig\n")
    return folder


def write_notebook(file: Path, *code: str, parameters: str = PARAMETERS, title: str = "What sells?") -> Path:
    cells = [
        new_markdown_cell(f"# {title}\n\nWhy it matters. It costs $5 and $6."),
        new_code_cell(parameters, metadata={"tags": ["parameters"]}),
        *map(new_code_cell, code),
        new_markdown_cell("After the code."),
    ]
    nbformat.write(new_notebook(cells=cells, metadata=KERNEL), file)
    return file
