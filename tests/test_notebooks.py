"""The committed notebooks keep the rules of the house: clean, parameterized, prose around short cells."""

import ast
from pathlib import Path

import nbformat
import pytest

NOTEBOOKS = sorted((Path(__file__).parent.parent / "notebooks").glob("*.ipynb"))
LONGEST_CELL = 6  # lines of code, imports and all
UNWANTED = (ast.FunctionDef, ast.Lambda, ast.For, ast.While, ast.comprehension, ast.ClassDef)
WORDS_A_LINE = 8  # prose to one line of code


@pytest.fixture(params=NOTEBOOKS, ids=lambda path: path.stem)
def notebook(request):
    return nbformat.read(request.param, as_version=4)


def code(notebook):
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def lines(cell):
    return [line for line in cell.source.splitlines() if line.strip() and not line.strip().startswith("#")]


def test_all_seven_are_there():
    names = ["1-sales-check", "2-fastest-scents", "3-season-demand", "4-restock-plan", "5-weigh-out", "6-fill-loss"]
    assert [path.stem for path in NOTEBOOKS] == [*names, "start-here"]


def test_nothing_that_was_run_is_committed(notebook):
    assert notebook.metadata.kernelspec.name == "python3"
    assert "papermill" not in notebook.metadata
    for cell in code(notebook):
        assert not cell.outputs
        assert cell.execution_count is None


def test_one_parameters_cell_of_plain_literals_each_with_its_comment(notebook):
    cells = [cell for cell in code(notebook) if "parameters" in cell.metadata.get("tags", [])]
    assert len(cells) == 1
    for line in cells[0].source.splitlines():
        assert "  # " in line
        assert isinstance(ast.parse(line).body[0].value, ast.Constant)
    names = [statement.targets[0].id for statement in ast.parse(cells[0].source).body]
    assert names[:2] == ["folder", "today"]


def test_cells_are_short_and_prose_stands_around_them(notebook):
    assert notebook.cells[0].source.startswith("# ")
    assert notebook.cells[0].source.splitlines()[0].endswith("?")
    assert notebook.cells[-1].cell_type == "markdown" or "sentences.say" in notebook.cells[-1].source
    words = sum(len(cell.source.split()) for cell in notebook.cells if cell.cell_type == "markdown")
    assert words >= WORDS_A_LINE * sum(len(lines(cell)) for cell in code(notebook))
    for cell in code(notebook):
        assert len(lines(cell)) <= LONGEST_CELL
        assert not any(isinstance(node, UNWANTED) for node in ast.walk(ast.parse(cell.source)))


def test_code_is_folded_in_the_lab(notebook):
    for cell in code(notebook):
        if "parameters" not in cell.metadata.get("tags", []):
            assert cell.metadata["jupyter"]["source_hidden"]


def test_no_digits_are_typed_where_a_finding_should_be_computed(notebook):
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            assert "EUR" not in cell.source
            assert "£" not in cell.source
